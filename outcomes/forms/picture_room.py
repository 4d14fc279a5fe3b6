"""Where in a visit's draft the angles of a picture go: rows of their own, trial after trial."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from outcomes.catalogue.tasks import LED
from outcomes.core.kinds import Limb
from outcomes.core.values import Measure
from outcomes.forms.ledger_fields import condition_name, value_name
from outcomes.forms.pictures import PictureForm
from outcomes.forms.row_names import named
from outcomes.queries.visit import VisitSheet

MOST_ROWS: Final = 9
PELVIS_ROW: Final = "pelvic_drop_angle"
KNEE_ROW: Final = "knee_projection_angle"


@dataclass(frozen=True, kw_only=True, slots=True)
class Full:
    """An angle that finds no free trial: where its trials stand, and what to do."""

    row: str
    sentence: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Room:
    """What a picture fills of the draft, what finds no room, and what has no row at all."""

    texts: Mapping[str, str]
    full: tuple[Full, ...] = ()
    nowhere: tuple[str, ...] = ()

    @property
    def says_full(self) -> str:
        """What keeps the angles from being taken; empty where they are."""
        return " ".join(one.sentence for one in self.full)


@dataclass(frozen=True, kw_only=True, slots=True)
class _Angle:
    """One angle of one limb, and the conditions that it was measured under."""

    measure: Measure
    limb: Limb
    given: Mapping[str, str]
    typed: str


def room_of(*, sheet: VisitSheet, row: str, form: PictureForm) -> Room:
    """The draft's fields that a picture fills: the grade, and each angle in its first free trial.

    With ``only`` grade the angles are left out, and nothing is full.
    """
    found = form.angle
    if found is None:
        raise AssertionError("a picture without an angle was let through")
    grade = {value_name(row, form.limb): found.proposed} if found.proposed else {}
    if form.cleaned_data["only"]:
        return Room(texts=grade)
    angles = {PELVIS_ROW: found.degrees, KNEE_ROW: found.knee}
    rooms = [
        _room(sheet, _angle(sheet, code, row, form, f"{degrees:.1f}"))
        for code, degrees in angles.items()
        if degrees is not None
    ]
    return Room(
        texts=grade | {name: text for room in rooms for name, text in room.texts.items()},
        full=tuple(one for room in rooms for one in room.full),
        nowhere=tuple(label for room in rooms for label in room.nowhere),
    )


def _angle(sheet: VisitSheet, code: str, row: str, form: PictureForm, typed: str) -> _Angle:
    task = LED[lead].code if (lead := named(row).code) in LED else lead
    height = sheet.texts.get(condition_name(row, "step_height"), "")
    given = {"view": form.cleaned_data["view"], "task": task, "step_height": height}
    return _Angle(measure=sheet.measures[code], limb=form.limb, given=given, typed=typed)


def _room(sheet: VisitSheet, angle: _Angle) -> Room:
    """The first free trial of the row of the same view, task and height, or why there is none."""
    measure, label = angle.measure, angle.measure.short_label
    tasks = {one.code for c in measure.conditions if c.code == "task" for one in c.choices}
    if measure.code in sheet.off or angle.given["task"] not in tasks:
        return Room(texts={}, nowhere=(label,))
    rows = [measure.code, *(f"{measure.code}-{number}" for number in range(2, MOST_ROWS + 1))]
    place = next((name for name in rows if _fits(sheet.texts, name, angle.given)), None)
    if place is None:
        sentence = (
            f"{label}: {MOST_ROWS} rows of other views, tasks or heights are filled. "
            "Clear one in the visit first."
        )
        return Room(texts={}, full=(Full(row=measure.code, sentence=sentence),))
    names = [value_name(place, angle.limb, n) for n in range(1, measure.trials + 1)]
    free = next((name for name in names if not sheet.texts.get(name)), None)
    if free is None:
        there = ", ".join(f"{sheet.texts[name]}°" for name in names)
        sentence = (
            f"{label}, {angle.limb}: every trial is filled ({there}). "
            "Clear one in the visit first, then press again."
        )
        return Room(texts={}, full=(Full(row=place, sentence=sentence),))
    conditions = {condition_name(place, key): text for key, text in angle.given.items() if text}
    return Room(texts={f"r:{place}": "1", free: angle.typed, **conditions})


def _fits(texts: Mapping[str, str], row: str, given: Mapping[str, str]) -> bool:
    """Whether a row is empty, or was measured under these conditions."""
    there = [name for name in texts if name.split(":")[1:2] == [row] and name != f"r:{row}"]
    return not there or all(
        texts.get(condition_name(row, key), "") == text for key, text in given.items()
    )
