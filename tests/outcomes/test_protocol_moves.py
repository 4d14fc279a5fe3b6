"""Episodes are moved to a protocol: the difference is shown first, and is what then comes out."""

import re
from uuid import uuid4

import pytest

from clinic import clock
from clinic.models.audit import AuditEntry
from clinic.models.care import Episode, EpisodeChange, Visit
from clinic.models.places import Membership
from outcomes.models.record import Decision
from outcomes.models.status import EpisodeStatus
from outcomes.models.versions import ProtocolVersion, Switch
from outcomes.queries.catalogue import in_force
from outcomes.queries.judging import judge_record, records_of
from outcomes.queries.milestone_words import count_words, headline
from outcomes.queries.protocol_moves import differences, movable
from outcomes.services import status
from tests.cast import MOMENT, TODAY
from tests.factories.clinic import EpisodeFactory, PatientFactory, SurgeryFactory
from tests.factories.outcomes import keyed
from tests.outcomes.own_protocol import CODE, own_version
from tests.outcomes.story import week_15
from tests.outcomes.test_decisions import form as decision_form
from tests.outcomes.test_decisions import post as decide
from tests.web import signed_in, words_of

OWN = f"{CODE}@1"
MOVE = f"/protocols/{CODE}-1/episodes"
HIGHER = "90"
STARTER_TO_COMPOSITE = [
    (
        "step_down_work", "Flexion at least 120°", "Recorded as met (asks at least 120°)",
        "Recorded as met (asks at least 120°, shown beside)",
    ),
    (
        "step_down_work", "Effusion at most 1+", "Recorded as met (asks zero or trace)",
        "Recorded as met (asks zero, trace or 1+)",
    ),
    (
        "step_down_work", "Quadriceps symmetry at least 60 %",
        "Recorded as met (asks at least 70 %, shown beside)",
        "Recorded as met (asks at least 60 %)",
    ),
    (
        "step_down_work", "Front-of-knee pain at most 3 of 10",
        "Recorded as met (asks at most 2 of 10)", "Recorded as met (asks at most 3 of 10)",
    ),
    (
        "competition", "No effusion", "Recorded as met (asks zero or trace)",
        "Not met (asks zero)",
    ),
]  # fmt: skip
"""Milestone, criterion, as it is and as it would be, in week 15 of the told story."""


def another(cast, name, *, site=None, **changes):
    """One more followed episode with its operation."""
    made = EpisodeFactory(
        patient=PatientFactory(name=name), site=site or cast.harbour, responsible=cast.clinician,
        **changes,
    )  # fmt: skip
    SurgeryFactory(episode=made, recorded_by=cast.clinician)
    return made


def ticks(*episodes):
    rows = Episode.objects.filter(pk__in=[one.pk for one in episodes]).order_by("pk")
    return [f"{row.uid}:{row.version}" for row in rows]


def move(cast, *episodes, who=None, **changes):
    body = {"key": str(uuid4()), "episode": ticks(*episodes), "reason": "strength first"}
    return signed_in(who or cast.lead).post(MOVE, {**body, **changes})


def kept():
    """Every row that a move could touch."""
    rows = (Episode, EpisodeChange, EpisodeStatus)
    return [list(model.objects.order_by("pk").values_list()) for model in rows]


def test_the_preview_keeps_nothing_and_shows_each_milestone_before_and_after(cast):
    week_15(cast)
    own_version(cast, quadriceps=HIGHER)
    status.rejudge_due(site_ids=[cast.harbour.pk])
    before = kept()
    answer = signed_in(cast.lead).post(
        MOVE, {"key": str(uuid4()), "episode": ticks(cast.episode), "preview": "1"}
    )
    assert answer.status_code == 200
    assert kept() == before
    said = words_of(answer)
    assert "Ines Marlow, right knee, week 15" in said
    assert (
        "Running Criteria still missing. 5 of 7 recorded as met, 2 not tested. "
        "Criteria still missing. 4 of 7 recorded as met, 2 not tested."
    ) in said
    (one,) = answer.context["found"]
    changed = {row.code: row for row in one.milestones if not row.same}
    assert set(changed) == {"running"}
    assert [(part.label, part.before, part.after) for part in changed["running"].criteria] == [
        (
            "Quadriceps symmetry at least 90 %",
            "Recorded as met (asks at least 70 %)",
            "Not met (asks at least 90 %)",
        )
    ]


