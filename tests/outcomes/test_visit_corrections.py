"""After signing: corrections and withdrawals supersede, with a reason, and say what they change."""

from decimal import Decimal

import pytest

from clinic.models.audit import AuditEntry
from outcomes.models.record import Reading
from outcomes.models.status import EpisodeStatus
from tests.outcomes.paper import FULL, Paper, key, open_visit
from tests.web import signed_in, words_of


@pytest.fixture
def signed(cast):
    """The cast after the full visit was signed; the clinician's client."""
    client = signed_in(cast.clinician)
    Paper(client, open_visit(cast)).type(FULL).sign()
    return client


def torque(limb: str = "right") -> Reading:
    return Reading.objects.get(measure="quadriceps_torque", limb=limb, superseded_by=None)


def cell(reading: Reading, *trials: str, **more: str) -> dict[str, str]:
    name = f"v:quadriceps_torque:{reading.limb}"
    return {
        "key": key(),
        "limb": reading.limb,
        "u:quadriceps_torque": "N.m",
        "c:quadriceps_torque:device": "fixed",
        "c:quadriceps_torque:knee_angle": "90",
        name: trials[0],
        f"{name}:2": trials[1] if len(trials) > 1 else "",
        "reason": "misread the display",
        **more,
    }


def test_a_correction_supersedes_and_the_status_follows(cast, signed):
    old = torque()
    before = AuditEntry.objects.count()
    answer = signed.post(f"/readings/{old.pk}/correct", cell(old, "99", "101"))
    new = torque()
    assert (answer.status_code, answer["Location"]) == (302, f"/readings/{new.pk}/")
    assert (new.supersedes, new.kind, new.value, new.trials, new.reason) == (
        old,
        "corrected",
        Decimal("101.000000"),
        ["99", "101"],
        "misread the display",
    )
    assert (new.visit, new.date, new.measured_at) == (old.visit, old.date, old.measured_at)
    assert Reading.objects.get(pk=old.pk).value == Decimal("121.000000")
    lsi = EpisodeStatus.objects.get(episode=cast.episode).quadriceps_lsi
    assert lsi == Decimal("63.9240")
    acts = list(AuditEntry.objects.order_by("id").values_list("act", "subject_ids"))[before:]
    assert acts == [("correct_reading", [old.pk, new.pk])]


def test_its_page_tells_the_history_and_what_it_changes_today(signed):
    old = torque()
    signed.post(f"/readings/{old.pk}/correct", cell(old, "99", "101"))
    for ident in (old.pk, torque().pk):
        text = words_of(signed.get(f"/readings/{ident}/"))
        assert "Quadriceps, symmetry: was 77 %, now 64 %." in text
        assert (
            "Running, Quadriceps symmetry at least 70 %: was recorded as met, now not met, "
            "borderline: repeat."
        ) in text
        assert text.index("101.0 N·m, right trials 99, 101") < text.index("121.0 N·m, right")
        assert "corrected: Tess Okafor 25 Nov 2026, 09:00 misread the display" in text


def test_a_withdrawal_leaves_the_value_visible_and_counts_nowhere(cast, signed):
    old = torque()
    answer = signed.post(f"/readings/{old.pk}/withdraw", {"key": key(), "reason": "wrong patient"})
    new = torque()
    assert answer["Location"] == f"/readings/{new.pk}/"
    assert (new.kind, new.value, new.reason) == ("withdrawn", None, "wrong patient")
    assert EpisodeStatus.objects.get(episode=cast.episode).quadriceps_lsi is None
    text = words_of(signed.get(answer["Location"]))
    assert "withdrawn" in text
    assert "121.0 N·m" in text
    assert "Correct it" not in text
    page = words_of(signed.get(f"/visits/{old.visit.uid}/"))
    assert "withdrawn wrong patient" in page


