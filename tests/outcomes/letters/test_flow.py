"""Letters from the first press to the bytes that stay: drafted, worded, signed, replaced."""

from datetime import date, timedelta
from hashlib import sha256
from uuid import uuid4

import pytest

from clinic.models.audit import AuditEntry
from outcomes.letters import pdf
from outcomes.letters.facts import from_json
from outcomes.models.letters import Document, Letter
from outcomes.models.record import RedFlagCheck
from outcomes.services import status
from tests.cast import MOMENT, TODAY
from tests.factories.clinic import EpisodeFactory, ReferrerFactory, SurgeryFactory, VisitFactory
from tests.outcomes.letters.desk import drafted, form_of, sign
from tests.outcomes.story import limit, signed, week_15
from tests.web import signed_in, words_of


def press(client, cast, *, key=None):
    return client.post(f"/episodes/{cast.episode.uid}/letters", {"key": key or str(uuid4())})


def acts(*, subject="letter"):
    rows = AuditEntry.objects.filter(subject=subject).order_by("id")
    return [(row.act, row.outcome) for row in rows]


def facts_of(letter):
    letter.refresh_from_db()
    return from_json(body=letter.facts)


def test_one_press_drafts_to_the_surgeon_with_a_copy_to_the_referrer(cast):
    referrer = ReferrerFactory(name="Dr Oriol Mascaré", kind="physician")
    cast.episode.referrer = referrer
    cast.episode.save()
    week_15(cast)
    VisitFactory(
        patient=cast.ines, site=cast.harbour, date=date(2026, 12, 8), state="booked",
        arrived_at=None, opened_at=None,
    )  # fmt: skip
    answer = press(signed_in(cast.clinician), cast)
    letter = Letter.objects.get()
    assert answer["Location"] == f"/letters/{letter.uid}/"
    assert (letter.recipient, letter.copies) == (cast.surgeon, [str(referrer.pk)])
    assert (letter.state, letter.drafted_by) == ("draft", cast.clinician)
    assert letter.bottom_line == "As usual for week 15."
    assert letter.next_test_on == date(2026, 12, 8)
    assert acts() == [("draft_letter", "done")]


def test_the_snapshot_says_what_the_patient_page_says(cast):
    week_15(cast)
    limit(cast)
    facts = facts_of(drafted(cast))
    quadriceps = next(row for row in facts.rows if row.code == "quadriceps_torque")
    assert (quadriceps.name, quadriceps.method) == (
        "Quadriceps, N·m",
        "fixed dynamometer, knee angle 90°",
    )
    assert (quadriceps.left, quadriceps.right) == ("158.0", "121.0")
    assert quadriceps.left_detail == "2.53 N·m/kg"
    assert quadriceps.symmetry == "LSI 77 %, error about 7 points"
    assert quadriceps.before == "109.0 N·m, LSI 69 % (4 Nov)"  # 69.9, cut below the 70 asked
    assert quadriceps.change == "up 7: no real change"
    assert [row.code for row in facts.rows] == [
        "pain_front_of_knee", "effusion", "knee_extension", "knee_flexion", "quadriceps_torque",
    ]  # fmt: skip
    assert (facts.week, facts.happened) == ("week 15", "Right knee, operated 12 Aug 2026")
    assert facts.limits.in_force == ("until 9 Dec: impact, no impact",)
    assert facts.ahead.label == "Running"
    assert facts.ahead.headline == "Held by the surgeon's limit: no impact (until 9 Dec)."
    assert facts.attendance.seen == 3
    page = words_of(signed_in(cast.clinician).get(f"/patients/{cast.ines.uid}/"))
    assert [line.sentence for line in facts.ahead.lines if line.sentence not in page] == []


def test_an_earliest_day_stays_out_of_letters(cast):
    cast.surgery.date = date(2026, 10, 20)
    cast.surgery.save()
    assert (
        facts_of(drafted(cast)).ahead.headline == "Not before week 8, and only with the criteria."
    )
    page = words_of(signed_in(cast.clinician).get(f"/patients/{cast.ines.uid}/"))
    assert "Not before week 8 (15 Dec)" in page