def test_what_the_preview_says_is_what_is_judged_after_the_move(cast):
    week_15(cast)
    own_version(cast, quadriceps=HIGHER)
    rules = in_force()
    (one,) = differences(
        chosen=[
            row
            for row in movable(site_ids=[cast.harbour.pk], protocol=OWN, rules=rules)
            if not row.follows
        ],
        protocol=OWN,
        rules=rules,
    )
    assert move(cast, cast.episode).status_code == 302
    (back,) = differences(
        chosen=movable(site_ids=[cast.harbour.pk], protocol="starter@2", rules=in_force()),
        protocol="starter@2",
        rules=in_force(),
    )
    turned = [(row.code, row.after, row.before) for row in back.milestones]
    assert [(row.code, row.before, row.after) for row in one.milestones] == turned
    assert (one.toward_before, one.toward_after) == (back.toward_after, back.toward_before)
    episode = Episode.objects.get(pk=cast.episode.pk)
    record = records_of(episodes=[episode], rules=in_force())[episode.pk]
    fresh = judge_record(record=record, rules=in_force(), on=clock.today(cast.harbour))
    held = status.current(episode_ids=[episode.pk], today=TODAY)[episode.pk]
    assert held.status == fresh
    assert [row.after for row in one.milestones] == [
        f"{headline(found=found, facts=held.facts, on=TODAY)} {count_words(found=found)}"
        for found in held.status.milestones
    ]
    results = {found.criterion.code: found.result.value for found in fresh.milestones[1].criteria}
    assert results["quadriceps"] == "not_met"


def test_a_protocol_that_asks_for_a_score_finds_it_in_the_preview_too(cast):
    """The starter protocol asks for no score, the composite one for some that count."""
    week_15(cast)
    visit = Visit.objects.get(patient=cast.ines, date=TODAY)
    Switch.objects.create(code="global_rating", state="on", changed_at=MOMENT, changed_by=cast.lead)
    keyed(visit=visit, instrument="global_rating", answers={"1": "95"})
    rules = in_force()
    (one,) = differences(
        chosen=movable(site_ids=[cast.harbour.pk], protocol="composite@1", rules=rules),
        protocol="composite@1",
        rules=rules,
    )
    Episode.objects.update(protocol="composite@1", version=2)
    kept_now = status.current(episode_ids=[cast.episode.pk], today=TODAY)[cast.episode.pk]
    last = kept_now.status.milestones[-1]
    results = {found.criterion.code: found.result.value for found in last.criteria}
    assert results["global_rating"] == "met"
    said = f"{headline(found=last, facts=kept_now.facts, on=TODAY)} {count_words(found=last)}"
    assert {row.code: row.after for row in one.milestones}["competition"] == said


def test_a_move_keeps_what_it_was_who_when_and_why_and_is_audited(cast):
    own_version(cast)
    answer = move(cast, cast.episode)
    assert (answer.status_code, answer["Location"]) == (302, f"/protocols/{CODE}-1/")
    cast.episode.refresh_from_db()
    assert (cast.episode.protocol, cast.episode.version) == (OWN, 2)
    change = EpisodeChange.objects.get()
    assert (change.part, change.before, change.after, change.reason) == (
        "protocol", "starter@2", OWN, "strength first",
    )  # fmt: skip
    assert (change.made_by, change.on) == (cast.lead, TODAY)
    row = AuditEntry.objects.get(act="move_episodes")
    assert (row.subject, row.subject_ids, row.note) == ("episode", [cast.episode.pk], OWN)
    page = words_of(signed_in(cast.clinician).get(f"/patients/{cast.ines.uid}/person"))
    assert f"protocol from starter@2 to {OWN} (strength first), Lena Varga" in page


