"""Where the parts of a questionnaire contradict each other, refused by file and key."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Final

from outcomes.catalogue.fields import Fields
from outcomes.core.instruments import (
    CHANGES,
    EACH_ITEM,
    ERRORS,
    Direction,
    Instrument,
    Item,
    Layout,
    ScoreForm,
    ScoreRule,
    ScoreThreshold,
    ThresholdKind,
    TwoMarks,
)
from outcomes.core.values import Mark, Operator

UPWARD: Final = (Operator.AT_LEAST, Operator.GREATER)
SHARES: Final = (ScoreRule.SHARE, ScoreRule.INVERTED_SHARE)
SEXES: Final = ("", "female", "male")


def check_instrument(*, instrument: Instrument, fields: Fields) -> None:
    """Raise ``SeedError`` for the first contradiction. ``fields`` names the file."""
    _check_items(instrument, fields)
    for form in instrument.scores:
        _check_score(instrument, form, fields)
    for layout in instrument.layouts:
        _check_layout(instrument, layout, fields)
    for threshold in instrument.thresholds:
        _check_threshold(instrument, threshold, fields)
    _check_defaults(instrument, fields)
    _check_switch(instrument, fields)


def _check_items(instrument: Instrument, fields: Fields) -> None:
    if len(instrument.by_code) != len(instrument.items):
        raise fields.refuse("items", "names one twice")
    for key, codes in (
        ("scores", [form.code for form in instrument.scores]),
        ("layouts", [layout.code for layout in instrument.layouts]),
    ):
        if len(set(codes)) != len(codes):
            raise fields.refuse(key, "names one twice")


def _check_score(instrument: Instrument, form: ScoreForm, fields: Fields) -> None:
    key = f"scores.{form.code}"
    if set(form.items) - set(instrument.by_code):
        raise fields.refuse(key, "names an item that there is not")
    of_scores = form.rule is ScoreRule.MEAN_OF_SCORES
    if of_scores == bool(form.items) or of_scores != bool(form.parts):
        raise fields.refuse(key, "has parts where it averages scores, and items otherwise")
    if form.needed > len(form.items or form.parts):
        raise fields.refuse(key, "needs more answers than there are")
    if form.rule in (ScoreRule.SUM, ScoreRule.TABLE) and form.needed != len(form.items):
        raise fields.refuse(key, "a sum needs every answer")
    if (form.rule is ScoreRule.TABLE) != bool(form.table):
        raise fields.refuse(key, "has a table with the rule table and with no other")
    if of_scores:
        _check_parts(instrument, form, fields)
    else:
        items = [instrument.by_code[code] for code in form.items]
        if form.table:
            _check_table(form, items, fields)
        if (form.lowest, form.highest) != _reach(form, items, fields):
            raise fields.refuse(key, "the range is not what rule and answers give")


def _check_parts(instrument: Instrument, form: ScoreForm, fields: Fields) -> None:
    key = f"scores.{form.code}"
    codes = [one.code for one in instrument.scores]
    before = instrument.scores[: codes.index(form.code)]
    parts = [one for one in before if one.code in form.parts]
    if len(parts) != len(form.parts):
        raise fields.refuse(key, "averages scores that come before it")
    if any((p.lowest, p.highest, p.direction) != _frame(form) for p in parts):
        raise fields.refuse(key, "averages scores of its own range and direction")


def _frame(form: ScoreForm) -> tuple[Decimal, Decimal, Direction]:
    return form.lowest, form.highest, form.direction


def _check_table(form: ScoreForm, items: Sequence[Item], fields: Fields) -> None:
    sums = sum(item.highest for item in items) + 1
    whole = all(answer == int(answer) for item in items for answer in item.answers)
    if len(form.table) != sums or any(item.lowest for item in items) or not whole:
        raise fields.refuse(f"scores.{form.code}", "the table has one score for each sum from 0")
    if list(form.table) != sorted(set(form.table)):
        raise fields.refuse(f"scores.{form.code}", "the table rises with the sum")


def _reach(form: ScoreForm, items: Sequence[Item], fields: Fields) -> tuple[Decimal, Decimal]:
    """The lowest and highest score that the answers can give."""
    low, high = sum(item.lowest for item in items), sum(item.highest for item in items)
    if form.rule in SHARES:
        if any(item.lowest for item in items):
            raise fields.refuse(f"scores.{form.code}", "a share is of items that start at 0")
        return Decimal(0), Decimal(100)
    if form.rule is ScoreRule.TABLE:
        return form.table[0], form.table[-1]
    if form.rule is ScoreRule.MEAN:
        if len({(item.lowest, item.highest) for item in items}) != 1:
            raise fields.refuse(f"scores.{form.code}", "a mean is of items with the same answers")
        return items[0].lowest, items[0].highest
    return Decimal(low), Decimal(high)


def _check_layout(instrument: Instrument, layout: Layout, fields: Fields) -> None:
    key = f"layouts.{layout.code}"
    changes = bool(layout.answers or layout.reversed or layout.turned) or layout.factor != 1
    if changes and layout is instrument.layouts[0]:
        raise fields.refuse(key, "the first layout counts as marked")
    if set(layout.reversed) - set(instrument.by_code):
        raise fields.refuse(key, "reverses an item that there is not")
    if set(layout.turned) - {form.code for form in instrument.scores}:
        raise fields.refuse(key, "turns a score that there is not")
    if set(layout.turned) & {threshold.score for threshold in instrument.thresholds}:
        raise fields.refuse(key, "turns a score that has thresholds")
    if layout.factor <= 0:
        raise fields.refuse(key, "the factor is above zero")
    for item in instrument.items:
        marked = [answer * layout.factor for answer in layout.answers or item.answers]
        if marked[0] != item.lowest or marked[-1] != item.highest:
            raise fields.refuse(key, f"does not cover the answers of item {item.code}")


def _check_threshold(instrument: Instrument, threshold: ScoreThreshold, fields: Fields) -> None:
    key = f"thresholds.{threshold.score}.{threshold.kind}"
    form = next((one for one in instrument.scores if one.code == threshold.score), None)
    if form is None:
        raise fields.refuse(key, "is of a score that there is not")
    if threshold.item not in ("", EACH_ITEM, *form.items):
        raise fields.refuse(key, "is of an item that the score has not")
    if threshold.kind in CHANGES:
        if threshold.operator not in UPWARD:
            raise fields.refuse(key, "a change is held against at least or more than a size")
    elif not threshold.item and not form.lowest <= threshold.value <= form.highest:
        raise fields.refuse(key, "lies outside the range of the score")
    if form.direction is Direction.LEVEL and threshold.kind not in ERRORS:
        raise fields.refuse(key, "a level of activity has no such threshold")
    if threshold.error_is_larger and threshold.kind is not ThresholdKind.MIC:
        raise fields.refuse(key, "error_is_larger is said of a MIC")
    if (threshold.kind is ThresholdKind.NORM) != (threshold.ages is not None):
        raise fields.refuse(key, "a norm, and nothing else, has published ages")
    if threshold.sex not in SEXES or (threshold.sex and threshold.ages is None):
        raise fields.refuse(key, "the sex of a norm is female or male")


def _check_defaults(instrument: Instrument, fields: Fields) -> None:
    """One value of a kind is in use, it is above zero, and of the errors one confidence is."""
    seen = set()
    for threshold in instrument.thresholds:
        if not threshold.default:
            continue
        kind = ThresholdKind.MDC if threshold.kind in ERRORS else threshold.kind
        slot = (threshold.score, threshold.item, kind)
        key = f"thresholds.{threshold.score}.{threshold.kind}"
        if slot in seen:
            raise fields.refuse(key, "two are in use by default")
        seen.add(slot)
        if threshold.kind in (ThresholdKind.CRITERION, ThresholdKind.NORM):
            raise fields.refuse(key, "a criterion or norm is chosen by the clinic, not by default")
        if threshold.value <= 0:
            raise fields.refuse(key, "a value in use is above zero")


def _check_switch(instrument: Instrument, fields: Fields) -> None:
    if instrument.on_by_default and instrument.mark is Mark.MEMORY:
        raise fields.refuse("on_by_default", "what is known from memory only ships off")
    scored = {code for form in instrument.scores for code in form.items}
    level = any(form.direction is Direction.LEVEL for form in instrument.scores)
    if instrument.two_marks is TwoMarks.WORSE and (level or set(instrument.by_code) - scored):
        raise fields.refuse("two_marks", "has no worse one where an item counts in no score")
