"""Own measures and switches: versions only, clear refusals, once a key, and nothing is lost."""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest

from clinic.http import Conflict, KeyReused, Unprocessable
from clinic.models.audit import AuditEntry
from clinic.services.rules import Refused
from outcomes.catalogue.seeds import canonical_json, fingerprint, load_catalogue
from outcomes.core import looks
from outcomes.core.looks import JUDGED_ON
from outcomes.models.record import Reading
from outcomes.models.versions import MeasureVersion, Switch
from outcomes.queries.catalogue import in_force
from outcomes.queries.measure_list import leaning_on
from outcomes.services import catalogue
from tests.factories.outcomes import both_limbs
from tests.outcomes.own import STEP, add_own, lead_of, switched, used
from tests.outcomes.paper import Paper, open_visit
from tests.web import signed_in, words_of

CODE = "own_step_hold"


def refusal(act: Callable[..., str], **given: Any) -> dict[str, str]:
    with pytest.raises(Refused) as refused:
        act(key=uuid4(), **given)
    return refused.value.errors


def rows() -> list[str]:
    return [str(row) for row in MeasureVersion.objects.filter(origin="clinic").order_by("pk")]


def test_an_own_measure_is_kept_once_with_who_made_it_and_its_mark(cast):
    actor, key = lead_of(cast), uuid4()
    for _ in range(2):
        answer = catalogue.add_measure(actor=actor, key=key, mapping=STEP)
        assert answer == f"/clinic/measures/#{CODE}"
    row = MeasureVersion.objects.get(code=CODE)
    assert (row.version, row.origin, row.created_by) == (1, "clinic", cast.lead)
    assert (row.body, row.sha256) == (canonical_json(STEP), fingerprint(canonical_json(STEP)))
    with pytest.raises(KeyReused):
        catalogue.add_measure(actor=actor, key=key, mapping={**STEP, "label": "Other"})
    written = AuditEntry.objects.filter(act="add_measure")
    assert [entry.subject_ids for entry in written] == [[row.pk]]


@pytest.mark.parametrize(
    ("changes", "errors"),
    [
        ({"code": "step_hold"}, {"code": "A code of the clinic's own begins with own_."}),
        ({"unit": "furlong"}, {"unit": "This 'furlong' is not a known UCUM code."}),
        ({"soft": ["-5", "45"]}, {"soft": "This lies outside hard."}),
        (
            {"short_label": "effusion"},
            {"short_label": "“effusion” is the name of another measure. Choose another name."},
        ),
        ({"how_to_do": ""}, {"how_to_do": "This is empty."}),
        ({"fun": "yes"}, {"fun": "This is not known."}),
    ],
)
def test_what_a_seed_would_be_refused_for_is_refused_with_a_sentence(cast, changes, errors):
    before = rows()
    found = refusal(catalogue.add_measure, actor=lead_of(cast), mapping={**STEP, **changes})
    assert (found, rows()) == (errors, before)


def test_a_code_that_is_there_already_is_refused(cast):
    add_own(cast)
    again = {**STEP, "label": "Another", "short_label": "Another"}
    found = refusal(catalogue.add_measure, actor=lead_of(cast), mapping=again)
    assert found == {"code": "own_step_hold is there already. Choose another code."}


def test_a_change_is_a_new_version_and_readings_keep_theirs(cast):
    add_own(cast)
    used(cast)
    actor = lead_of(cast)
    new = {**STEP, "version": 2, "how_to_read": "Five seconds is a difference."}
    catalogue.change_measure(actor=actor, key=uuid4(), code=CODE, seen=1, mapping=new)
    assert rows() == ["own_step_hold@1", "own_step_hold@2"]
    assert in_force().measures[CODE].how_to_read == "Five seconds is a difference."
    taken = {str(one.measure_version) for one in Reading.objects.filter(measure=CODE)}
    assert taken == {"own_step_hold@1"}
    with pytest.raises(Conflict):
        catalogue.change_measure(actor=actor, key=uuid4(), code=CODE, seen=1, mapping=new)


def test_what_readings_are_read_by_stays_once_there_is_one(cast):
    add_own(cast)
    new = {**STEP, "version": 2, "unit": "cm", "conditions": []}
    given: dict[str, Any] = {"actor": lead_of(cast), "code": CODE, "seen": 1, "mapping": new}
    used(cast)
    end = "stays. Add a new measure, and retire this one."
    assert refusal(catalogue.change_measure, **given) == {
        "unit": f"It was used already, so its unit {end}",
        "conditions": f"It was used already, so its conditions {end}",
    }
    add_own(cast, 2)
    other = {**new, "code": "own_step_hold_2", "label": "Second", "short_label": "Second"}
    catalogue.change_measure(
        actor=lead_of(cast), key=uuid4(), code="own_step_hold_2", seen=1, mapping=other
    )
    assert in_force().measures["own_step_hold_2"].unit == "cm"


def test_a_shipped_measure_cannot_be_changed(cast):
    with pytest.raises(Unprocessable):
        catalogue.change_measure(
            actor=lead_of(cast), key=uuid4(), code="effusion", seen=2, mapping=STEP
        )


