"""Drafts: kept field by field, merged field by field, and nothing is lost."""

import json
import os
import signal
import sqlite3
import subprocess
import sys
from datetime import timedelta
from pathlib import Path

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import given
from hypothesis import strategies as st

from clinic import clock
from clinic.models.audit import AuditEntry
from clinic.models.care import Visit
from outcomes.models.record import Reading, VisitDraft
from outcomes.services.drafts import fate_of
from tests.cast import MOMENT
from tests.factories.outcomes import both_limbs, signed_visit
from tests.outcomes.paper import FULL, Paper, open_visit
from tests.web import signed_in, words_of

TEXT = st.sampled_from(["", "1", "12", "13"])


@given(typed=TEXT, shown=TEXT, kept=TEXT, own=st.booleans())
def test_nobody_is_overwritten_unseen_and_nothing_typed_is_dropped_unsaid(typed, shown, kept, own):
    """A text of another page goes only where it was shown; a typed text is kept or told about.

    What a page takes for granted ("before testing") is not kept until it is changed.
    """
    fate = fate_of(typed=typed, shown=shown, kept=kept, own=own)
    overwrites = fate == "write" and not own
    assert not overwrites or kept == shown
    dropped = fate in ("elsewhere", "same") and typed != kept
    assert not dropped or typed == shown


def past_torque(cast, *, days: int) -> None:
    on = MOMENT.date() - timedelta(days=days)
    past = signed_visit(patient=cast.ines, site=cast.harbour, by=cast.clinician, on=on)
    both_limbs(visit=past, measure="quadriceps_torque", left="156", right="109")


def texts() -> dict[str, str]:
    fields = VisitDraft.objects.get().fields
    return {name: field["text"] for name, field in fields.items() if field["text"]}


def test_a_plain_save_keeps_everything_and_shows_it_again(cast):
    paper = Paper(signed_in(cast.clinician), open_visit(cast))
    assert paper.type(FULL).save().status_code == 302
    assert texts() == {name: text for name, text in FULL.items() if name != "c:effusion:moment"}
    again = Paper(paper.client, Visit.objects.get())
    assert {name: again.fields[name] for name in FULL} == {n: [t] for n, t in FULL.items()}
    assert Reading.objects.count() == 0


def test_what_cannot_be_taken_yet_is_kept_as_typed(cast):
    paper = Paper(signed_in(cast.clinician), open_visit(cast))
    paper.type({"v:knee_flexion:right": "1.32,5", "v:single_hop:right": "142 cm"}).save()
    assert texts()["v:knee_flexion:right"] == "1.32,5"


def test_opening_writes_one_audit_row_and_saving_none(cast):
    client = signed_in(cast.clinician)
    paper = Paper(client, open_visit(cast))
    acts = list(AuditEntry.objects.values_list("act", "subject"))
    assert acts == [("see_record", "visit")]
    paper.type({"v:knee_flexion:right": "120"}).send_row("knee_flexion")
    assert AuditEntry.objects.count() == 1
    paper.save()
    assert AuditEntry.objects.count() == 1


def test_a_row_answers_with_what_it_makes_of_the_values(cast):
    past_torque(cast, days=20)
    paper = Paper(signed_in(cast.clinician), open_visit(cast))
    typed = {name: text for name, text in FULL.items() if "quadriceps_torque" in name}
    answer = paper.type(typed).send_row("quadriceps_torque")
    text = words_of(answer)
    assert answer.status_code == 200
    assert "77 % , how this came about From Left 158.0 N·m, 25 Nov 2026" in text
    assert "right ÷ left × 100 = 121.0 ÷ 158.0 × 100 = 76.58 %" in text
    assert "Change Symmetry from 69.87 % (5 Nov 2026) to 76.58 %." in text
    assert "LSI, up 7 since 5 Nov: no real change; error about 7" in text
    assert "fixed dynamometer, knee angle 90°" in text
    assert "Draft saved 09:00" in text
    assert set(texts()) == set(typed)


def test_body_mass_speaks_in_the_torque_row_too(cast):
    paper = Paper(signed_in(cast.clinician), open_visit(cast))
    paper.type({name: text for name, text in FULL.items() if "quadriceps" in name}).save()
    paper.read(paper.client.get(paper.address))
    answer = paper.type({"v:body_mass:none": "63,4"}).send_row("body_mass")
    assert "N·m/kg: left 2.49, right 1.91" in words_of(answer)


def two_pages(cast) -> tuple[Paper, Paper, Visit]:
    visit = open_visit(cast)
    Paper(signed_in(cast.clinician), visit).type({"v:knee_flexion:left": "140"}).save()
    return Paper(signed_in(cast.clinician), visit), Paper(signed_in(cast.colleague), visit), visit


