"""Answers of a questionnaire to scores: exact, refused where an item does not take an answer.

What is marked on a form becomes what counts (``counted``), and what counts becomes scores
(``score_counted``); ``score`` does both. A missing answer is None and never 0; a score that too few
answers carry is None with the reason, never a guess.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from outcomes.core.instruments import (
    Direction,
    Instrument,
    Item,
    Layout,
    ScoreForm,
    ScoreRule,
    TwoMarks,
)
from outcomes.core.quantities import plain


class AnswerError(ValueError):
    """An answer that cannot be taken. ``item`` names it; the text says what to send instead."""

    def __init__(self, *, item: str, message: str) -> None:
        super().__init__(message)
        self.item = item
        self.message = message


@dataclass(frozen=True, kw_only=True, slots=True)
class ScoreResult:
    """A score, exact, and how many of its items were answered; None with the reason otherwise."""

    value: Fraction | None
    answered: int
    reason: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Compared:
    """A score of two forms as it may be compared, and the items rated on one of them only."""

    before: Fraction | None
    after: Fraction | None
    left_out: tuple[str, ...] = ()


def score(
    *, instrument: Instrument, answers: Mapping[str, Decimal | None], layout: str = ""
) -> dict[str, ScoreResult]:
    """Every score of a form as it was marked, by code. Items left out were not answered.

    ``layout`` is the code of the printed form (empty: the one that counts as marked). Raises
    ``AnswerError`` for an unknown item or layout, and for an answer that the item does not take:
    nothing is ever clamped. Sources: those of the questionnaire (``Instrument.sources``).

    >>> from outcomes.catalogue.instruments import load_instruments
    >>> given = zip(("P1", "P2", "P3", "P4", "P5"), map(Decimal, (1, 2, 0, 1, 2)))
    >>> found = score(instrument=load_instruments()["koos"], answers=dict(given))
    >>> found["pain"].value, found["sport"].value, found["sport"].reason
    (Fraction(70, 1), None, '0 of 5 answered, at least 3 are needed')
    """
    counts = counted(instrument=instrument, answers=answers, layout=layout)
    return score_counted(instrument=instrument, answers=counts, layout=layout)


def counted(
    *, instrument: Instrument, answers: Mapping[str, Decimal | None], layout: str = ""
) -> dict[str, Decimal | None]:
    """What is marked on a form of that layout, as it counts: every item, None where left open.

    Raises ``AnswerError`` as ``score`` does.

    >>> from outcomes.catalogue.instruments import load_instruments
    >>> ikdc = load_instruments()["ikdc"]
    >>> counted(instrument=ikdc, answers={"2": Decimal(3)}, layout="zero_best")["2"]
    Decimal('7')
    """
    form = _layout(instrument=instrument, layout=layout)
    for code in answers:
        if code not in instrument.by_code:
            raise AnswerError(item=str(code)[:20], message=_unknown(instrument=instrument))
    found: dict[str, Decimal | None] = dict.fromkeys(instrument.by_code)
    for code, value in answers.items():
        if value is not None:
            item = instrument.by_code[code]
            found[code] = _as_it_counts(instrument=instrument, item=item, value=value, form=form)
    return found


def score_counted(
    *, instrument: Instrument, answers: Mapping[str, Decimal | None], layout: str = ""
) -> dict[str, ScoreResult]:
    """Every score of answers as they count (``counted``): the form in which they are kept.

    ``layout`` matters only where it turns a score (``Layout.turned``). Raises ``AnswerError`` for
    an unknown layout.
    """
    turned = _layout(instrument=instrument, layout=layout).turned
    found: dict[str, ScoreResult] = {}
    for form in instrument.scores:
        if form.rule is ScoreRule.MEAN_OF_SCORES:
            result = _mean_of_scores(form=form, found=found)
        else:
            result = _of_items(instrument=instrument, form=form, answers=answers)
        found[form.code] = _turned(form=form, result=result) if form.code in turned else result
    return found


def compare_forms(
    *,
    instrument: Instrument,
    score: str,
    before: Mapping[str, Decimal | None],
    after: Mapping[str, Decimal | None],
    layout: str = "",
) -> Compared:
    """One score of two forms of the same line, as it may be compared. Answers are as they count.

    Where the person chooses the items (a mean that takes any number of them) only items rated both
    times count, as the printed form of such a scale asks (Stratford 1995); every other score is
    compared as it stands. Raises ``KeyError`` for an unknown score.

    >>> from outcomes.catalogue.instruments import load_instruments
    >>> first = {"1": Decimal(3), "2": Decimal(5), "3": Decimal(4)}
    >>> again = {"1": Decimal(6), "2": Decimal(7), "4": Decimal(0)}
    >>> compare_forms(
    ...     instrument=load_instruments()["psfs"], score="total", before=first, after=again
    ... )
    Compared(before=Fraction(4, 1), after=Fraction(13, 2), left_out=('3', '4'))
    """
    form = instrument.score(code=score)
    left_out: tuple[str, ...] = ()
    if form.rule is ScoreRule.MEAN and form.needed < len(form.items):
        given = (
            {code for code in form.items if side.get(code) is not None} for side in (before, after)
        )
        once = set.symmetric_difference(*given)
        left_out = tuple(code for code in form.items if code in once)
    was, now = (
        score_counted(
            instrument=instrument,
            answers={code: value for code, value in side.items() if code not in left_out},
            layout=layout,
        )[score].value
        for side in (before, after)
    )
    return Compared(before=was, after=now, left_out=left_out)


def settle_two_marks(
    *, instrument: Instrument, item: str, marks: Sequence[Decimal], layout: str = ""
) -> Decimal:
    """Which of several marks on one item counts, as it was marked: the more severe one.

    Raises ``AnswerError`` where no rule is published for the form, and as ``score`` does.

    >>> from outcomes.catalogue.instruments import load_instruments
    >>> koos = load_instruments()["koos"]
    >>> settle_two_marks(instrument=koos, item="Q1", marks=[Decimal(1), Decimal(3)])
    Decimal('3')
    """
    counts = {
        counted(instrument=instrument, answers={item: mark}, layout=layout)[item]: mark
        for mark in marks
    }
    if instrument.two_marks is TwoMarks.ASK and len(counts) > 1:
        raise AnswerError(
            item=item,
            message=f"No rule is published for two marks on one item of {instrument.code}: "
            "ask which one counts, or send null.",
        )
    known = [count for count in counts if count is not None]
    worst = max if _is_higher_worse(instrument=instrument, item=item) else min
    return counts[worst(known)]


def _is_higher_worse(*, instrument: Instrument, item: str) -> bool:
    form = next(form for form in instrument.scores if item in form.items)
    return (form.direction is Direction.LOWER) != (form.rule is ScoreRule.INVERTED_SHARE)


def _layout(*, instrument: Instrument, layout: str) -> Layout:
    try:
        return instrument.layout(code=layout)
    except KeyError:
        known = ", ".join(one.code for one in instrument.layouts)
        message = f"The layout of {instrument.code} is one of {known}: send one of these, or none."
        raise AnswerError(item="", message=message) from None


def _unknown(*, instrument: Instrument) -> str:
    codes = ", ".join(item.code for item in instrument.items)
    return f"The items of {instrument.code} are {codes}: send these and no others."


def _as_it_counts(*, instrument: Instrument, item: Item, value: object, form: Layout) -> Decimal:
    """What a mark counts. One that is no number, a text or a truth value, is refused too."""
    takes = form.answers or item.answers
    if not isinstance(value, Decimal) or not value.is_finite() or value not in takes:
        what = answers_in_words(answers=takes)
        raise AnswerError(
            item=item.code,
            message=f"Item {item.code} of {instrument.code} takes {what}: "
            "send one of these as a number, or null where it was left open.",
        )
    if form.factor != 1:
        value *= form.factor
    return item.lowest + item.highest - value if item.code in form.reversed else value


def answers_in_words(*, answers: Sequence[Decimal]) -> str:
    """The answers that an item takes, for a sentence.

    >>> answers_in_words(answers=[Decimal(0), Decimal(2), Decimal(5)])
    '0, 2 or 5'
    >>> answers_in_words(answers=[Decimal(number) for number in range(101)])
    'whole numbers from 0 to 100'
    """
    texts = [plain(value=answer) for answer in answers]
    if len(texts) > 12:
        return f"whole numbers from {texts[0]} to {texts[-1]}"
    return f"{', '.join(texts[:-1])} or {texts[-1]}"


def _of_items(
    *, instrument: Instrument, form: ScoreForm, answers: Mapping[str, Decimal | None]
) -> ScoreResult:
    given = {code: got for code in form.items if (got := answers.get(code)) is not None}
    if len(given) < form.needed:
        return _too_few(answered=len(given), of=len(form.items), needed=form.needed)
    total = Fraction(sum(given.values()))
    most = (instrument.by_code[code].highest for code in given)
    value = _by_rule(form=form, total=total, answered=len(given), most=most)
    return ScoreResult(value=value, answered=len(given))


def _by_rule(
    *, form: ScoreForm, total: Fraction, answered: int, most: Iterable[Decimal]
) -> Fraction:
    match form.rule:
        case ScoreRule.MEAN:
            return total / answered
        case ScoreRule.SHARE:
            return 100 * total / Fraction(sum(most))
        case ScoreRule.INVERTED_SHARE:
            return 100 - 100 * total / Fraction(sum(most))
        case ScoreRule.TABLE:
            return Fraction(form.table[int(total)])
        case _:
            return total


def _mean_of_scores(*, form: ScoreForm, found: Mapping[str, ScoreResult]) -> ScoreResult:
    parts = {code: found[code] for code in form.parts}
    answered = sum(part.answered for part in parts.values())
    values = [part.value for part in parts.values() if part.value is not None]
    if len(values) < form.needed:
        lacking = ", ".join(code for code, part in parts.items() if part.value is None)
        reason = f"needs {', '.join(form.parts)}; not formed: {lacking}"
        return ScoreResult(value=None, answered=answered, reason=reason)
    return ScoreResult(value=sum(values, Fraction(0)) / len(values), answered=answered)


def _turned(*, form: ScoreForm, result: ScoreResult) -> ScoreResult:
    if result.value is None:
        return result
    value = Fraction(form.lowest + form.highest) - result.value
    return ScoreResult(value=value, answered=result.answered)


def _too_few(*, answered: int, of: int, needed: int) -> ScoreResult:
    wanted = "all are needed" if needed == of else f"at least {needed} are needed"
    if of == 1:
        return ScoreResult(value=None, answered=0, reason="not answered")
    return ScoreResult(
        value=None, answered=answered, reason=f"{answered} of {of} answered, {wanted}"
    )
