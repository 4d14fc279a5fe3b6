"""What a score says: whether a change is real, whether it matters, and the state it shows.

In this order: measurement error (MDC), important change (MIC, and SCB where it is reached),
acceptable state (PASS). A missing score or an unknown error is never filled with words.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from clinic import words
from outcomes.core.compare import holds
from outcomes.core.instruments import (
    ERRORS,
    Direction,
    Instrument,
    ScoreForm,
    ScoreThreshold,
    ThresholdKind,
)
from outcomes.core.quantities import plain, shown
from outcomes.core.questionnaires import Compared
from outcomes.core.values import Operator
from outcomes.core.wording import Cuts, cut_words
from outcomes.queries.opened import MARK
from outcomes.queries.result_words import OPERATOR

KIND: Final[Mapping[ThresholdKind, str]] = {
    ThresholdKind.MDC95: "MDC95",
    ThresholdKind.MDC90: "MDC90",
    ThresholdKind.MDC: "MDC, confidence not stated",
    ThresholdKind.MIC: "MIC",
    ThresholdKind.SCB: "SCB",
    ThresholdKind.PASS: "acceptable state (PASS)",
    ThresholdKind.CRITERION: "criterion",
    ThresholdKind.NORM: "norm",
}
BEFORE_INJURY: Final = "before_injury"
"""The item in which a questionnaire asks for the level before the injury."""


@dataclass(frozen=True, kw_only=True, slots=True)
class InUse:
    """The thresholds that one score is held against; None where none is in use."""

    error: ScoreThreshold | None
    important: ScoreThreshold | None
    substantial: ScoreThreshold | None
    state: ScoreThreshold | None

    def all(self) -> list[ScoreThreshold]:
        """Those there are, in the order in which they are told."""
        four = (self.error, self.important, self.substantial, self.state)
        return [one for one in four if one is not None]


def in_use_of(*, instrument: Instrument, score: str) -> InUse:
    """The thresholds of a score that are in use by default; those of single items are not."""
    found = {
        "error" if one.kind in ERRORS else one.kind.value: one
        for one in instrument.thresholds
        if one.default and one.score == score and not one.item
    }
    return InUse(
        error=found.get("error"),
        important=found.get(ThresholdKind.MIC),
        substantial=found.get(ThresholdKind.SCB),
        state=found.get(ThresholdKind.PASS),
    )


def score_words(*, form: ScoreForm, value: Fraction, state: ScoreThreshold | None = None) -> str:
    """A score as it is shown, to one decimal, never rounded over the acceptable state or an end."""
    ends: Cuts = [(form.highest, Operator.AT_LEAST), (form.lowest, Operator.GREATER)]
    cuts = [(state.value, state.operator), *ends] if state else ends
    return _short(cut_words(value=value, decimals=1, cuts=cuts))


def _short(text: str) -> str:
    return text.removesuffix(".0")


def change_words(*, before: Fraction, after: Fraction, uses: InUse) -> str:
    """The size and way of a change: "up 12.3", "down 4", "the same"."""
    size = abs(after - before)
    if not size:
        return "the same"
    cuts = [(one.value, one.operator) for one in (uses.error, uses.important) if one]
    way = "up" if after > before else "down"
    return f"{way} {_short(cut_words(value=size, decimals=1, cuts=cuts))}"


def change_says(
    *, form: ScoreForm, direction: Direction, before: Fraction, after: Fraction, uses: InUse
) -> list[str]:
    """What a change is called: real or not, important or not, in that order.

    Important changes are published for gains, so a loss is called real or not and no more: it is
    never "less than important".
    """
    gain = before - after if direction is Direction.LOWER else after - before
    real = _holds(uses.error, abs(gain))
    worse = gain < 0 and direction is not Direction.LEVEL
    said = [_real(uses.error, real, worse=worse)]
    if uses.important is None or gain < 0:
        return said
    if not _holds(uses.important, gain):
        lower = direction is Direction.LOWER
        room = before - Fraction(form.lowest) if lower else Fraction(form.highest) - before
        end = "" if _holds(uses.important, room) else "floor" if lower else "ceiling"
        return [*said, _not_important(uses.important, end=end)]
    if real is False or (real is None and uses.important.error_is_larger):
        return [_possibly(uses.important, uses.error)]
    if _holds(uses.substantial, gain):
        return [*said, f"substantial ({_held(uses.substantial)})"]
    return [*said, f"important ({_held(uses.important)})"]


def left_out_says(*, found: Compared) -> list[str]:
    """What a comparison over the items rated both times leaves out; nothing where it is whole."""
    if not found.left_out:
        return []
    one = len(found.left_out) == 1
    items = words.listed(list(found.left_out))
    return [f"{'item' if one else 'items'} {items} rated once and left out"]


def state_says(*, value: Fraction, uses: InUse) -> str:
    """Whether a score is at the acceptable state; empty where no value is in use."""
    if uses.state is None:
        return ""
    met = _holds(uses.state, value)
    asked = asked_words(threshold=uses.state)
    return f"{'at' if met else 'not at'} the acceptable state (PASS, {asked})"


def _holds(threshold: ScoreThreshold | None, value: Fraction) -> bool | None:
    if threshold is None:
        return None
    return holds(value=value, operator=threshold.operator, threshold=threshold.value)


def _real(error: ScoreThreshold | None, real: bool | None, *, worse: bool) -> str:
    if error is None:
        return "error not known: no word on whether it is real"
    if not real:
        return f"no real change ({_held(error)})"
    return f"a real change{' for the worse' if worse else ''} ({_held(error)})"


def _possibly(important: ScoreThreshold, error: ScoreThreshold | None) -> str:
    """An important size that one person's error exceeds, or may exceed where it is not known."""
    if error is None:
        return (
            f"possibly important ({_held(important)}): one person's error is larger, its size is "
            "not known, so no word on whether it is real"
        )
    return f"possibly important, no real change ({_held(important)}, under {_held(error)})"


