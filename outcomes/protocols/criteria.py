"""One criterion from one table: what it judges, in which form, against which number, from where."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from functools import cache
from typing import Any, Final

from outcomes.catalogue.fields import Fields, sources_from
from outcomes.catalogue.instruments import load_instruments
from outcomes.core.events import BY_CODE, Side
from outcomes.core.instruments import Instrument, ScoreForm
from outcomes.core.quantities import TypedError
from outcomes.core.readings import comparison_key, conditions_of
from outcomes.core.values import (
    Band,
    Criterion,
    Form,
    Measure,
    Operator,
    Repeat,
    Subject,
)
from outcomes.protocols.checks import check_bands, check_measure, check_score

GRAFTS: Final = (
    "patellar_tendon", "hamstring", "quadriceps_tendon", "allograft", "other", "unknown",
)  # fmt: skip
SEXES: Final = ("female", "male")
EVENTS: Final = "{event}"
CRITERIA: Final = "{criterion}"


def criterion_from(
    fields: Fields, catalogue: Mapping[str, Measure], *, earlier: Mapping[str, Criterion]
) -> Criterion:
    """The criterion that a table describes. ``earlier`` are those before it, by code.

    It names one of ``measure``, ``score``, ``event`` or ``of`` (a group). Raises ``SeedError``
    naming the key for anything missing, unknown or contradictory.
    """
    if "score" in fields:
        found = _of_score(fields)
    elif "event" in fields:
        found = _of_event(fields)
    elif "of" in fields:
        found = _of_group(fields, earlier)
    else:
        found = _of_measure(fields, catalogue)
    fields.done()
    return found


def _common(fields: Fields) -> dict[str, Any]:
    """What every criterion has."""
    return {
        "code": fields.code("code"),
        "label": fields.text("label"),
        "hard": fields.truth("hard"),
        "sources": sources_from(fields),
        "earliest_week": fields.integer_or_none("earliest_week", at_least=1),
        "adults_only": fields.truth("adults_only", default=False),
    }


def _of_measure(fields: Fields, catalogue: Mapping[str, Measure]) -> Criterion:
    name = fields.code("measure")
    if name not in catalogue:
        raise fields.refuse("measure", f"{name!r} is not in the catalogue")
    measure, form = catalogue[name], fields.one_of("form", Form)
    graded = measure if measure.grades and not form.is_change else None
    threshold = fields.part("threshold")
    by_sex = fields.part("value_by_sex") if "value_by_sex" in fields else None
    criterion = Criterion(
        **_common(fields),
        measure=name,
        form=form,
        operator=threshold.one_of("operator", Operator),
        value=_value(threshold, "value", graded),
        unit=threshold.text("unit"),
        maximum_age_days=fields.integer("maximum_age_days", at_least=1),
        key=_key(fields, measure),
        alike_to=_value(fields, "alike_to", graded) if "alike_to" in fields else None,
        value_by_sex={sex: by_sex.decimal(sex) for sex in SEXES} if by_sex else {},
        bands=bands_from(fields, graded),
        repeat=_repeat(fields),
    )
    for part in (threshold, by_sex):
        if part is not None:
            part.done()
    check_measure(criterion, measure, fields)
    check_bands(criterion, fields)
    return criterion


def _of_score(fields: Fields) -> Criterion:
    code = fields.text("score")
    form, threshold = fields.one_of("form", Form), fields.part("threshold")
    criterion = Criterion(
        **_common(fields),
        measure=code,
        subject=Subject.SCORE,
        form=form,
        operator=threshold.one_of("operator", Operator),
        value=threshold.decimal("value"),
        unit=threshold.text("unit"),
        maximum_age_days=fields.integer("maximum_age_days", at_least=1),
        bands=bands_from(fields),
        repeat=_repeat(fields),
    )
    threshold.done()
    check_score(criterion, score_form(code=code), fields)
    check_bands(criterion, fields)
    return criterion


def score_form(*, code: str) -> ScoreForm | None:
    """The score of a shipped questionnaire by a code like ``koos.sport``, None for no such."""
    instrument, _, score = code.partition(".")
    found = _instruments().get(instrument)
    return next((one for one in found.scores if one.code == score), None) if found else None


@cache
def _instruments() -> Mapping[str, Instrument]:
    """The shipped questionnaires, read once."""
    return load_instruments()


def _of_event(fields: Fields) -> Criterion:
    kind = BY_CODE.get(fields.code("event"))
    if kind is None:
        raise fields.refuse("event", f"is none of {', '.join(BY_CODE)}")
    side = fields.one_of("side", Side, default=kind.sides[0])
    if side not in kind.sides:
        raise fields.refuse("side", f"{kind.code} is never on {side.value}")
    threshold = fields.part("threshold")
    criterion = Criterion(
        **_common(fields),
        measure=kind.code,
        subject=Subject.EVENT,
        form=Form.COUNT,
        operator=threshold.one_of("operator", Operator),
        value=Decimal(threshold.integer("value")),
        unit=threshold.text("unit"),
        maximum_age_days=0,
        side=side.value,
        since=_day(fields, "since"),
        within_days=fields.integer_or_none("within_days", at_least=1),
    )
    threshold.done()
    if criterion.unit != EVENTS:
        raise fields.refuse("threshold", f"the unit of events is {EVENTS!r}")
    if criterion.since is not None and criterion.within_days is not None:
        raise fields.refuse("since", "give a date or within_days, not both")
    return criterion


def _day(fields: Fields, key: str) -> date | None:
    if key not in fields:
        return None
    text = fields.text(key)
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise fields.refuse(key, f"{text!r} is not a date") from None


def _of_group(fields: Fields, earlier: Mapping[str, Criterion]) -> Criterion:
    members = fields.texts("of")
    if len(members) < 2:
        raise fields.refuse("of", "names at least two criteria")
    for code in members:
        if code not in earlier:
            raise fields.refuse("of", f"{code!r} does not stand before it")
        if earlier[code].hard:
            raise fields.refuse("of", f"{code!r} is hard: it counts through its group alone")
    needed = fields.text("needed")
    counts = {"all": len(members), "any": 1, **{str(n): n for n in range(1, len(members) + 1)}}
    if needed not in counts:
        raise fields.refuse("needed", f"{needed!r} is none of {', '.join(counts)}")
    return Criterion(
        **_common(fields),
        measure="",
        subject=Subject.GROUP,
        form=Form.COUNT,
        operator=Operator.AT_LEAST,
        value=Decimal(counts[needed]),
        unit=CRITERIA,
        maximum_age_days=0,
        of=members,
    )


def _value(fields: Fields, key: str, measure: Measure | None) -> Decimal:
    """A number, or the word of a grade: files carry words, ranks stay inside."""
    if measure is None:
        return fields.decimal(key)
    word = fields.text(key)
    if word not in measure.grades:
        raise fields.refuse(key, f"{word!r} is none of {', '.join(measure.grades)}")
    return measure.rank(word=word)


def _key(fields: Fields, measure: Measure) -> str:
    key = fields.text("key", default="")
    if key:
        try:
            made = comparison_key(measure=measure, conditions=conditions_of(key=key))
        except (TypedError, ValueError) as error:
            raise fields.refuse("key", str(error)) from error
        if made != key:
            raise fields.refuse("key", f"is written {made!r}")
    return key


def bands_from(fields: Fields, measure: Measure | None = None) -> tuple[Band, ...]:
    """Thresholds by sex, graft and age; ``measure`` is one whose grades they name by word."""
    return tuple(_band(part, measure) for part in fields.parts("bands"))


def _band(fields: Fields, measure: Measure | None) -> Band:
    band = Band(
        value=_value(fields, "value", measure),
        sex=fields.text("sex", default=""),
        graft=fields.text("graft", default=""),
        from_age=fields.integer_or_none("from_age", at_least=1),
        below_age=fields.integer_or_none("below_age", at_least=1),
    )
    fields.done()
    for key, code, known in (("sex", band.sex, SEXES), ("graft", band.graft, GRAFTS)):
        if code and code not in known:
            raise fields.refuse(key, f"{code!r} is none of {', '.join(known)}")
    if None not in (band.from_age, band.below_age) and not _ages_in_order(band):
        raise fields.refuse("from_age", "lies below below_age")
    return band


def _ages_in_order(band: Band) -> bool:
    return (band.from_age or 0) < (band.below_age or 0)


def _repeat(fields: Fields) -> Repeat | None:
    if "repeated" not in fields:
        return None
    part = fields.part("repeated")
    repeat = Repeat(
        apart_days=part.integer("apart_days", at_least=1),
        within_days=part.integer("within_days", at_least=1),
    )
    part.done()
    if repeat.within_days < repeat.apart_days:
        raise part.refuse("within_days", "is at least apart_days")
    return repeat
