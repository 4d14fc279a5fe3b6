"""Second grades of a visit: what may be graded again, by whom, and how two grades compare.

Only what is seen or felt by the examiner is graded twice: the pelvis in a heel touch, and
effusion. A test that a visit holds twice is left out: nobody could tell which was meant.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, Final

from django.db.models import Q

from clinic import words
from clinic.models.audit import AuditEntry
from clinic.models.care import Episode, Visit
from clinic.models.places import Site
from clinic.permissions import Action
from outcomes.core.grades import is_pelvic_drop
from outcomes.core.values import Limb, Measure
from outcomes.models.agreement import Agreement
from outcomes.models.record import Reading, VisitDraft

Key = tuple[int, str, str]
"""A test of a visit: the visit's id, measure and limb."""

OF_LATE: Final = timedelta(days=7)
"""How long after a visit a second grade is taken: a setting of this house."""
EFFUSION: Final = "effusion"
LIMBS: Final = frozenset(limb.value for limb in Limb)
HARMLESS: Final = tuple(
    action.value
    for action in (
        Action.GRADE_AGAIN, Action.SEE_AGREEMENT, Action.SEE_PERSON, Action.EDIT_PERSON,
        Action.EDIT_EPISODE, Action.REGISTER, Action.BOOK_VISIT, Action.MARK_ARRIVED,
        Action.SEE_DAY, Action.KEY_QUESTIONNAIRE, Action.HAND_OVER, Action.SET_CARE,
        Action.FIND_PATIENTS,
    )
)  # fmt: skip
"""Pages and acts that show no grade of a visit."""


@dataclass(frozen=True, kw_only=True, slots=True)
class First:
    """The first grade of a test: who gave it, and its word; empty while nobody signed it."""

    by: int
    word: str
    name: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Test:
    """A test that somebody graded, without that grade. ``done``: this person graded it too."""

    measure: Measure
    limb: Limb
    done: bool = False

    @property
    def name(self) -> str:
        """The name of its form field."""
        return f"g-{self.measure.code}-{self.limb.value}"

    @property
    def label(self) -> str:
        """What is graded: the standing leg, or the knee."""
        where = "standing on the" if self.measure.standing else ""
        side = f"{where} {self.limb.value}" if where else f"{self.limb.value} knee"
        return f"{self.measure.label}, {side}"


@dataclass(frozen=True, kw_only=True, slots=True)
class Both:
    """A second grade beside the first one; ``first`` is empty until the visit is signed."""

    label: str
    mine: str
    first: str
    by: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Waiting:
    """A visit of the last days with tests that the person may grade a second time."""

    visit: Visit
    day: str
    tests: int


def twice(*, measures: Mapping[str, Measure]) -> dict[str, Measure]:
    """The measures that two may grade, by code."""
    return {
        code: one
        for code, one in measures.items()
        if one.grades and (is_pelvic_drop(measure=one) or code == EFFUSION)
    }


def firsts_of(*, visits: Collection[int], codes: Mapping[str, Measure]) -> dict[Key, First]:
    """The first grade of each test of some visits, of those graded once. Two statements."""
    return _typed(visits, codes) | _signed(visits, codes)


def second_grades(*, visits: Collection[int], staff_id: int) -> list[Agreement]:
    """A person's second grades at some visits. One statement."""
    rows = Agreement.objects.filter(visit_id__in=visits, recorded_by_id=staff_id)
    return list(rows.order_by("id"))


def tests_of(*, visit: Visit, staff_id: int, measures: Mapping[str, Measure]) -> tuple[Test, ...]:
    """The tests of a visit that somebody else graded, each with whether this person did too."""
    codes = twice(measures=measures)
    firsts = firsts_of(visits=[visit.pk], codes=codes)
    mine = second_grades(visits=[visit.pk], staff_id=staff_id)
    done = {(row.visit_id, row.measure, row.limb) for row in mine}
    return tuple(
        Test(measure=codes[key[1]], limb=Limb(key[2]), done=key in done)
        for key, first in sorted(firsts.items())
        if first.by != staff_id
    )