def test_two_tablets_merge_field_by_field(cast):
    one, other, _ = two_pages(cast)
    one.type({"v:knee_flexion:right": "128"}).save()
    assert other.type({"v:effusion:right": "trace", "note": "x"}).save().status_code == 302
    assert texts() == {
        "v:knee_flexion:left": "140",
        "v:knee_flexion:right": "128",
        "v:effusion:right": "trace",
        "note": "x",
    }
    kept = VisitDraft.objects.get().fields
    assert kept["v:knee_flexion:right"]["authors"] == [cast.clinician.pk]
    assert kept["v:effusion:right"]["authors"] == [cast.colleague.pk]


def test_a_stale_page_does_not_bring_back_what_it_merely_shows(cast):
    one, other, _ = two_pages(cast)
    one.type({"v:knee_flexion:left": "135"}).save()
    answer = other.type({"v:knee_flexion:right": "128"}).send_row("knee_flexion")
    assert answer.status_code == 200
    assert "Typed on another page meanwhile: Flexion, left: 135" in words_of(answer)
    assert texts()["v:knee_flexion:left"] == "135"


def test_the_same_field_typed_twice_is_a_clash_with_both_texts_and_the_rest_is_kept(cast):
    one, other, _ = two_pages(cast)
    one.type({"v:knee_flexion:right": "128"}).save()
    answer = other.type({"v:knee_flexion:right": "130", "note": "mine"}).save()
    assert answer.status_code == 409
    assert "Tess Okafor typed 128 meanwhile, you typed 130." in words_of(answer)
    assert (texts()["v:knee_flexion:right"], texts()["note"]) == ("128", "mine")
    other.read(answer)
    assert other.fields["v:knee_flexion:right"] == ["130"]
    assert other.save().status_code == 409
    assert other.save(keep="v:knee_flexion:right").status_code == 302
    field = VisitDraft.objects.get().fields["v:knee_flexion:right"]
    assert (field["text"], field["by"]) == ("130", cast.colleague.pk)
    assert field["authors"] == [cast.clinician.pk, cast.colleague.pk]


def test_the_other_text_can_be_taken(cast):
    one, other, _ = two_pages(cast)
    one.type({"v:knee_flexion:right": "128"}).save()
    other.type({"v:knee_flexion:right": "130"}).save()
    assert other.save(take="v:knee_flexion:right").status_code == 302
    other.read(other.client.get(other.address))
    assert other.fields["v:knee_flexion:right"] == ["128"]


def test_a_clash_of_one_row_is_told_in_that_row(cast):
    one, other, _ = two_pages(cast)
    one.type({"v:knee_flexion:right": "128"}).send_row("knee_flexion")
    answer = other.type({"v:knee_flexion:right": "130"}).send_row("knee_flexion")
    assert answer.status_code == 409
    assert "Keep 130" in words_of(answer)
    assert "Take 128" in words_of(answer)


def test_one_page_never_clashes_with_itself_when_an_answer_was_lost(cast):
    paper = Paper(signed_in(cast.clinician), open_visit(cast))
    was = [text for text in paper.fields["was"] if "knee_flexion" in text]
    for text in ("1", "12", "128"):
        sent = paper.type({"v:knee_flexion:right": text}).send_row("knee_flexion", was=was)
        assert sent.status_code == 200
    assert texts() == {"v:knee_flexion:right": "128"}


def test_signing_shows_a_clash_instead_of_choosing(cast):
    one, other, _ = two_pages(cast)
    other.type({"v:knee_flexion:right": "128"}).save()
    answer = one.type({"v:knee_flexion:right": "130"}).sign()
    assert answer.status_code == 409
    assert "Bram Solis typed 128 meanwhile, you typed 130." in words_of(answer)
    assert Reading.objects.count() == 0


def test_a_draft_of_a_signed_visit_is_refused_and_says_so(cast):
    late = Paper(signed_in(cast.clinician), visit := open_visit(cast))
    Paper(late.client, visit).type(FULL).sign()
    answer = late.type({"v:knee_flexion:right": "99"}).send_row("knee_flexion")
    assert answer.status_code == 409
    assert "not open any more" in words_of(answer)