def test_red_flags_limits_and_what_is_unknown_reach_the_letter(cast):
    visit = signed(cast, TODAY, knee_flexion=(140, 120))
    RedFlagCheck.objects.create(
        visit=visit, form="eight", answers={"calf": True, "chest": False},
        recorded_at=MOMENT, recorded_by=cast.clinician,
    )  # fmt: skip
    limit(cast, kind="none", limit="asked, none", until=None)
    cast.surgery.graft, cast.surgery.graft_asked_on = "unknown", TODAY
    cast.surgery.save()
    facts = facts_of(drafted(cast))
    assert facts.flags is not None
    assert (facts.flags.asked, facts.flags.of) == (2, 8)
    assert facts.flags.reported == ("Calf pain or calf swelling",)
    assert (facts.limits.in_force, facts.limits.asked_none) == ((), True)
    assert facts.unknown == ("the graft",)


def test_a_visit_that_is_still_open_is_not_the_last_visit_of_a_letter(cast):
    visit = signed(cast, TODAY - timedelta(days=6), knee_flexion=(140, 120))
    RedFlagCheck.objects.create(
        visit=visit, form="four", answers={"locking": False},
        recorded_at=MOMENT, recorded_by=cast.clinician,
    )  # fmt: skip
    VisitFactory(patient=cast.ines, site=cast.harbour, date=TODAY, state="open")
    facts = facts_of(drafted(cast))
    assert (facts.attendance.seen, facts.attendance.last) == (1, TODAY - timedelta(days=6))


def test_a_second_press_opens_the_draft_that_is_there(cast):
    client, key = signed_in(cast.clinician), str(uuid4())
    first = press(client, cast, key=key)
    assert press(client, cast, key=key)["Location"] == first["Location"]
    assert press(client, cast)["Location"] == first["Location"]
    assert Letter.objects.count() == 1


def test_without_surgeon_and_referrer_nobody_can_be_written_to(cast):
    cast.episode.surgeon = None
    cast.episode.save()
    answer = press(signed_in(cast.clinician), cast)
    assert answer.status_code == 422
    assert "No surgeon and no referrer is named for this knee." in words_of(answer)
    assert Letter.objects.count() == 0


def test_words_recipient_and_copies_are_kept_and_previewed(cast):
    letter, other = drafted(cast), ReferrerFactory(name="Dr Runa Holt")
    client = signed_in(cast.clinician)
    answer = client.post(
        f"/letters/{letter.uid}/",
        form_of(
            letter, bottom_line="Stiff.", question="See him?", plan="Heel props.",
            next_test_on="2026-12-08", copies=["patient"], another_id=str(other.pk),
        ),
    )  # fmt: skip
    assert (answer.status_code, answer["Location"]) == (302, f"/letters/{letter.uid}/")
    letter.refresh_from_db()
    assert (letter.copies, letter.version) == (["patient", str(other.pk)], 2)
    said = words_of(client.get(f"/letters/{letter.uid}/"))
    assert "Stiff. Question: See him?" in said
    assert "Plan: Heel props." in said
    assert "Copies: Dr Runa Holt, Westmoor Hospital and the patient" in said
    assert "Draft, not signed" in said


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("bottom_line", "", "Write the first line of the letter."),
        ("question", "A ☃?", "Use words instead of ☃: not in our fonts."),
        ("next_test_on", "2026-11-24", "Give a day from today to 22 Nov 2028, or none."),
        ("recipient_id", "999999", "999999 is not one of the available choices."),
    ],
)
def test_what_cannot_be_kept_is_said_beside_its_field(cast, field, typed, said):
    letter = drafted(cast)
    answer = signed_in(cast.clinician).post(
        f"/letters/{letter.uid}/", form_of(letter, plan="Kept?", **{field: typed})
    )
    assert answer.status_code == 422
    assert said in words_of(answer)
    assert "Kept?" in answer.content.decode()
    letter.refresh_from_db()
    assert letter.version == 1


