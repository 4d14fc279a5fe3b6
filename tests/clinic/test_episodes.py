"""Episodes and operations: moved, performed, completed, cancelled, and no history lost."""

from datetime import date

import pytest

from clinic.models.care import Episode, EpisodeChange, Surgery, Visit
from clinic.queries.care import index_date, week_words
from tests.cast import MOMENT, TODAY
from tests.clinic.desk import errors_of, posted
from tests.factories.clinic import EpisodeFactory, SurgeryFactory
from tests.factories.outcomes import signed_visit
from tests.web import signed_in, words_of

OLD = date(2026, 8, 20)
GRAFT = {"operation_graft": "hamstring", "operation_graft_from": "same_limb"}
UNKNOWN_GRAFT = {"operation_graft": "unknown", "operation_graft_from": "unknown"}


@pytest.fixture
def waiting(cast):
    """Ines's left knee, waiting for a decision."""
    return EpisodeFactory(patient=cast.ines, site=cast.harbour, knee="left", kind="waiting")


def send(cast, episode, name, **form):
    client = signed_in(cast.desk)
    return client.post(f"/episodes/{episode.uid}/{name}", posted(form))


def changes(episode):
    rows = EpisodeChange.objects.filter(episode=episode).order_by("pk")
    return list(rows.values_list("part", "before", "after", "reason"))


def now(row):
    return type(row).objects.get(pk=row.pk)


def plan(cast, episode, **more):
    form = {
        "seen": 1,
        "operation_operation": "reconstruction",
        "operation_state": "planned",
        "operation_date": "2026-12-09",
        **UNKNOWN_GRAFT,
    }
    return send(cast, episode, "surgeries/", **(form | more))


def test_a_planned_operation_is_moved_performed_and_the_kind_follows(cast, waiting):
    assert plan(cast, waiting).status_code == 302
    surgery = waiting.surgeries.get()
    assert (now(waiting).kind, index_date(episode=now(waiting))) == ("reconstruction", None)
    moved = {"operation_operation": "reconstruction", "operation_state": "planned"}
    send(
        cast, waiting, f"surgeries/{surgery.pk}",
        seen=2, operation_date="2026-12-16", **moved, **UNKNOWN_GRAFT,
    )  # fmt: skip
    done = {"operation_operation": "reconstruction", "operation_state": "performed"}
    send(
        cast, waiting, f"surgeries/{surgery.pk}",
        seen=3, operation_date="2026-11-24", operation_procedures=["nothing"], **done, **GRAFT,
    )  # fmt: skip
    assert changes(waiting) == [
        ("kind", "waiting", "reconstruction", ""),
        ("operation", "planned 2026-12-09", "planned 2026-12-16", ""),
        ("operation", "planned 2026-12-16", "performed 2026-11-24", ""),
    ]
    assert (index_date(episode=now(waiting)), now(waiting).version) == (date(2026, 11, 24), 4)
    page = words_of(signed_in(cast.desk).get(f"/patients/{cast.ines.uid}/person"))
    assert "operation from planned 16 Dec 2026 to performed 24 Nov 2026, Dora Quill" in page


def test_a_planned_operation_is_cancelled_with_the_reason_and_the_row_stays(cast, waiting):
    plan(cast, waiting)
    surgery = waiting.surgeries.get()
    without = send(cast, waiting, f"surgeries/{surgery.pk}/cancel", seen=2, reason="")
    assert without.status_code == 422
    send(cast, waiting, f"surgeries/{surgery.pk}/cancel", seen=2, reason="patient prefers to wait")
    assert now(surgery).state == "cancelled"
    assert changes(waiting)[-1] == (
        "operation",
        "planned 2026-12-09",
        "cancelled 2026-12-09",
        "patient prefers to wait",
    )
    performed = send(cast, cast.episode, f"surgeries/{cast.surgery.pk}/cancel", seen=1, reason="x")
    sentence = "This operation is performed: only a planned one is cancelled."
    assert errors_of(performed) == {"__all__": [sentence]}


