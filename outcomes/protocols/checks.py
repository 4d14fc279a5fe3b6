"""Whether form, unit and number of a criterion go with what it judges."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Final

from outcomes.catalogue.fields import Fields
from outcomes.core.instruments import ScoreForm
from outcomes.core.values import Criterion, Form, Measure, Relative, SymmetryForm

RATIOS: Final = (SymmetryForm.RATIO, SymmetryForm.INVERTED_RATIO)
HIGHEST_INDEX: Final = Decimal(150)
HIGHEST_RELATIVE: Final = Decimal(400)
"""Per cent of body weight, height or leg length: no jump of a person goes so far."""
PERCENTILE: Final = "{percentile}"
UNITS: Final[Mapping[Form, str]] = {
    Form.SYMMETRY: "%",
    Form.PRE_INJURY: "%",
    Form.PER_BODY_MASS: "N.m/kg",
    Form.PER_BODY_WEIGHT: "%",
    Form.PER_HEIGHT: "%",
    Form.PER_LEG_LENGTH: "%",
}
"""The unit of a form where it is not that of the measure."""


def check_measure(criterion: Criterion, measure: Measure, fields: Fields) -> None:
    """Refuse a form, unit, threshold or grade that does not go with the measure."""
    if not fits(form=criterion.form, measure=measure):
        raise fields.refuse("form", f"{criterion.form} does not go with {measure.code}")
    if criterion.unit != UNITS.get(criterion.form, measure.unit):
        raise fields.refuse(
            "threshold", f"the unit {criterion.unit!r} does not go with {criterion.form}"
        )
    low, high = _limits(form=criterion.form, measure=measure)
    _within(criterion, low, high, fields)
    if criterion.alike_to is not None and (
        criterion.form is not Form.GRADE or criterion.alike_to <= criterion.value
    ):
        raise fields.refuse("alike_to", "is a grade worse than the value")


def fits(*, form: Form, measure: Measure) -> bool:
    """Whether a measure can be looked at in this form."""
    return {
        Form.INVOLVED: not measure.grades,
        Form.GRADE: bool(measure.grades),
        Form.SYMMETRY: measure.symmetry in RATIOS,
        Form.PRE_INJURY: measure.symmetry in RATIOS,
        Form.SHORT_OF_OTHER: measure.symmetry is SymmetryForm.DIFFERENCE and not measure.grades,
        Form.PER_BODY_MASS: measure.relative is Relative.BODY_MASS,
        Form.PER_BODY_WEIGHT: measure.relative is Relative.BODY_WEIGHT,
        Form.PER_HEIGHT: measure.relative is Relative.HEIGHT,
        Form.PER_LEG_LENGTH: measure.relative is Relative.LEG_LENGTH,
        Form.CHANGE_SINCE_SURGERY: not measure.yes_or_no,
        Form.CHANGE_SINCE_LAST: not measure.yes_or_no,
    }.get(form, False)


def _limits(*, form: Form, measure: Measure) -> tuple[Decimal, Decimal]:
    low, high = measure.hard
    if form in (Form.SYMMETRY, Form.PRE_INJURY):
        return Decimal(1), HIGHEST_INDEX
    if form is Form.SHORT_OF_OTHER:
        return Decimal(0), high - low
    if form.is_change:
        return low - high, high - low
    if form in (Form.PER_BODY_WEIGHT, Form.PER_HEIGHT, Form.PER_LEG_LENGTH):
        return Decimal(1), HIGHEST_RELATIVE
    return low, high


def check_score(criterion: Criterion, score: ScoreForm | None, fields: Fields) -> None:
    """Refuse a score that no questionnaire has, and what does not go with it."""
    if score is None:
        raise fields.refuse("score", f"{criterion.measure!r} is no score of a questionnaire")
    form, low, high = criterion.form, score.lowest, score.highest
    if form is not Form.SCORE and form is not Form.PERCENTILE and not form.is_change:
        raise fields.refuse("form", f"{form} does not go with a score")
    unit = PERCENTILE if form is Form.PERCENTILE else "{score}"
    if criterion.unit != unit:
        raise fields.refuse("threshold", f"the unit {criterion.unit!r} does not go with {form}")
    if form is Form.PERCENTILE:
        if not 1 <= criterion.value <= 99:
            raise fields.refuse("threshold", f"{criterion.value} is outside 1 to 99")
        values = [band.value for band in criterion.bands]
        if any(not low <= value <= high for value in values):
            raise fields.refuse("bands", f"a value is outside {low} to {high}")
        return
    if form.is_change:
        low, high = low - high, high - low
    _within(criterion, low, high, fields)


def _within(criterion: Criterion, low: Decimal, high: Decimal, fields: Fields) -> None:
    values = (criterion.value, *criterion.value_by_sex.values(), *_banded(criterion))
    for value in values:
        if not low <= value <= high:
            raise fields.refuse("threshold", f"{value} is outside {low} to {high}")


def _banded(criterion: Criterion) -> tuple[Decimal, ...]:
    return tuple(band.value for band in criterion.bands)


def check_bands(criterion: Criterion, fields: Fields) -> None:
    """Refuse two ways to give a threshold by person."""
    if criterion.bands and criterion.value_by_sex:
        raise fields.refuse("bands", "give bands or value_by_sex, not both")
