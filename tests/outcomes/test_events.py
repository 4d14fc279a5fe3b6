"""Events: recorded, corrected, withdrawn; what they change is what their form says."""

from datetime import date, timedelta
from uuid import uuid4

import pytest
from django.db import DatabaseError, connection, transaction
from django.test.utils import CaptureQueriesContext

from clinic.models import care
from clinic.models.audit import AuditEntry
from outcomes.core.events import BY_CODE, KINDS
from outcomes.models.events import EVENTS, Event
from outcomes.models.status import EpisodeStatus
from outcomes.queries.catalogue import in_force
from outcomes.queries.judging import records_of
from outcomes.services import status
from tests.cast import TODAY
from tests.factories.clinic import EpisodeFactory, SurgeryFactory, VisitFactory
from tests.factories.outcomes import EventFactory
from tests.web import signed_in, words_of

DAY = "2026-11-14"


def address(cast) -> str:
    return f"/episodes/{cast.episode.uid}/events"


def form(cast, what="giving_way", **changes):
    """What a clinician posts; ``seen`` is the episode as it stands."""
    seen = care.Episode.objects.get(pk=cast.episode.pk).version
    given = {"key": str(uuid4()), "seen": seen, "event": what, "date": DAY, "note": ""}
    return {**given, **changes}


def post(cast, data, *, where="", who=None):
    return signed_in(who or cast.clinician).post(where or address(cast), data)


def record(cast, what="giving_way", **changes) -> Event:
    answer = post(cast, form(cast, what, **changes))
    assert (answer.status_code, answer.get("Location")) == (302, address(cast))
    return Event.objects.latest("pk")


def refusal(cast, what="giving_way", **changes) -> dict[str, list[str]]:
    answer = post(cast, form(cast, what, **changes))
    assert answer.status_code == 422
    return {name: list(found) for name, found in answer.context["form"].errors.items()}


def test_the_core_and_the_record_have_the_same_kinds():
    assert [(kind.code, kind.label) for kind in KINDS] == EVENTS


def test_an_event_keeps_what_when_whose_side_and_who(cast):
    row = record(cast, note="on wet stairs")
    assert (row.event, row.limb, row.date, row.detail, row.note, row.kind) == (
        "giving_way", "right", date(2026, 11, 14), "", "on wet stairs", "entered",
    )  # fmt: skip
    assert (row.recorded_by, row.episode) == (cast.clinician, cast.episode)
    acts = AuditEntry.objects.filter(subject="event").values_list("act", "subject_ids", "note")
    assert list(acts) == [("record_event", [row.pk], "giving_way")]
    assert EpisodeStatus.objects.get().episode_version == 2


def test_the_same_form_twice_is_one_event(cast):
    data = form(cast)
    assert [post(cast, data).status_code for _ in range(2)] == [302, 302]
    assert Event.objects.count() == 1
    assert post(cast, {**data, "date": "2026-11-15"}).status_code == 409
    assert Event.objects.count() == 1


def test_a_form_from_before_another_change_is_refused_and_keeps_what_was_typed(cast):
    data = form(cast, note="on wet stairs")
    record(cast, "new_injury", limb="left")
    answer = post(cast, data)
    assert answer.status_code == 409
    assert "on wet stairs" in answer.content.decode()
    assert [row.event for row in Event.objects.all()] == ["new_injury"]


