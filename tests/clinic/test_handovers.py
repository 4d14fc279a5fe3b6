"""Cover: two lines for each patient, seen and taken over, and nobody else's patients."""

import pytest

from clinic.models.audit import AuditEntry
from clinic.models.handovers import Handover
from tests.cast import MOMENT, TODAY
from tests.clinic.desk import errors_of, posted
from tests.factories.clinic import EpisodeFactory, MembershipFactory, PatientFactory
from tests.web import signed_in, words_of

ADDRESS = "/handovers/"
DAYS = {"since": "2026-11-26", "until": "2026-12-04"}


@pytest.fixture
def second(cast):
    """Another patient of the same clinician."""
    return EpisodeFactory(
        patient=PatientFactory(name="Okan Verrill", name_folded="okan verrill"),
        site=cast.harbour,
        responsible=cast.clinician,
        knee="left",
    )


def lines(*episodes, **more):
    form: dict[str, str] = {}
    for episode in episodes:
        form |= {f"take-{episode.pk}": "on", f"aim-{episode.pk}": "extension"}
        form |= {f"watch-{episode.pk}": "effusion after stairs"}
    return form | more


def give(cast, *episodes, person="clinician", query="", **more):
    form = posted(DAYS, lines(*episodes), {"taker": cast.colleague.pk}, **more)
    return signed_in(getattr(cast, person)).post(ADDRESS + query, form)


def test_two_patients_are_handed_over_and_taken_over_one_by_one(cast, second):
    assert give(cast, cast.episode, second).status_code == 302
    first = Handover.objects.get(episode=cast.episode)
    said = (first.giver, first.taker, str(first.since), str(first.until), first.aim_now)
    assert said == (cast.clinician, cast.colleague, "2026-11-26", "2026-12-04", "extension")
    client = signed_in(cast.colleague)
    page = words_of(client.get(ADDRESS))
    assert "Ines Marlow, right knee, week 15" in page
    assert "Watch for: effusion after stairs" in page
    form = posted({"handover": first.pk})
    assert [client.post("/handovers/take", form).status_code for _ in range(2)] == [302, 302]
    taken = Handover.objects.order_by("pk").values_list("taken_over_at", flat=True)
    assert list(taken) == [MOMENT, None]
    page = words_of(signed_in(cast.clinician).get(ADDRESS))
    assert (page.count("Seen and taken over"), page.count("Not seen yet")) == (1, 1)


def test_a_doubled_hand_over_is_one(cast):
    client = signed_in(cast.clinician)
    form = posted(DAYS, lines(cast.episode), {"taker": cast.colleague.pk})
    assert [client.post(ADDRESS, form).status_code for _ in range(2)] == [302, 302]
    assert Handover.objects.count() == 1
    acts = AuditEntry.objects.filter(act="hand_over", subject="handover")
    assert acts.get().subject_ids == [Handover.objects.get().pk]


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"taker": ""}, "taker"),
        ({"until": "2026-11-25"}, "until"),
        ({"since": "2026-11-01", "until": "2026-11-24"}, "until"),
        ({"aim-EPISODE": ""}, "aim-EPISODE"),
        ({"watch-EPISODE": ""}, "watch-EPISODE"),
        ({"take-EPISODE": None}, "__all__"),
    ],
)
def test_what_a_hand_over_needs(cast, changes, field):
    named = {key.replace("EPISODE", str(cast.episode.pk)): v for key, v in changes.items()}
    response = give(cast, cast.episode, **named)
    field = field.replace("EPISODE", str(cast.episode.pk))
    assert (response.status_code, list(errors_of(response))) == (422, [field])
    assert not Handover.objects.exists()


def test_only_ones_own_patients_and_only_to_a_clinician_of_the_site(cast, second):
    second.responsible = cast.colleague
    second.save()
    response = give(cast, second)
    assert errors_of(response) == {"__all__": ["Choose at least one patient and write both lines."]}
    MembershipFactory(staff=cast.clinician, site=cast.millbank, role="clinician")
    elsewhere = give(cast, cast.episode, taker=cast.outsider.pk)
    assert errors_of(elsewhere) == {"taker": ["This colleague is no clinician at Harbour Street."]}
    assert not Handover.objects.exists()


def test_a_lead_hands_over_for_a_clinician_and_a_clinician_only_for_themselves(cast):
    query = f"?of={cast.clinician.pk}"
    assert give(cast, cast.episode, person="lead", query=query).status_code == 302
    assert Handover.objects.get().giver == cast.clinician
    page = signed_in(cast.colleague).get(ADDRESS + query)
    assert page.context["form"].episodes == []
    first = words_of(signed_in(cast.lead).get(ADDRESS))
    said = (
        "Choose first whose patients are handed over.",
        "No patient is followed under this name.",
    )
    assert [sentence in first for sentence in said] == [True, False]


def test_only_the_one_it_was_handed_to_takes_over(cast):
    give(cast, cast.episode)
    row = Handover.objects.get()
    for person, ident in ((cast.clinician, row.pk), (cast.outsider, row.pk), (cast.colleague, 999)):
        response = signed_in(person).post("/handovers/take", posted({"handover": ident}))
        assert response.status_code == 422
        assert "Nothing was handed to you under this number." in words_of(response)
        assert "Marlow" not in response.content.decode()
    assert Handover.objects.get().taken_over_at is None


@pytest.mark.parametrize(
    ("person", "status", "shown"),
    [("desk", 403, False), ("outsider", 200, False), ("lead", 200, True), ("colleague", 200, True)],
)
def test_who_sees_hand_overs(cast, person, status, shown):
    give(cast, cast.episode)
    response = signed_in(getattr(cast, person)).get(ADDRESS)
    assert (response.status_code, "Marlow" in response.content.decode()) == (status, shown)


HANDOVERS = 9
"""Session, person, roles; colleagues; own episodes and operations; hand-overs and operations; the
audit row."""


@pytest.mark.parametrize("count", [1, 3])
def test_the_page_costs_the_same_for_one_and_for_three(cast, count, django_assert_num_queries):
    for n in range(count):
        episode = EpisodeFactory(
            patient=PatientFactory(name=f"P{n}"), site=cast.harbour, responsible=cast.clinician
        )
        Handover.objects.create(
            episode=episode, giver=cast.clinician, taker=cast.colleague, since=TODAY, until=TODAY,
            aim_now="x", watch_for="y", recorded_at=MOMENT,
        )  # fmt: skip
    client = signed_in(cast.clinician)
    with django_assert_num_queries(HANDOVERS):
        response = client.get(ADDRESS)
    context = response.context
    assert (len(context["form"].episodes), len(context["covers"])) == (count + 1, count)
