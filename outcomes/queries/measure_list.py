"""The catalogue as a lead sees it: what there is, how much it was used, and what leans on it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from django.db.models import Count

from outcomes.catalogue.order import LABELS, rank
from outcomes.core.looks import JUDGED_ON
from outcomes.core.quantities import unit_sign
from outcomes.core.relative import BODY
from outcomes.core.values import Better, Measure, SymmetryForm
from outcomes.models.questionnaires import CompletedQuestionnaire
from outcomes.models.record import Reading
from outcomes.queries.catalogue import InForce
from outcomes.queries.opened import MARK, source_lines

BETTER: Final[Mapping[Better, str]] = {
    Better.HIGHER: "higher",
    Better.LOWER: "lower",
    Better.TOWARD_ZERO: "toward zero",
    Better.MATCH_OTHER: "like the other side",
    Better.NEITHER: "neither way",
}
SYMMETRY: Final[Mapping[SymmetryForm, str]] = {
    SymmetryForm.RATIO: "index (LSI), higher is better",
    SymmetryForm.INVERTED_RATIO: "index (LSI), lower is better",
    SymmetryForm.DIFFERENCE: "difference between the limbs",
    SymmetryForm.NONE: "none",
}
SILENT: Final = "Reasons to look are judged on it, alarms too: they will stay silent."
OFF_AT_FIRST: Final = ": off until you switch it on"


@dataclass(frozen=True, kw_only=True, slots=True)
class Listed:
    """One measure of the list. ``used`` counts signed readings; ``warnings`` what leans on it."""

    measure: Measure
    unit: str
    better: str
    symmetry: str
    used: int
    state: str
    sources: tuple[str, ...]
    warnings: tuple[str, ...]

    @property
    def code(self) -> str:
        """The code that it is switched by."""
        return self.measure.code

    @property
    def label(self) -> str:
        """Its name in full."""
        return self.measure.label

    @property
    def find(self) -> str:
        """All words that it is found by."""
        words = (self.label, self.measure.short_label, self.code.replace("_", " "))
        return " ".join(words).lower()


@dataclass(frozen=True, kw_only=True, slots=True)
class ListedGroup:
    """The measures of one section of a visit. ``off`` counts those that no visit asks for."""

    label: str
    rows: tuple[Listed, ...]

    @property
    def off(self) -> int:
        """How many of them are not on."""
        return sum(row.state != "on" for row in self.rows)


@dataclass(frozen=True, kw_only=True, slots=True)
class ListedForm:
    """One questionnaire of the list. ``mark`` says how well its scoring is supported."""

    code: str
    label: str
    mark: str
    used: int
    state: str
    sources: tuple[str, ...]
    warnings: tuple[str, ...] = ()


def measure_list(*, rules: InForce) -> list[ListedGroup]:
    """Every measure by section, in the order of a visit, own ones last. One statement."""
    counted = Reading.objects.filter(kind="entered").order_by().values_list("measure")
    used = dict(counted.annotate(Count("pk")))
    order = sorted(rules.measures.values(), key=lambda one: (rank(one.code), one.code))
    rows = [_listed(rules=rules, measure=one, used=used.get(one.code, 0)) for one in order]
    groups = {
        label: tuple(row for row in rows if row.measure.group is group)
        for group, label in LABELS.items()
    }
    return [ListedGroup(label=label, rows=found) for label, found in groups.items() if found]


def _listed(*, rules: InForce, measure: Measure, used: int) -> Listed:
    return Listed(
        measure=measure,
        unit=unit_words(measure=measure),
        better=BETTER[measure.better],
        symmetry=SYMMETRY[measure.symmetry],
        used=used,
        state=rules.state(code=measure.code),
        sources=source_lines(sources=measure.sources),
        warnings=leaning_on(rules=rules, code=measure.code),
    )


def form_list(*, rules: InForce) -> list[ListedForm]:
    """Every questionnaire by name. One statement."""
    rows = CompletedQuestionnaire.objects.filter(kind="entered").order_by()
    used = dict(rows.values_list("instrument").annotate(Count("pk")))
    order = sorted(rules.instruments.values(), key=lambda one: one.label.casefold())
    return [
        ListedForm(
            code=one.code,
            label=one.label,
            mark=f"{MARK[one.mark]}{'' if one.on_by_default else OFF_AT_FIRST}",
            used=used.get(one.code, 0),
            state=rules.state(code=one.code),
            sources=source_lines(sources=one.sources),
        )
        for one in order
    ]


def unit_words(*, measure: Measure) -> str:
    """What a value is given in: a unit, yes or no, or the words of its grades."""
    if measure.yes_or_no:
        return "yes or no"
    return ", ".join(measure.grades) or unit_sign(unit=measure.unit) or "points"


def leaning_on(*, rules: InForce, code: str) -> tuple[str, ...]:
    """What is lost while a measure is off: stages that ask for it, reasons, values made from it."""
    stages = {
        milestone.label
        for protocol in rules.followed
        for milestone in protocol.milestones
        for criterion in milestone.criteria
        if criterion.measure == code
    }
    asked = [f"{label} asks for it: its criterion will stay not tested." for label in stages]
    silent = [SILENT] if code in JUDGED_ON else []
    made = [one.label for one in rules.measures.values() if _made_from(one, code)]
    worked = [f"{label} is worked out with it: that will not be known." for label in made]
    return (*sorted(asked), *silent, *sorted(worked))


def _made_from(measure: Measure, code: str) -> bool:
    derived = measure.derived is not None and code in measure.derived.inputs
    return derived or (measure.relative is not None and BODY[measure.relative] == code)
