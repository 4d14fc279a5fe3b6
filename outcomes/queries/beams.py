"""From a symmetry to its beam: one mapping for the ledger form, the patient page and letters."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Final

from outcomes.charts.beam import Beam
from outcomes.charts.marks import LimbMark
from outcomes.core.errors import margin
from outcomes.core.values import Better, EntryKind, Limb, Measure, Symmetry, SymmetryForm

FULL_TILT: Final = {"deg": Decimal(20), "cm": Decimal(10), "mm": Decimal(10)}
"""Side-to-side difference at which the beam is at full tilt, by unit (our own choice)."""


def marks_of(*, knees: frozenset[Limb]) -> tuple[LimbMark, LimbMark]:
    """The marks of the left and the right limb, given the knees that are followed."""
    if len(knees) == 2:
        return "both_operated", "both_operated"
    return (
        "involved" if Limb.LEFT in knees else "other",
        "involved" if Limb.RIGHT in knees else "other",
    )


def beam_of(*, measure: Measure, symmetry: Symmetry, involved: Limb, title: str) -> Beam:
    """The beam of one pair: it tips toward the limb that lags, with the error as a pale wedge.

    The wedge is 1.645 x SEM either way, the margin within which one value is borderline; without
    a published error there is none. ``title`` is the finding in words.
    """
    left, right = marks_of(knees=frozenset({involved}))
    error = None if symmetry.sem is None else margin(sem=symmetry.sem)
    if symmetry.form is not SymmetryForm.DIFFERENCE:
        index = Decimal(symmetry.value.numerator) / Decimal(symmetry.value.denominator)
        return Beam(left_mark=left, right_mark=right, lsi=index, error=error, title=title)
    full = _full_tilt(measure=measure)
    worse = _worse(measure=measure, symmetry=symmetry, involved=involved)
    toward_right = worse if involved is Limb.RIGHT else -worse
    tilt = max(Fraction(-1), min(Fraction(1), toward_right / Fraction(full)))
    return Beam(
        left_mark=left,
        right_mark=right,
        tilt=float(tilt),
        error=None if error is None else error / full,
        title=title,
    )


def _worse(*, measure: Measure, symmetry: Symmetry, involved: Limb) -> Fraction:
    """By how much the involved limb is the worse one; below zero it is the better."""
    if measure.better is Better.HIGHER:
        return -symmetry.value
    mine, other = symmetry.pair.of(limb=involved), symmetry.pair.of(limb=involved.opposite)
    values = [r.value for r in (mine, other) if r is not None and r.value is not None]
    if measure.better is Better.TOWARD_ZERO and len(values) == 2:
        return Fraction(abs(values[0])) - Fraction(abs(values[1]))
    return symmetry.value


def _full_tilt(*, measure: Measure) -> Decimal:
    if measure.entry is EntryKind.GRADE:
        return Decimal(len(measure.grades) - 1)
    return FULL_TILT.get(measure.unit, measure.soft[1] - measure.soft[0])
