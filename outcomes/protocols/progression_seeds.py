"""The shipped progressions, and one strict reader of a progression."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from importlib.resources import files
from typing import Any

from outcomes.catalogue.fields import Fields, SeedError
from outcomes.catalogue.seeds import read_seeds
from outcomes.core.progressions import (
    Dose,
    GraftCaution,
    Level,
    Nature,
    Progression,
    Span,
    Steps,
    Variable,
)
from outcomes.core.values import Measure
from outcomes.protocols.criteria import GRAFTS
from outcomes.protocols.progression_checks import check_progression, check_steps
from outcomes.protocols.reading import KINDS, RESTRICTIONS
from outcomes.protocols.requirements import (
    Catalogue,
    Named,
    named_from,
    requirements_from,
    some_of,
    sources_of,
    weeks_of,
)

NATURES = tuple(nature.value for nature in Nature)


def progression_seeds() -> Iterator[tuple[str, dict[str, Any]]]:
    """File name and mapping of every shipped progression."""
    return read_seeds(folder=files("outcomes.protocols") / "progressions")


def load_progressions(catalogue: Mapping[str, Measure]) -> dict[str, Progression]:
    """All shipped progressions by code, checked against the catalogue.

    Raises ``SeedError`` naming file and key.
    """
    found: dict[str, Progression] = {}
    for name, mapping in progression_seeds():
        progression = progression_from(mapping, catalogue, where=name)
        if name != f"{progression.code}.toml":
            raise SeedError(f"{name}: code: the file is named after its code")
        found[progression.code] = progression
    return found


def progression_from(
    mapping: Mapping[str, Any], catalogue: Catalogue, *, where: str = "progression"
) -> Progression:
    """The progression that a seed or a stored version describes.

    ``where`` names the file. Raises ``SeedError`` naming file and key for anything missing,
    unknown or contradictory.
    """
    fields = Fields(mapping=mapping, where=where)
    named = named_from(fields)
    progression = Progression(
        code=fields.code("code"),
        version=fields.integer("version", at_least=1),
        label=fields.text("label"),
        aim=fields.text("aim"),
        levels=tuple(
            _level(part, catalogue, named) for part in fields.parts("levels", needed=True)
        ),
        sources=sources_of(fields, named),
        waived_for=some_of(fields, "waived_for", KINDS),
        weeks_later=weeks_of(fields, "weeks_later", above=0),
        last_by_goal=fields.table("last_by_goal"),
        advice=requirements_from(fields, "advice", catalogue, named),
        hip_work=fields.text("hip_work", default=""),
    )
    fields.done()
    check_progression(progression, fields)
    return progression


def _level(fields: Fields, catalogue: Catalogue, named: Named) -> Level:
    earliest = fields.integer("earliest_week")
    steps = _steps(fields.part("steps"), catalogue) if "steps" in fields else None
    level = Level(
        code=fields.code("code"),
        label=fields.text("label"),
        exercise=fields.text("exercise"),
        how=fields.text("how"),
        why=fields.text("why"),
        feel=fields.text("feel"),
        stop=fields.text("stop"),
        dose=_dose(fields.part("dose")),
        nature=frozenset(Nature(code) for code in some_of(fields, "nature", NATURES)),
        earliest_week=earliest,
        minimum_days=fields.integer("minimum_days"),
        sources=sources_of(fields, named),
        steps=steps,
        later=weeks_of(fields, "later", above=earliest),
        enter=requirements_from(fields, "enter", catalogue, named),
        advance=requirements_from(fields, "advance", catalogue, named),
        step_back=requirements_from(fields, "step_back", catalogue, named),
        alike=some_of(fields, "alike", _graded_by_limb(catalogue)),
        look_for=fields.texts("look_for"),
        cautions=tuple(_caution(part, named) for part in fields.parts("cautions")),
        blocked_by=some_of(fields, "blocked_by", RESTRICTIONS),
    )
    fields.done()
    if not level.nature:
        raise fields.refuse("nature", "is missing")
    if not (level.advance or level.look_for):
        raise fields.refuse("advance", "is missing: say what is seen or measured before more")
    return level


def _graded_by_limb(catalogue: Catalogue) -> tuple[str, ...]:
    return tuple(code for code, one in catalogue.items() if one.grades and one.per_limb)


def _dose(fields: Fields) -> Dose:
    dose = Dose(
        sets=_span(fields, "sets"),
        days_a_week=_span(fields, "days_a_week"),
        reps=_span(fields, "reps") if "reps" in fields else None,
        hold_s=_span(fields, "hold_s") if "hold_s" in fields else None,
        effort=fields.text("effort", default=""),
    )
    fields.done()
    if (dose.reps is None) == (dose.hold_s is None):
        raise fields.refuse("reps", "give either repetitions or a hold in seconds")
    if dose.days_a_week.most > 7:
        raise fields.refuse("days_a_week", "a week has seven days")
    return dose


def _span(fields: Fields, key: str) -> Span:
    found = fields.decimals(key)
    whole = [int(one) for one in found if one == one.to_integral_value()]
    if len(found) != 2 or len(whole) != 2 or not 0 < whole[0] <= whole[1]:
        raise fields.refuse(key, "must be two whole numbers, the lower first")
    return Span(least=whole[0], most=whole[1])


def _steps(fields: Fields, catalogue: Catalogue) -> Steps:
    steps = Steps(
        variable=fields.one_of("variable", Variable),
        first=fields.decimal("first"),
        last=fields.decimal("last"),
        by=fields.decimal("by"),
        measure=fields.text("measure", default=""),
        condition=fields.text("condition", default=""),
    )
    fields.done()
    check_steps(steps, fields, catalogue)
    return steps


def _caution(fields: Fields, named: Named) -> GraftCaution:
    caution = GraftCaution(
        grafts=some_of(fields, "grafts", GRAFTS),
        text=fields.text("text"),
        sources=sources_of(fields, named),
        before_week=fields.integer_or_none("before_week", at_least=1),
    )
    fields.done()
    if not caution.grafts:
        raise fields.refuse("grafts", "is missing")
    return caution