def test_unknown_parts_are_named_and_filled_in_later(cast):
    asked = date(2026, 11, 20)
    Surgery.objects.filter(pk=cast.surgery.pk).update(
        date=None,
        date_asked_on=asked,
        graft="unknown",
        graft_from="unknown",
        graft_asked_on=asked,
        procedures_asked_on=asked,
    )
    client = signed_in(cast.desk)
    page = words_of(client.get(f"/patients/{cast.ines.uid}/person"))
    still = (
        "Still unknown: date of the operation, asked on 20 Nov 2026; graft, asked on 20 Nov 2026"
    )
    assert still in page
    assert "date of the operation not known yet" in page
    form = {
        "seen": 1,
        "operation_operation": "reconstruction",
        "operation_state": "performed",
        "operation_date": "2026-08-12",
        "operation_procedures": ["meniscal_repair"],
        **GRAFT,
    }
    assert send(cast, cast.episode, f"surgeries/{cast.surgery.pk}", **form).status_code == 302
    page = words_of(client.get(f"/patients/{cast.ines.uid}/person"))
    assert "Still unknown" not in page
    assert "week 15" in page


def test_the_form_of_an_operation_starts_with_what_is_on_record(cast):
    client = signed_in(cast.desk)
    address = f"/episodes/{cast.episode.uid}/surgeries/{cast.surgery.pk}"
    form = client.get(address).context["form"]
    shown = {name: form[name].value() for name in form.fields if name != "key"}
    empty = {"operation_date_asked_on", "operation_graft_asked_on", "operation_procedures_asked_on"}
    assert {name for name, value in shown.items() if not value} == empty
    same = {name: value for name, value in shown.items() if value}
    assert client.post(address, posted(same)).status_code == 302
    assert (changes(cast.episode), now(cast.surgery).graft) == ([], "hamstring")


def test_an_episode_has_one_acl_operation_and_a_reoperation_does_not_move_day_0(cast):
    done = {"seen": 1, "operation_state": "performed", "operation_procedures": ["washout"]}
    second = send(
        cast, cast.episode, "surgeries/",
        operation_operation="revision", operation_date="2026-11-01", **done, **GRAFT,
    )  # fmt: skip
    assert list(errors_of(second)) == ["operation_operation"]
    third = send(
        cast, cast.episode, "surgeries/",
        operation_operation="reoperation", operation_date="2026-11-01", **done,
    )  # fmt: skip
    assert third.status_code == 302
    assert cast.episode.surgeries.count() == 2
    assert index_date(episode=now(cast.episode)) == date(2026, 8, 12)


def test_an_operation_is_reached_only_through_its_own_episode(cast, waiting):
    client = signed_in(cast.desk)
    address = f"/episodes/{waiting.uid}/surgeries/{cast.surgery.pk}"
    assert client.get(address).status_code == 404
    assert client.post(f"{address}/cancel", posted({"seen": 1, "reason": "x"})).status_code == 404
    outsider = signed_in(cast.outsider).get(
        f"/episodes/{cast.episode.uid}/surgeries/{cast.surgery.pk}"
    )
    assert outsider.status_code == 404
    assert "hamstring" not in outsider.content.decode()


def edit(cast, episode, **more):
    form = {
        "seen": 1,
        "knee": episode.knee,
        "kind": episode.kind,
        "injury_date": "2026-07-01",
        "other_limb": "healthy",
        "goal": "pivoting",
        "responsible_id": episode.responsible_id or "",
    }
    return send(cast, episode, "details", **(form | more))


def test_an_episode_is_changed_and_the_responsible_clinician_before_is_kept(cast):
    response = edit(
        cast, cast.episode, responsible_id=cast.colleague.pk, goal="sideways", other_limb="healthy"
    )
    assert response.status_code == 302
    row = now(cast.episode)
    assert (row.responsible, row.goal, row.version) == (cast.colleague, "sideways", 2)
    before, after = str(cast.clinician.pk), str(cast.colleague.pk)
    assert changes(cast.episode) == [("responsible", before, after, "")]
    page = words_of(signed_in(cast.desk).get(f"/patients/{cast.ines.uid}/person"))
    assert "responsible clinician from Tess Okafor to Bram Solis, Dora Quill" in page


def test_a_responsible_clinician_who_left_stays_until_somebody_else_is_chosen(cast):
    cast.clinician.memberships.update(ended_on=TODAY)
    form = signed_in(cast.desk).get(f"/episodes/{cast.episode.uid}/details").context["form"]
    assert [int(pk) for pk, _ in form.fields["responsible_id"].choices if pk] == [
        cast.colleague.pk,
        cast.clinician.pk,
    ]
    assert edit(cast, cast.episode, sport="handball").status_code == 302
    assert now(cast.episode).responsible == cast.clinician
    taken = edit(cast, cast.episode, responsible_id=cast.outsider.pk, seen=2)
    assert list(errors_of(taken)) == ["responsible_id"]


