"""One questionnaire from one mapping, refused where it is incomplete or contradicts itself."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal
from importlib.resources import files
from typing import Any, Final

from outcomes.catalogue.fields import Fields, SeedError, source_from, sources_from
from outcomes.catalogue.instrument_checks import check_instrument
from outcomes.catalogue.seeds import read_seeds
from outcomes.core.instruments import (
    Audience,
    Direction,
    Instrument,
    Item,
    Layout,
    MissingRule,
    ScoreForm,
    ScoreRule,
    ScoreThreshold,
    ThresholdKind,
    TwoMarks,
)
from outcomes.core.values import Mark, Operator

LONGEST_RANGE: Final = 101
"""Answers that one item may have at most: 0 to 100."""


def instrument_from(mapping: Mapping[str, Any], *, where: str = "instrument") -> Instrument:
    """The questionnaire that a seed or a stored version describes.

    ``where`` names the file. Raises ``SeedError`` naming file and key for anything missing,
    unknown or contradictory.
    """
    fields = Fields(mapping=mapping, where=where)
    instrument = Instrument(
        code=fields.code("code"),
        version=fields.integer("version", at_least=1),
        label=fields.text("label"),
        short_label=fields.text("short_label"),
        family=fields.code("family"),
        form=fields.text("form"),
        per_knee=fields.truth("per_knee"),
        audience=fields.one_of("audience", Audience),
        on_by_default=fields.truth("on_by_default"),
        mark=fields.one_of("mark", Mark),
        two_marks=fields.one_of("two_marks", TwoMarks),
        items=tuple(i for part in fields.parts("items", needed=True) for i in _items(part)),
        scores=tuple(_score(part) for part in fields.parts("scores", needed=True)),
        layouts=tuple(_layout(part) for part in fields.parts("layouts", needed=True)),
        missing=_missing(fields.part("missing")),
        thresholds=tuple(t for part in fields.parts("thresholds") for t in _thresholds(part)),
        sources=sources_from(fields),
        how_to_key=fields.text("how_to_key"),
        how_to_read=fields.text("how_to_read"),
        not_for=fields.text("not_for"),
    )
    fields.done()
    check_instrument(instrument=instrument, fields=fields)
    return instrument


def instrument_seeds() -> Iterator[tuple[str, dict[str, Any]]]:
    """File name and mapping of every shipped questionnaire."""
    return read_seeds(folder=files("outcomes.catalogue") / "instruments")


def load_instruments() -> dict[str, Instrument]:
    """All shipped questionnaires by code. Raises ``SeedError`` naming file and key."""
    instruments: dict[str, Instrument] = {}
    for name, mapping in instrument_seeds():
        instrument = instrument_from(mapping, where=name)
        if name != f"{instrument.code}.toml":
            raise SeedError(f"{name}: code: the file is named after its code")
        instruments[instrument.code] = instrument
    return instruments


def _answers(fields: Fields, *, needed: bool) -> tuple[Decimal, ...]:
    """A list of ``answers``, or every whole number of a ``range``."""
    if "range" in fields and "answers" in fields:
        raise fields.refuse("range", "give either answers or a range")
    if "range" in fields:
        low, high = fields.limits("range")
        if low != int(low) or high != int(high) or high - low >= LONGEST_RANGE:
            raise fields.refuse("range", f"is of whole numbers, at most {LONGEST_RANGE} of them")
        return tuple(Decimal(number) for number in range(int(low), int(high) + 1))
    answers = fields.decimals("answers")
    if needed and len(answers) < 2:
        raise fields.refuse("answers", "needs two answers or more")
    if list(answers) != sorted(set(answers)):
        raise fields.refuse("answers", "go from the lowest to the highest, each once")
    return answers


def _items(fields: Fields) -> list[Item]:
    codes = fields.texts("codes")
    answers = _answers(fields, needed=True)
    fields.done()
    if not codes:
        raise fields.refuse("codes", "is missing")
    return [Item(code=code, answers=answers) for code in codes]


def _score(fields: Fields) -> ScoreForm:
    low, high = fields.limits("range")
    form = ScoreForm(
        code=fields.code("code"),
        label=fields.text("label"),
        rule=fields.one_of("rule", ScoreRule),
        direction=fields.one_of("direction", Direction),
        lowest=low,
        highest=high,
        needed=fields.integer("needed", at_least=1),
        items=fields.texts("items"),
        table=fields.decimals("table"),
        parts=fields.texts("parts"),
    )
    fields.done()
    return form


def _layout(fields: Fields) -> Layout:
    layout = Layout(
        code=fields.code("code"),
        label=fields.text("label"),
        answers=_answers(fields, needed=False),
        factor=fields.decimal_or_none("factor") or Decimal(1),
        reversed=fields.texts("reversed"),
        turned=fields.texts("turned"),
        source=source_from(fields.part("source")),
    )
    fields.done()
    return layout


def _missing(fields: Fields) -> MissingRule:
    rule = MissingRule(text=fields.text("text"), source=source_from(fields.part("source")))
    fields.done()
    return rule


def _thresholds(fields: Fields) -> list[ScoreThreshold]:
    """One threshold for each score of ``values``: they share everything else."""
    values = fields.numbers("values")
    shared: dict[str, Any] = {
        "kind": fields.one_of("kind", ThresholdKind),
        "operator": fields.one_of("operator", Operator),
        "population": fields.text("population"),
        "time_point": fields.text("time_point"),
        "source": source_from(fields.part("source")),
        "default": fields.truth("default", default=False),
        "item": fields.text("item", default=""),
        "error_is_larger": fields.truth("error_is_larger", default=False),
        "ages": _ages(fields),
        "sex": fields.text("sex", default=""),
        "note": fields.text("note", default=""),
    }
    fields.done()
    return [ScoreThreshold(score=score, value=value, **shared) for score, value in values.items()]


def _ages(fields: Fields) -> tuple[int, int] | None:
    if "ages" not in fields:
        return None
    low, high = fields.limits("ages")
    if low != int(low) or high != int(high):
        raise fields.refuse("ages", "are whole years")
    return int(low), int(high)