@pytest.mark.parametrize(
    ("what", "typed", "field", "sentence"),
    [
        ("giving_way", {"date": "2026-11-26"}, "date", "26 Nov 2026 lies in the future"),
        ("giving_way", {"date": "2026-06-30"}, "date", "lies before the injury on 1 Jul 2026"),
        ("graft_rupture", {"date": "2026-08-11", "ends": "stay"}, "date",
         "lies before the operation on 12 Aug 2026"),
        ("reoperation", {}, "detail", "Choose one of the list."),
        ("reoperation", {"detail": "stiffness_procedure"}, "detail", "Select a valid choice"),
        ("giving_way", {"date": ""}, "date", "This field is required."),
        ("graft_rupture", {}, "ends", "Choose whether this episode ends."),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_with_a_sentence(cast, what, typed, field, sentence):
    found = refusal(cast, what, **typed)
    assert list(found) == [field]
    assert sentence in found[field][0]
    assert not Event.objects.exists()


def test_while_the_day_of_the_injury_is_not_known_a_year_before_the_episode_is_the_limit(cast):
    care.Episode.objects.update(injury_date=None, injury_asked_on=TODAY)
    assert "more than a year before" in refusal(cast, date="2025-07-19")["date"][0]
    assert record(cast, date="2025-07-20").date == date(2025, 7, 20)


def test_without_an_operation_there_is_no_graft_and_no_second_operation(cast):
    care.Surgery.objects.update(state="planned", date=date(2026, 12, 3))
    for what, typed in (
        ("graft_rupture", {"ends": "stay"}),
        ("reoperation", {"detail": "washout"}),
        ("stiffness_procedure", {"detail": "release"}),
    ):
        said = refusal(cast, what, **typed)["__all__"]
        assert said == [
            "No operation of this knee is on record: record it with the operations first."
        ]


def test_the_same_event_of_a_day_is_on_record_once(cast):
    record(cast)
    assert refusal(cast) == {"__all__": ["Giving way of that day is on record."]}
    record(cast, date="2026-11-15")
    SurgeryFactory(
        episode=cast.episode, operation="reoperation", date=date(2026, 10, 7), graft="",
        graft_from="", procedures=["washout"], recorded_by=cast.clinician,
    )  # fmt: skip
    said = refusal(cast, "reoperation", detail="washout", date="2026-10-07")
    assert said == {
        "__all__": ["Reoperation: washout of that day is on record with the operations."]
    }


def test_sides_come_from_the_episode_and_a_return_has_none(cast):
    assert record(cast, "other_knee_acl_injury").limb == "left"
    assert record(cast, "fracture", limb="left", detail="patella").limb == "left"
    assert record(cast, "clot", detail="leg").limb == "right"
    row = record(cast, "return_to_running", advised="early")
    assert (row.limb, row.earlier_than_advised) == ("none", True)
    assert not record(cast, "return_to_training").earlier_than_advised


def test_a_correction_and_a_withdrawal_are_rows_with_a_reason(cast):
    old = record(cast)
    data = form(cast, date="2026-11-12", reason="told wrongly")
    answer = post(cast, data, where=f"/events/{old.uid}/correct")
    new = Event.objects.latest("pk")
    assert answer["Location"] == f"/events/{new.uid}/"
    assert (new.kind, new.supersedes, new.reason, new.date) == (
        "corrected", old, "told wrongly", date(2026, 11, 12),
    )  # fmt: skip
    answer = post(
        cast, {"key": str(uuid4()), "reason": "other knee"}, where=f"/events/{new.uid}/withdraw"
    )
    assert answer.status_code == 302
    page = signed_in(cast.clinician).get(f"/events/{old.uid}/")
    assert (
        "Giving way 14 Nov 2026, right week 13 entered: Tess Okafor 25 Nov 2026, 09:00 –"
        in words_of(page)
    )
    assert "Correct it" not in words_of(page)
    listed = words_of(signed_in(cast.clinician).get(address(cast)))
    assert "No event is on record." in listed
    assert "1 withdrawn Giving way , 12 Nov 2026: other knee" in listed
    acts = AuditEntry.objects.filter(act="record_event", subject="event", outcome="done")
    notes = list(acts.exclude(note="").values_list("note", flat=True))
    assert notes == ["giving_way", "corrected", "withdrawn"]


def test_a_correction_meets_a_later_one_with_a_conflict_and_needs_a_change(cast):
    old = record(cast)
    where = f"/events/{old.uid}/correct"
    same = post(cast, form(cast, reason="no idea"), where=where)
    assert "Nothing differs from what is on record." in words_of(same)
    assert post(cast, form(cast, date="2026-11-12", reason="x"), where=where).status_code == 302
    assert post(cast, form(cast, date="2026-11-11", reason="x"), where=where).status_code == 409
    late = {"key": str(uuid4()), "reason": "x"}
    assert post(cast, late, where=f"/events/{old.uid}/withdraw").status_code == 409
    assert Event.objects.count() == 2


def test_events_are_kept_by_the_database_itself(cast):
    record(cast)
    with pytest.raises(DatabaseError, match="kept as it is"), transaction.atomic():
        Event.objects.update(note="something else")


def test_no_event_moves_the_clock(cast):
    def index():
        record = records_of(
            episodes=[care.Episode.objects.get(pk=cast.episode.pk)], rules=in_force()
        )
        return record[cast.episode.pk].facts.index_date

    for kind in KINDS:
        typed = {"detail": next(iter(kind.details), ""), "ends": "stay", "limb": "left"}
        if kind.code in ("new_injury", "fracture"):
            typed["limb"] = "right"
        record(cast, kind.code, **typed)
        assert index() == date(2026, 8, 12)
    said = words_of(signed_in(cast.clinician).get(f"/patients/{cast.ines.uid}/"))
    assert "week 15" in said
    assert "14 Nov 2026 week 13 : procedure for stiffness: manipulation" in said


def test_a_graft_rupture_ends_the_episode_only_as_it_was_chosen(cast):
    record(cast, "graft_rupture", ends="stay")
    episode = care.Episode.objects.get(pk=cast.episode.pk)
    assert episode.care_state == "active"
    record(cast, "graft_rupture", ends="end", date="2026-11-20")
    episode.refresh_from_db()
    assert (episode.care_state, episode.care_reason) == (
        "discharged", "Graft rupture of 20 Nov 2026",
    )  # fmt: skip
    change = care.EpisodeChange.objects.get(part="care_state")
    assert (change.before, change.after) == ("active", "discharged")
    page = signed_in(cast.clinician).get(address(cast))
    offer = f"/patients/{cast.ines.uid}/episodes/?knee=right&amp;kind=revision"
    assert "Register the revision as a new episode" in words_of(page)
    assert offer in page.content.decode()
    asked = signed_in(cast.clinician).get(offer.replace("&amp;", "&"))
    initial = asked.context["form"].initial
    assert (initial["knee"], initial["kind"]) == ("right", "revision")
    EpisodeFactory(patient=cast.ines, site=cast.harbour, kind="revision", opened_on=TODAY)
    assert "Register the revision" not in words_of(signed_in(cast.clinician).get(address(cast)))


def test_a_rupture_does_not_end_an_episode_over_an_unsigned_visit(cast):
    VisitFactory(patient=cast.ines, site=cast.harbour, date=TODAY)
    said = refusal(cast, "graft_rupture", ends="end")["__all__"][0]
    assert said.startswith("Not signed yet: the visit of 25 Nov 2026. Sign it,")
    assert not Event.objects.exists()
    assert care.Episode.objects.get().care_state == "active"


def test_the_other_knee_is_offered_an_episode_until_it_has_one(cast):
    record(cast, "other_knee_acl_injury")
    said = words_of(signed_in(cast.clinician).get(address(cast)))
    assert "No episode follows the left knee since then." in said
    assert "Register an episode for the left knee" in said
    assert "Register an episode" not in words_of(signed_in(cast.lead).get(address(cast)))
    EpisodeFactory(patient=cast.ines, site=cast.harbour, knee="left", opened_on=TODAY)
    assert "Register" not in words_of(signed_in(cast.clinician).get(address(cast)))


def test_the_form_says_what_the_kind_changes_and_asks_only_what_it_needs(cast):
    client = signed_in(cast.clinician)
    page = client.get(f"{address(cast)}?what=reoperation")
    assert "The weeks go on from the ACL operation." in words_of(page)
    assert set(page.context["form"].fields) == {"key", "seen", "event", "date", "detail", "note"}
    rupture = client.get(f"{address(cast)}?what=graft_rupture").context["form"]
    assert set(rupture.fields) == {"key", "seen", "event", "date", "ends", "note"}
    assert "form" not in client.get(f"{address(cast)}?what=nothing").context


def test_what_follows_an_operation_is_offered_once_there_is_one(cast):
    client = signed_in(cast.clinician)
    offered = {kind.code for kind in client.get(address(cast)).context["page"].kinds}
    assert offered == set(BY_CODE)
    cast.episode.surgeries.update(state="planned", date=None)
    left = {kind.code for kind in client.get(address(cast)).context["page"].kinds}
    assert offered - left == {"graft_rupture", "reoperation", "stiffness_procedure"}


def test_a_lead_reads_and_does_not_record(cast):
    row = record(cast)
    client = signed_in(cast.lead)
    for page in (client.get(f"{address(cast)}?what=giving_way"), client.get(f"/events/{row.uid}/")):
        assert page.status_code == 200
        assert '<form method="post" action="/e' not in page.content.decode()
    assert post(cast, form(cast), who=cast.lead).status_code == 403
    assert post(cast, form(cast), who=cast.outsider).status_code == 404
    assert Event.objects.count() == 1


def test_an_operation_that_stands_with_the_operations_is_listed_and_told_once(cast):
    SurgeryFactory(
        episode=cast.episode, operation="reoperation", date=date(2026, 10, 7), graft="",
        graft_from="", procedures=["cyclops_removal", "stiffness_procedure"],
        recorded_by=cast.clinician,
    )  # fmt: skip
    said = words_of(signed_in(cast.clinician).get(address(cast)))
    assert said.count("Reoperation: removal of scar tissue at the front right stands with") == 1
    assert said.count("Procedure for stiffness: not known yet right stands with") == 1


@pytest.mark.parametrize("number", [1, 3])
def test_the_page_costs_the_same_for_one_event_and_for_three(cast, number):
    for day in range(number):
        old = EventFactory(episode=cast.episode, date=TODAY - timedelta(days=day))
        EventFactory(
            episode=cast.episode, date=TODAY - timedelta(days=day + 9), supersedes=old,
            kind="corrected", reason="wrong day",
        )  # fmt: skip
    status.rebuild(episode_ids=[cast.episode.pk])
    client = signed_in(cast.clinician)
    client.get(address(cast))
    with CaptureQueriesContext(connection) as asked:
        page = client.get(address(cast))
    assert words_of(page).count("Giving way") == number
    assert len(asked) == 9