def test_a_switch_is_one_row_and_says_what_leans_on_it_first(cast):
    actor, key = lead_of(cast), uuid4()
    given: dict[str, Any] = {"actor": actor, "code": "knee_flexion", "state": "off", "seen": "on"}
    sentence = refusal(catalogue.switch, **given)["anyway"]
    assert "Step-down work asks for it: its criterion will stay not tested." in sentence
    assert sentence.endswith("Tick the box to go ahead all the same.")
    assert not Switch.objects.exists()
    for _ in range(2):
        catalogue.switch(key=key, anyway=True, **given)
    assert Switch.objects.get().changed_by == cast.lead
    assert not in_force().offers(code="knee_flexion")
    with pytest.raises(Conflict):
        catalogue.switch(key=uuid4(), **{**given, "state": "on", "seen": "retired"})
    catalogue.switch(key=uuid4(), **{**given, "state": "on", "seen": "off"})
    assert (Switch.objects.count(), in_force().state(code="knee_flexion")) == (1, "on")
    notes = AuditEntry.objects.filter(act="switch").order_by("pk").values_list("note", flat=True)
    assert list(notes) == ["knee_flexion: as shipped, off", "knee_flexion: off, on"]


def test_only_a_used_measure_is_retired(cast):
    add_own(cast)
    given: dict[str, Any] = {"actor": lead_of(cast), "code": CODE, "state": "retired", "seen": "on"}
    refused = {"state": "It was never used: switch it off instead."}
    assert refusal(catalogue.switch, **given) == refused
    used(cast)
    catalogue.switch(key=uuid4(), **given)
    assert in_force().state(code=CODE) == "retired"


def addable(response) -> list[str]:
    groups = response.context["shown"].form.addable
    return [one.row for group in groups for one in group.measures]


def asked(response) -> list[str]:
    return [row.id for row in response.context["shown"].form.rows]


@pytest.mark.parametrize("state", ["off", "retired"])
def test_what_is_off_is_not_offered_but_stands_where_it_was_used(cast, state):
    code = add_own(cast)
    past = used(cast)
    both_limbs(visit=past, measure="knee_flexion", left=140, right=130)
    client, visit = signed_in(cast.clinician), open_visit(cast)
    paper = Paper(client, visit)
    assert code in addable(paper.response)
    assert "knee_flexion" in asked(paper.response)
    for one in (code, "knee_flexion"):
        switched(cast, one, state)
    paper = Paper(client, visit)
    assert {code, "knee_flexion"} & {*asked(paper.response), *addable(paper.response)} == set()
    for address in (f"/visits/{past.uid}/", f"/patients/{cast.ines.uid}/"):
        text = words_of(client.get(address))
        assert ("Step hold" in text, "Flexion" in text) == (True, True)


def test_a_draft_that_holds_it_keeps_its_row_and_signs_it(cast):
    code, other = add_own(cast), add_own(cast, 2)
    client, visit = signed_in(cast.clinician), open_visit(cast)
    paper = Paper(client, visit)
    paper.save(add=code)
    paper = Paper(client, visit)
    paper.type({f"v:{code}:left": "31", f"c:{code}:shoes": "on", f"c:{code}:step_height": "20"})
    paper.save()
    switched(cast, code, "off")
    switched(cast, other, "off")
    paper = Paper(client, visit)
    assert code in asked(paper.response)
    assert other not in asked(paper.response)
    paper.type({"f:none": "1"}).sign()
    (reading,) = Reading.objects.filter(measure=code)
    assert (reading.typed_text, reading.limb, reading.comparison_key) == (
        "31",
        "left",
        "shoes=on;step_height=20",
    )


def test_a_questionnaire_is_off_until_it_is_switched_on(cast):
    code = next(one.code for one in in_force().instruments.values() if not one.on_by_default)
    assert (in_force().state(code=code), in_force().state(code="ikdc")) == ("off", "on")
    switched(cast, code, "on", seen="off")
    switched(cast, "ikdc", "off")
    assert (in_force().state(code=code), in_force().state(code="ikdc")) == ("on", "off")


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("effusion", "Reasons to look are judged on it, alarms too: they will stay silent."),
        (
            "leg_length",
            "Reach, composite of three directions is worked out with it: that will not be known.",
        ),
        ("wound_closed", None),
    ],
)
def test_what_is_lost_while_a_measure_is_off_is_said(cast, code, said):
    warnings = leaning_on(rules=in_force(), code=code)
    assert (said in warnings) if said else (warnings == ())


def test_the_measures_that_reasons_lean_on_are_those_that_their_code_names():
    folder = Path(looks.__file__).parent
    code = "".join((folder / f"{name}.py").read_text() for name in ("looks", "looks_at_tests"))
    outside = re.sub(r"JUDGED_ON: Final = \(.*?\)", "", code, flags=re.S)
    assert {name for name in load_catalogue() if f'"{name}"' in outside} == set(JUDGED_ON)