def _not_important(important: ScoreThreshold, *, end: str) -> str:
    if end:
        return f"an important change is not reachable ({end}; {_held(important)})"
    return f"less than an important change ({_held(important)})"


def _held(threshold: ScoreThreshold | None) -> str:
    return f"{_name(threshold)} {plain(value=threshold.value)}" if threshold else ""


def _name(threshold: ScoreThreshold) -> str:
    """The kind in a word; what is not stated of it stands in the opened panel."""
    return KIND[threshold.kind].partition(",")[0]


def asked_words(*, threshold: ScoreThreshold) -> str:
    """What a threshold asks for: "at least 75.9"."""
    return f"{OPERATOR[threshold.operator]} {plain(value=threshold.value)}"


def level_says(*, value: Fraction, before_injury: Fraction | None) -> str:
    """A level of activity against the one before the injury: levels, never a share."""
    if before_injury is None:
        return "level before the injury not keyed"
    apart = int(before_injury - value)
    was = shown(value=before_injury, decimals=0)
    if not apart:
        return f"as before the injury ({was})"
    return f"{abs(apart)} {'below' if apart > 0 else 'above'} before the injury ({was})"


def mark_words(*, instrument: Instrument, uses: InUse) -> str:
    """How well the scoring and each value in use is supported, in one line."""
    said = {"scoring": MARK[instrument.mark]}
    said |= {_name(one): MARK[one.source.mark] for one in uses.all()}
    by_mark: dict[str, list[str]] = {}
    for what, mark in said.items():
        by_mark.setdefault(mark, []).append(what)
    line = "; ".join(f"{words.listed(whats)} {mark}" for mark, whats in by_mark.items())
    return line[:1].upper() + line[1:]


def others_published(
    *, instrument: Instrument, score: str, uses: InUse, age: int, sex: str
) -> Sequence[ScoreThreshold]:
    """What else is published for a score; a norm only inside its ages and sex."""
    return [
        one
        for one in instrument.thresholds
        if one.score == score and one not in uses.all() and _fits(one, age=age, sex=sex)
    ]


def _fits(threshold: ScoreThreshold, *, age: int, sex: str) -> bool:
    if threshold.ages is None:
        return True
    low, high = threshold.ages
    return low <= age <= high and threshold.sex in ("", sex)