def test_a_change_of_kind_keeps_the_history_and_the_recorded_operation(cast, waiting):
    assert edit(cast, waiting, kind="without_surgery").status_code == 302
    assert (index_date(episode=now(waiting)), changes(waiting)) == (
        date(2026, 7, 1),
        [("kind", "waiting", "without_surgery", "")],
    )
    refused = edit(cast, cast.episode, kind="without_surgery")
    assert errors_of(refused) == {
        "kind": [
            "ACL reconstruction is recorded, so the kind is reconstruction. Correct or cancel the "
            "operation first."
        ]
    }
    page = words_of(signed_in(cast.desk).get(f"/patients/{cast.ines.uid}/person"))
    assert "25 Nov 2026: kind from waiting to without surgery, Dora Quill" in page


def test_the_knee_is_put_right_only_until_a_visit_is_signed(cast):
    assert edit(cast, cast.episode, knee="left").status_code == 302
    assert changes(cast.episode) == [("knee", "right", "left", "")]
    Episode.objects.filter(pk=cast.episode.pk).update(opened_on=TODAY)
    earlier = signed_visit(patient=cast.ines, site=cast.harbour, by=cast.clinician, on=OLD)
    assert edit(cast, now(cast.episode), knee="right", seen=2).status_code == 302
    Visit.objects.filter(pk=earlier.pk).update(signed_at=MOMENT)
    assert list(errors_of(edit(cast, now(cast.episode), knee="left", seen=3))) == ["knee"]
    Visit.objects.filter(pk=earlier.pk).delete()
    signed_visit(patient=cast.ines, site=cast.harbour, by=cast.clinician, on=TODAY)
    assert list(errors_of(edit(cast, now(cast.episode), knee="left", seen=3))) == ["knee"]


def test_a_stale_form_changes_nothing_and_shows_what_is_on_record(cast):
    edit(cast, cast.episode, sport="handball")
    stale = edit(cast, cast.episode, sport="volleyball")
    assert stale.status_code == 409
    assert stale.context["form"].on_record_now() == [("Sport", "handball")]
    assert now(cast.episode).sport == "handball"


@pytest.mark.parametrize(
    ("kind", "operation", "injury", "day0", "said"),
    [
        ("waiting", None, date(2026, 7, 1), None, "before surgery"),
        ("without_surgery", None, date(2026, 9, 23), date(2026, 9, 23), "week 9 after the injury"),
        ("without_surgery", None, None, None, "date of the injury not known yet"),
        ("reconstruction", ("planned", date(2026, 12, 9)), None, None, "before surgery"),
        ("reconstruction", ("performed", TODAY), None, TODAY, "week 0"),
        ("reconstruction", ("performed", date(2026, 11, 19)), None, date(2026, 11, 19), "week 0"),
        ("reconstruction", ("performed", date(2026, 11, 18)), None, date(2026, 11, 18), "week 1"),
        ("repair", ("performed", None), None, None, "date of the operation not known yet"),
        ("reconstruction", ("cancelled", date(2026, 8, 12)), None, None, "before surgery"),
    ],
)
def test_what_the_weeks_count_from(cast, kind, operation, injury, day0, said):
    asked = None if injury else TODAY
    episode = EpisodeFactory(
        patient=cast.ines, knee="left", kind=kind, injury_date=injury, injury_asked_on=asked
    )
    if operation:
        state, day = operation
        graft = {"graft": "", "graft_from": ""} if kind == "repair" else {}
        SurgeryFactory(
            episode=episode, operation=kind, state=state, date=day, date_asked_on=TODAY, **graft
        )
    assert (index_date(episode=episode), week_words(episode=episode, on=TODAY)) == (day0, said)


def test_doubled_and_reused_keys(cast, waiting):
    client = signed_in(cast.desk)
    form = posted(
        {"operation_operation": "reconstruction", "operation_state": "planned"},
        UNKNOWN_GRAFT,
        seen=1,
    )
    address = f"/episodes/{waiting.uid}/surgeries/"
    first, second = client.post(address, form), client.post(address, form)
    assert first["Location"] == second["Location"]
    assert Surgery.objects.filter(episode=waiting).count() == 1
    assert client.post(address, form | {"operation_date": "2026-12-09"}).status_code == 409
    assert now(waiting).version == 2