def test_two_people_at_one_draft_and_nothing_is_overwritten(cast):
    letter = drafted(cast)
    mine = form_of(letter, question="Mine?")
    theirs = form_of(letter, question="Theirs?")
    signed_in(cast.colleague).post(f"/letters/{letter.uid}/", theirs)
    answer = signed_in(cast.clinician).post(f"/letters/{letter.uid}/", mine)
    assert answer.status_code == 409
    assert "On record now The one question Theirs?" in words_of(answer)
    letter.refresh_from_db()
    assert (letter.question, letter.version) == ("Theirs?", 2)


def test_the_record_is_taken_up_on_request_only_and_typed_words_stay(cast):
    letter, client = drafted(cast), signed_in(cast.clinician)
    client.post(f"/letters/{letter.uid}/", form_of(letter, question="Mine?"))
    assert "The record changed" not in words_of(client.get(f"/letters/{letter.uid}/"))
    before = facts_of(letter)
    week_15(cast)
    status.rebuild(episode_ids=[cast.episode.pk])
    assert "The record changed since this draft." in words_of(client.get(f"/letters/{letter.uid}/"))
    assert facts_of(letter) == before
    client.post(f"/letters/{letter.uid}/refresh", {"key": str(uuid4()), "seen": letter.version})
    assert len(facts_of(letter).rows) == 5
    assert letter.bottom_line == "As usual for week 15."
    assert letter.question == "Mine?"
    assert letter.plan == "Test pain during test and pelvic drop, lateral."


def test_signed_bytes_stay_whatever_happens_to_the_record(cast):
    week_15(cast)
    letter, client = drafted(cast), signed_in(cast.clinician)
    answer = sign(client, letter, bottom_line="Straight and strong.")
    assert answer["Location"] == f"/letters/{letter.uid}/"
    letter.refresh_from_db()
    assert (letter.state, letter.signed_by, letter.signed_at) == ("signed", cast.clinician, MOMENT)
    assert letter.bottom_line == "Straight and strong."
    document = Document.objects.get()
    assert document.sha256 == sha256(bytes(document.content)).hexdigest()
    signed(cast, date(2026, 11, 24), quadriceps_torque=(158, 60))
    cast.ines.name = "Someone Else"
    cast.ines.save()
    served = client.get(f"/letters/{letter.uid}/pdf")
    assert served.content == bytes(document.content)
    assert served["Content-Disposition"] == f'inline; filename="letter-{letter.uid.hex[:8]}.pdf"'
    assert document.sha256 in words_of(client.get(f"/letters/{letter.uid}/"))
    assert acts() == [
        ("draft_letter", "done"), ("sign_letter", "done"), ("print_letter", "done"),
    ]  # fmt: skip


def test_a_doubled_press_signs_once_and_a_signed_letter_takes_no_more_words(cast):
    letter, client = drafted(cast), signed_in(cast.clinician)
    form = form_of(letter, plan="Go on with step-downs.")
    first = client.post(f"/letters/{letter.uid}/sign", form)
    assert client.post(f"/letters/{letter.uid}/sign", form)["Location"] == first["Location"]
    assert Document.objects.count() == 1
    for address in ("", "sign", "refresh", "discard"):
        late = client.post(f"/letters/{letter.uid}/{address}", form_of(letter, plan="More."))
        assert late.status_code in (409, 422)
    letter.refresh_from_db()
    assert (letter.plan, letter.version) == ("Go on with step-downs.", 2)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"question": "End feel [soft or hard]?"}, "Fill in what stands in square brackets"),
        ({"plan": " "}, "Write in a few words what is planned."),
    ],
)
def test_an_unfinished_letter_is_not_signed(cast, typed, said):
    letter = drafted(cast)
    answer = sign(signed_in(cast.clinician), letter, **typed)
    assert answer.status_code == 422
    assert said in words_of(answer)
    assert Document.objects.count() == 0


def test_a_changed_record_is_signed_as_it_stood_only_when_someone_says_so(cast):
    letter, client = drafted(cast), signed_in(cast.clinician)
    week_15(cast)
    answer = sign(client, letter)
    assert answer.status_code == 422
    assert "The record changed since this draft. Take up the record as it is" in words_of(answer)
    assert sign(client, letter, as_it_stood="on").status_code == 302
    assert facts_of(letter).rows == ()