def both_of(*, visit: Visit, staff_id: int, measures: Mapping[str, Measure]) -> list[Both]:
    """This person's second grades of a visit, each beside the first one once that is signed."""
    firsts = firsts_of(visits=[visit.pk], codes=twice(measures=measures))
    return [
        Both(
            label=Test(measure=measures[row.measure], limb=Limb(row.limb)).label,
            mine=row.grade,
            first=found.word if found else "",
            by=found.name if found else "",
        )
        for row in second_grades(visits=[visit.pk], staff_id=staff_id)
        for found in (firsts.get((row.visit_id, row.measure, row.limb)),)
    ]


def waiting_for(
    *, sites: Sequence[Site], staff_id: int, on: date, measures: Mapping[str, Measure]
) -> list[Waiting]:
    """Visits of the last days that the person may grade a second time, newest first."""
    held = Visit.objects.filter(
        site__in=sites, state__in=["open", "signed"], date__range=(on - OF_LATE, on)
    )
    visits = list(held.select_related("patient").order_by("-date", "-id"))
    ids = [visit.pk for visit in visits]
    firsts = firsts_of(visits=ids, codes=twice(measures=measures))
    done = {
        (row.visit_id, row.measure, row.limb)
        for row in second_grades(visits=ids, staff_id=staff_id)
    }
    left: dict[int, int] = defaultdict(int)
    for key, first in firsts.items():
        left[key[0]] += first.by != staff_id and key not in done
    return [
        Waiting(visit=visit, day=words.short_day(visit.date, today=on), tests=left[visit.pk])
        for visit in visits
        if left[visit.pk]
    ]


def pages_opened(*, visit: Visit, staff_id: int) -> bool:
    """Whether the person opened a page since the visit began that may have shown its grades."""
    if visit.opened_at is None:
        return False
    about = Q(subject="visit", subject_ids=[visit.pk])
    about |= Q(subject="patient", subject_ids=[visit.patient_id])
    for ident in Episode.objects.filter(patient_id=visit.patient_id).values_list("pk", flat=True):
        about |= Q(subject="episode", subject_ids=[ident])
    rows = AuditEntry.objects.filter(about, staff_id=staff_id, outcome="done")
    return rows.filter(at__gte=visit.opened_at).exclude(act__in=HARMLESS).exists()


def _typed(visits: Collection[int], codes: Mapping[str, Measure]) -> dict[Key, First]:
    """Grades that stand in drafts: who typed them, not what."""
    found: dict[Key, list[First]] = defaultdict(list)
    rows = VisitDraft.objects.filter(visit_id__in=visits).values_list("visit_id", "fields")
    for visit_id, fields in rows:
        for name, field in fields.items():
            kind, _, place = name.partition(":")
            row, _, limb = place.partition(":")
            code = row.partition("-")[0]
            if kind == "v" and code in codes and limb in LIMBS and field["text"]:
                found[visit_id, code, limb].append(First(by=field["by"], word=""))
    return _once(found)


def _signed(visits: Collection[int], codes: Mapping[str, Measure]) -> dict[Key, First]:
    """Signed grades as they stand now, each under the name of who entered it first."""
    rows = Reading.objects.filter(visit_id__in=visits, measure__in=codes).order_by("id")
    entered: dict[int, Any] = {}
    for row in rows.select_related("recorded_by"):
        whole = entered.pop(row.supersedes_id) if row.supersedes_id else (row, row)
        entered[row.pk] = (whole[0], row)
    found: dict[Key, list[First]] = defaultdict(list)
    for first, newest in entered.values():
        key = (first.visit_id, first.measure, first.limb)
        if newest.value is not None:
            by, name = first.recorded_by_id, first.recorded_by.full_name
            word = codes[first.measure].word(value=newest.value)
            found[key].append(First(by=by, word=word, name=name))
    return _once(found)


def _once(found: Mapping[Key, Iterable[First]]) -> dict[Key, First]:
    listed = {key: list(firsts) for key, firsts in found.items()}
    return {key: firsts[0] for key, firsts in listed.items() if len(firsts) == 1}