def test_all_are_moved_at_once_and_the_same_form_twice_moves_them_once(cast):
    own_version(cast)
    others = [another(cast, name) for name in ("Ada Bell", "Bo Cole")]
    client = signed_in(cast.lead)
    shown = client.post(MOVE, {"key": str(uuid4()), "all": "1"})
    hidden = re.findall(r'name="episode" value="([^"]+)"', shown.content.decode())
    assert sorted(hidden) == sorted(ticks(cast.episode, *others))
    form = {"key": str(uuid4()), "episode": hidden, "reason": "strength first"}
    assert {client.post(MOVE, form)["Location"] for _ in range(2)} == {f"/protocols/{CODE}-1/"}
    rows = Episode.objects.order_by("pk").values_list("protocol", "version")
    assert list(rows) == [(OWN, 2)] * 3
    assert EpisodeChange.objects.count() == 3


def test_the_difference_is_judged_for_ten_at_a_time_and_what_was_not_shown_is_not_moved(cast):
    own_version(cast)
    others = [another(cast, f"Pat {letter}") for letter in "ABCDEFGHIJK"]
    client = signed_in(cast.lead)

    def hidden(answer, name):
        return re.findall(f'name="{name}" value="([^"]+)"', answer.content.decode())

    first = client.post(MOVE, {"key": str(uuid4()), "all": "1"})
    assert len(first.context["found"]) == 10
    assert "10 of 12 shown so far. Those that were not shown are not moved." in words_of(first)
    shown, later = hidden(first, "episode"), hidden(first, "later")
    assert sorted([*shown, *later]) == sorted(ticks(cast.episode, *others))
    ask = {"key": str(uuid4()), "episode": shown, "later": later}
    second = client.post(MOVE, {**ask, "next": "1"})
    assert [one.who.value for one in second.context["found"]] == later
    assert (hidden(second, "episode"), hidden(second, "later")) == ([*shown, *later], [])
    assert "Move the 12 episodes shown" in words_of(second)
    assert client.post(MOVE, {**ask, "reason": "strength first"}).status_code == 302
    left = Episode.objects.exclude(protocol=OWN)
    assert sorted(f"{row.uid}:{row.version}" for row in left) == sorted(later)


def test_protocols_without_a_common_name_are_compared_stage_by_stage(cast):
    week_15(cast)
    rules = in_force()
    (one,) = differences(
        chosen=movable(site_ids=[cast.harbour.pk], protocol="composite@1", rules=rules),
        protocol="composite@1",
        rules=rules,
    )
    assert not one.by_code
    assert [row.label for row in one.milestones] == [
        "Stage 1: protect and wake up",
        "Stage 2: restore",
        "Step-down work → Stage 3: build strength and control",
        "Running → Stage 4: run and land",
        "Hopping and landing → Stage 5: sport practice",
        "Competition → Stage 6: competition",
    ]
    both = [
        (row.code, part.label, part.before, part.after)
        for row in one.milestones
        for part in row.criteria
        if "not in it" not in (part.before, part.after)
    ]
    assert both == STARTER_TO_COMPOSITE


def test_an_episode_that_changed_meanwhile_stops_the_whole_move(cast):
    own_version(cast)
    other = another(cast, "Ada Bell")
    stale = ticks(cast.episode, other)
    Episode.objects.filter(pk=other.pk).update(version=7)
    assert move(cast, episode=stale).status_code == 409
    assert set(Episode.objects.values_list("protocol", flat=True)) == {"starter@2"}
    assert EpisodeChange.objects.count() == 0


def test_only_followed_episodes_of_the_leads_own_sites_are_offered_and_moved(cast):
    own_version(cast)
    away = another(cast, "Cy Dorn", site=cast.millbank)
    ended = another(cast, "Di Eames", care_state="discharged")
    page = words_of(signed_in(cast.lead).get(MOVE))
    assert "Ines Marlow" in page
    assert "Cy Dorn" not in page
    assert "Di Eames" not in page
    for one in (away, ended):
        answer = move(cast, one)
        assert answer.status_code == 422
        assert list(answer.context["form"].errors["__all__"]) == [
            "One of these episodes is not followed at your sites any more. Choose again."
        ]
    Membership.objects.create(staff=cast.lead, site=cast.millbank, role="lead")
    assert move(cast, away).status_code == 302