def test_a_name_that_no_font_has_is_said_at_drafting_and_spelled_before_signing(cast):
    cast.ines.name = "ინეს Marlow"
    cast.ines.save()
    letter, client = drafted(cast), signed_in(cast.clinician)
    said = words_of(client.get(f"/letters/{letter.uid}/"))
    assert "The letter’s fonts do not have: ინეს. Type below how to print it" in said
    assert "Print “ინეს” as" in said
    assert "[?] Marlow: right knee, week 15" in said
    refused = sign(client, letter)
    assert refused.status_code == 422
    assert "ინეს." in words_of(refused)
    assert sign(client, letter, spell_0="ინ").status_code == 422
    assert sign(client, letter, spell_0="Ines").status_code == 302
    letter.refresh_from_db()
    assert letter.spellings == {"ინეს": "Ines"}
    assert cast.ines.name == "ინეს Marlow"


def test_a_later_letter_takes_the_place_of_a_signed_one_and_cites_it(cast):
    old, client = drafted(cast), signed_in(cast.clinician)
    too_early = client.post(f"/letters/{old.uid}/replace", {"key": str(uuid4())})
    assert too_early.status_code == 422
    sign(client, old)
    answer = client.post(f"/letters/{old.uid}/replace", {"key": str(uuid4())})
    new = Letter.objects.latest("pk")
    assert answer["Location"] == f"/letters/{new.uid}/"
    again = client.post(f"/letters/{old.uid}/replace", {"key": str(uuid4())})
    assert again["Location"] == answer["Location"]
    cited = f"Replaces letter {old.uid.hex[:8]} of 25 Nov 2026, which stays on record."
    assert cited in words_of(client.get(f"/letters/{new.uid}/"))
    assert "A draft that replaces this letter is open" in words_of(
        client.get(f"/letters/{old.uid}/")
    )
    patient = words_of(client.get(f"/patients/{cast.ines.uid}/"))
    assert patient.count("25 Nov 2026 , draft") == patient.count("25 Nov 2026 , signed") == 1
    sign(client, new)
    assert "Replaced by a later letter: open it" in words_of(client.get(f"/letters/{old.uid}/"))
    assert "25 Nov 2026 , replaced" in words_of(client.get(f"/patients/{cast.ines.uid}/"))
    assert Document.objects.count() == 2


def test_a_draft_can_be_thrown_away(cast):
    letter, client = drafted(cast), signed_in(cast.clinician)
    answer = client.post(
        f"/letters/{letter.uid}/discard", {"key": str(uuid4()), "seen": letter.version}
    )
    assert answer["Location"] == f"/patients/{cast.ines.uid}/"
    assert Letter.objects.count() == 0
    assert acts() == [("draft_letter", "done"), ("discard_letter", "done")]


def test_where_letters_are_off_the_page_says_so_and_the_rest_works(cast, monkeypatch):
    missing = "Letters are off: install Pango."

    def none():
        raise pdf.LettersOff(missing)

    monkeypatch.setattr(pdf, "_library", none)
    letter, client = drafted(cast), signed_in(cast.clinician)
    assert client.post(f"/letters/{letter.uid}/", form_of(letter)).status_code == 302
    page = client.get(f"/letters/{letter.uid}/")
    assert missing in words_of(page)
    assert "Sign the letter" not in words_of(page)
    assert "Week 15: too little tested to say whether this is as usual." in words_of(page)
    for answer in (sign(client, letter), client.get(f"/letters/{letter.uid}/pdf")):
        assert (answer.status_code, missing in words_of(answer)) == (422, True)


def test_the_other_knee_that_is_followed_is_named_in_the_heads(cast):
    left = EpisodeFactory(
        patient=cast.ines, site=cast.harbour, knee="left", surgeon=cast.surgeon,
        other_limb="earlier_surgery",
    )  # fmt: skip
    SurgeryFactory(episode=left, date=date(2026, 9, 30), recorded_by=cast.clinician)
    week_15(cast)
    facts = facts_of(drafted(cast, left))
    assert [head.words for head in facts.heads] == ["Left, operated", "Right, operated"]
    assert (facts.knee.value, facts.week) == ("left", "week 8")
    assert all("both knees are followed" in row.symmetry for row in facts.rows if row.symmetry)