def test_a_value_entered_on_the_wrong_side_moves_over(signed):
    signed.post(f"/readings/{torque('left').pk}/withdraw", {"key": key(), "reason": "was right"})
    old = torque()
    answer = signed.post(f"/readings/{old.pk}/correct", cell(old, "114", "121", limb="left"))
    assert answer.status_code == 302
    new = Reading.objects.get(supersedes=old)
    assert (new.limb, new.value) == ("left", Decimal("121.000000"))


def test_a_side_that_holds_the_test_already_is_refused(signed):
    old = torque()
    answer = signed.post(f"/readings/{old.pk}/correct", cell(old, "114", "121", limb="left"))
    assert answer.status_code == 422
    assert "already holds that test for that side" in words_of(answer)
    assert not Reading.objects.filter(kind="corrected").exists()


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"reason": ""}, "Say in a few words why it is corrected."),
        ({"v:quadriceps_torque:right": "9.1,2"}, "Type one decimal mark, comma or point"),
        ({"c:quadriceps_torque:device": ""}, "Choose or type: device."),
        (
            {"v:quadriceps_torque:right": "", "v:quadriceps_torque:right:2": ""},
            "Type the right value, or withdraw this measurement.",
        ),
        ({}, "Nothing differs from what is on record."),
    ],
)
def test_a_correction_that_cannot_be_taken_says_why_and_keeps_what_was_typed(
    signed, changes, sentence
):
    old = torque()
    answer = signed.post(f"/readings/{old.pk}/correct", cell(old, "114", "121") | changes)
    assert answer.status_code == 422
    assert sentence in words_of(answer)
    assert Reading.objects.count() == 12
    typed = changes.get("v:quadriceps_torque:right", "114")
    assert f'name="v:quadriceps_torque:right" value="{typed}"' in answer.content.decode()


def test_a_withdrawal_needs_a_reason(signed):
    answer = signed.post(f"/readings/{torque().pk}/withdraw", {"key": key(), "reason": " "})
    assert answer.status_code == 422
    assert "Say in a few words why it is withdrawn." in words_of(answer)
    assert Reading.objects.count() == 12


def test_a_reading_is_superseded_once(signed):
    old = torque()
    signed.post(f"/readings/{old.pk}/correct", cell(old, "101"))
    late = signed.post(f"/readings/{old.pk}/correct", cell(old, "105"))
    assert late.status_code == 409
    gone = signed.post(f"/readings/{old.pk}/withdraw", {"key": key(), "reason": "late"})
    assert gone.status_code == 409
    assert torque().value == Decimal("101.000000")


def test_a_doubled_correction_has_one_effect(signed):
    old = torque()
    posted = cell(old, "101")
    first, second = (signed.post(f"/readings/{old.pk}/correct", posted) for _ in range(2))
    assert first["Location"] == second["Location"]
    assert Reading.objects.filter(kind="corrected").count() == 1


def test_an_unusual_corrected_value_is_answered_by_the_reason(signed):
    old = Reading.objects.get(measure="knee_flexion", limb="right")
    posted = {"key": key(), "limb": "right", "v:knee_flexion:right": "45", "reason": "read upside"}
    assert signed.post(f"/readings/{old.pk}/correct", posted).status_code == 302
    assert Reading.objects.get(supersedes=old).value == Decimal("45.000000")


def test_who_may_see_and_correct_a_reading(cast, signed):
    old = torque()
    address = f"/readings/{old.pk}/"
    assert signed_in(cast.lead).get(address).status_code == 200
    assert "Correct it" not in words_of(signed_in(cast.lead).get(address))
    assert signed_in(cast.desk).get(address).status_code == 403
    assert signed_in(cast.outsider).get(address).status_code == 404
    for verb in ("correct", "withdraw"):
        assert signed_in(cast.lead).post(address + verb, cell(old, "1")).status_code == 403
        assert signed_in(cast.outsider).post(address + verb, cell(old, "1")).status_code == 404
    assert signed.get("/readings/999999/").status_code == 404
    refused = AuditEntry.objects.filter(subject="reading", outcome="refused")
    assert refused.get().note == "unknown address"