@pytest.mark.parametrize(
    ("changes", "field", "sentence"),
    [
        ({"reason": " "}, "reason", "Write why they are moved: it is kept with each episode."),
        ({"episode": []}, "__all__", "Tick at least one episode, or all of them."),
        ({"episode": ["nobody"]}, "__all__", "Tick at least one episode, or all of them."),
    ],
)
def test_what_is_missing_is_said_and_nothing_is_moved(cast, changes, field, sentence):
    own_version(cast)
    answer = move(cast, cast.episode, **changes)
    assert answer.status_code == 422
    assert list(answer.context["form"].errors[field]) == [sentence]
    assert Episode.objects.get().protocol == "starter@2"


def test_a_decision_keeps_the_version_that_it_was_made_under(cast):
    week_15(cast)
    assert decide(cast, decision_form(cast)).status_code == 302
    row = Decision.objects.get()
    mark, evidence = row.evidence_sha256, row.evidence
    own_version(cast, quadriceps=HIGHER)
    move(cast, cast.episode)
    row.refresh_from_db()
    assert row.protocol_version == ProtocolVersion.objects.get(code="starter", version=2)
    assert (row.evidence_sha256, row.evidence) == (mark, evidence)
    said = words_of(signed_in(cast.clinician).get(f"/episodes/{cast.episode.uid}/decisions"))
    assert f"Protocol starter@2; SHA-256 {mark}" in said
    later = decision_form(cast, milestone="running", course="not_yet")
    assert decide(cast, later).status_code == 302
    assert str(Decision.objects.latest("pk").protocol_version) == OWN


def test_a_move_that_leaves_decided_milestones_behind_says_so(cast):
    week_15(cast)
    decide(cast, decision_form(cast))
    own_version(cast)
    answer = signed_in(cast.lead).post(
        "/protocols/composite-1/episodes",
        {"key": str(uuid4()), "episode": ticks(cast.episode), "preview": "1"},
    )
    (one,) = answer.context["found"]
    assert one.decided == "Step-down work"
    assert "Decided, and not a milestone of the other protocol: Step-down work." in words_of(answer)


def test_the_patient_page_leads_a_lead_to_the_move_and_nobody_else(cast):
    own_version(cast)
    address = f"/patients/{cast.ines.uid}/"
    link = f"/protocols/?episode={cast.episode.uid}"
    assert link in signed_in(cast.lead).get(address).content.decode()
    assert link not in signed_in(cast.clinician).get(address).content.decode()
    listed = signed_in(cast.lead).get(link).content.decode()
    assert f'href="{MOVE}?episode={cast.episode.uid}"' in listed
    page = signed_in(cast.lead).get(f"{MOVE}?episode={cast.episode.uid}")
    assert [(one.ident, ticked) for one, ticked in page.context["form"].rows] == [
        (cast.episode.pk, True)
    ]


def test_a_moved_episode_is_judged_charted_and_lettered_by_its_protocol(cast):
    week_15(cast)
    own_version(cast, quadriceps="76.5", running="Run and walk")
    move(cast, cast.episode)
    client = signed_in(cast.clinician)
    page = words_of(client.get(f"/patients/{cast.ines.uid}/"))
    assert "Goal: pivoting or contact sport. Harbour, version 1." in page
    course = words_of(client.get(f"/episodes/{cast.episode.uid}/courses/quadriceps_torque"))
    assert "Step-down work: 70 Run and walk: 76.5 Hopping and landing: 80" in course
    assert "Running" not in course
    results = words_of(client.get(f"/episodes/{cast.episode.uid}/milestones/running"))
    assert "Recorded as met, borderline. Quadriceps symmetry 77 %, asks at least 76.5 %." in results
    assert "Version Harbour (own_harbour@1); Quadriceps strength" in results
    answer = client.post(f"/episodes/{cast.episode.uid}/letters", {"key": str(uuid4())})
    letter = words_of(client.get(answer["Location"]))
    assert "Criteria: Harbour, version 1." in letter
    assert "Starter protocol" not in letter