def test_a_locked_tablet_keeps_the_draft_for_the_one_who_comes_back(cast):
    client = signed_in(cast.clinician)
    paper = Paper(client, visit := open_visit(cast))
    paper.type({"v:knee_flexion:right": "128"}).send_row("knee_flexion")
    with clock.held_at(MOMENT + timedelta(minutes=11)):
        answer = paper.type({"v:knee_flexion:right": "129"}).send_row("knee_flexion")
        assert (answer.status_code, "lock" in answer["HX-Redirect"]) == (401, True)
        again = Paper(signed_in(cast.clinician), visit)
    assert again.fields["v:knee_flexion:right"] == ["128"]


def test_conditions_of_last_time_are_one_press_without_script(cast):
    past_torque(cast, days=20)
    paper = Paper(signed_in(cast.clinician), open_visit(cast))
    assert "As last time: fixed dynamometer, knee angle 90°" in words_of(paper.response)
    paper.save(same="all")
    assert texts() == {
        "c:quadriceps_torque:device": "fixed",
        "c:quadriceps_torque:knee_angle": "90",
    }


def test_a_measure_is_added_and_its_row_stays(cast):
    cast.surgery.date = MOMENT.date()
    cast.surgery.save()
    paper = Paper(signed_in(cast.clinician), visit := open_visit(cast))
    assert "v:single_hop:right" not in paper.fields
    answer = paper.save(add="single_hop")
    assert answer["Location"] == f"/visits/{visit.uid}/#row-single_hop"
    paper.read(paper.client.get(paper.address))
    assert paper.fields["v:single_hop:right"] == [""]


@pytest.mark.parametrize("was", ["", "[]", '{"v:x": 1}', '{"drop table": ""}'])
def test_a_page_that_is_not_ours_is_refused(cast, was):
    visit = open_visit(cast)
    client = signed_in(cast.clinician)
    data = {"was": was, "sheet": "11111111-1111-4111-8111-111111111111"}
    assert client.post(f"/visits/{visit.uid}/draft", data).status_code == 422
    assert not VisitDraft.objects.exists()


KILLED = """
import os, signal
import django
from django.conf import settings
settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
django.setup()
from django.apps import apps
from django.db import connection
from clinic import clock
from clinic.permissions import Actor
from outcomes.models.record import VisitDraft
from outcomes.services import drafts
from tests.cast import MOMENT, make_cast
from tests.outcomes.paper import open_visit
with connection.schema_editor() as editor:
    for room in ("clinic", "outcomes"):
        for model in apps.get_app_config(room).get_models():
            editor.create_model(model)
with clock.held_at(MOMENT):
    cast = make_cast()
    visit = open_visit(cast)
    actor = Actor(staff_id=cast.clinician.pk, site_id=cast.harbour.pk, request_id=visit.uid)
    def save(texts):
        drafts.save(actor=actor, visit_id=visit.pk, typed=texts, shown={}, sheet="one")
    save({"v:knee_flexion:left": "140", "note": "first"})
    kept = VisitDraft.save
    def save_and_die(self, **more):
        kept(self, **more)
        os.kill(os.getpid(), signal.SIGKILL)
    VisitDraft.save = save_and_die
    save({"v:knee_flexion:left": "120", "note": "second"})
"""


@pytest.mark.sqlite
def test_a_kill_in_the_middle_of_a_save_leaves_the_draft_whole(tmp_path: Path) -> None:
    """The process dies after its UPDATE and before its COMMIT."""
    place = tmp_path / "killed.sqlite3"
    environment = {
        **os.environ,
        "DATABASE_URL": f"sqlite:///{place}",
        "DJANGO_SETTINGS_MODULE": "clinic.settings",
    }
    done = subprocess.run(
        [sys.executable, "-c", KILLED], env=environment, check=False, capture_output=True
    )
    assert done.returncode == -signal.SIGKILL, done.stderr.decode()
    with sqlite3.connect(place) as database:
        (fields,) = database.execute("SELECT fields FROM outcomes_visitdraft").fetchone()
        assert database.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    kept = {name: field["text"] for name, field in json.loads(fields).items()}
    assert kept == {"v:knee_flexion:left": "140", "note": "first"}


def statements_of_a_row(paper: Paper, text: str) -> int:
    with CaptureQueriesContext(connection) as seen:
        paper.type({"v:quadriceps_torque:right": text}).send_row("quadriceps_torque")
    return len(seen)


def test_a_row_costs_the_same_statements_with_much_history_as_with_little(cast):
    paper = Paper(signed_in(cast.clinician), open_visit(cast))
    typed = {name: text for name, text in FULL.items() if "quadriceps" in name}
    paper.type(typed).send_row("quadriceps_torque")
    counts = []
    for days in (30, 20, 10):
        past_torque(cast, days=days)
        counts.append(statements_of_a_row(paper, str(100 + days)))
    assert counts[0] == counts[-1]
