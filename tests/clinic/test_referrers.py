"""The address book: added, changed, retired, each once, and no letter is touched by it."""

import pytest

from clinic.models.audit import AuditEntry
from clinic.models.people import Referrer
from clinic.queries.people import referrers_to_choose
from tests.clinic.desk import errors_of, posted
from tests.factories.clinic import ReferrerFactory
from tests.web import signed_in, words_of

NEW = {"name": "Dr Imre Sallow", "kind": "physician", "practice": "Quay Practice", "address": "Q 1"}


def client_of(cast):
    return signed_in(cast.desk)


def test_an_entry_is_added_once(cast):
    client, form = client_of(cast), posted(NEW)
    assert [client.post("/referrers/new", form)["Location"] for _ in range(2)] == [
        "/referrers/"
    ] * 2
    row = Referrer.objects.get(name="Dr Imre Sallow")
    assert (row.kind, row.practice, row.address) == ("physician", "Quay Practice", "Q 1")
    twice = client.post("/referrers/new", posted(NEW))
    sentence = "This name is in the list already, with the same practice."
    assert (twice.status_code, errors_of(twice)) == (422, {"name": [sentence]})
    assert client.post("/referrers/new", posted(NEW, practice="Hill")).status_code == 302


def test_an_entry_is_changed_and_a_stale_form_shows_both(cast):
    client, address = client_of(cast), f"/referrers/{cast.surgeon.uid}/"
    surgeon = {"name": "Mr Aled Pryce", "kind": "surgeon", "practice": "Westmoor Hospital"}
    assert client.post(address, posted(surgeon, address="Ward 3", seen=1)).status_code == 302
    stale = client.post(address, posted(surgeon, address="Ward 4", seen=1))
    assert stale.status_code == 409
    assert stale.context["form"].on_record_now() == [("Address", "Ward 3")]
    assert Referrer.objects.get(pk=cast.surgeon.pk).address == "Ward 3"


def test_a_retired_entry_is_offered_no_more_unless_it_is_named_already(cast):
    client, address = client_of(cast), f"/referrers/{cast.surgeon.uid}/retire"
    assert client.post(address, posted(retired="on", seen=1)).status_code == 302
    assert referrers_to_choose() == []
    named = [(cast.surgeon.pk, "Mr Aled Pryce, Westmoor Hospital")]
    assert referrers_to_choose(keep=[cast.surgeon.pk, None]) == named
    stale = client.post(address, posted(seen=1))
    assert stale.status_code == 409
    assert client.post(address, posted(seen=2)).status_code == 302
    assert referrers_to_choose() == named


def test_the_list_is_the_organisations_and_its_audit_row_carries_the_ids(cast):
    assert "Mr Aled Pryce" in words_of(signed_in(cast.outsider).get("/referrers/"))
    row = AuditEntry.objects.latest("pk")
    assert (row.act, row.subject, row.subject_ids) == (
        "manage_referrers",
        "referrer",
        [cast.surgeon.pk],
    )


LIST = 5
"""Session, person, roles; the list; the audit row."""


@pytest.mark.parametrize("count", [1, 3])
def test_the_list_costs_the_same_for_one_and_for_three(cast, count, django_assert_num_queries):
    for _ in range(count - 1):
        ReferrerFactory()
    client = client_of(cast)
    with django_assert_num_queries(LIST):
        response = client.get("/referrers/")
    assert len(response.context["rows"]) == count
