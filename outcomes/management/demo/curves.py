"""Invented recovery curves for the demo: means by graft and week, straight lines between.

The values are invented and tuned to published shares (six months after surgery 35.7 % reach a
quadriceps index of 90, 67.9 % a single hop index of 90: Cristiani et al., PMC6800857). They feed
the demo only; nothing in the product is judged by them.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from random import Random

Curve = Sequence[tuple[float, float]]

QUADRICEPS: dict[str, Curve] = {
    "hamstring": ((-4, 79), (6, 60), (12, 70), (16, 76), (26, 86), (39, 91), (52, 95), (104, 96)),
    "patellar_tendon": (
        (-4, 78), (6, 48), (12, 57), (16, 63), (26, 73), (39, 81), (52, 87), (104, 92),
    ),
    "quadriceps_tendon": (
        (-4, 78), (6, 45), (12, 55), (16, 61), (26, 70), (39, 79), (52, 86), (104, 88),
    ),
    "allograft": ((-4, 79), (6, 64), (12, 74), (16, 80), (26, 88), (39, 92), (52, 94), (104, 95)),
    "none": ((0, 72), (6, 78), (12, 84), (26, 90), (52, 94)),
}  # fmt: skip
HOP: Curve = ((16, 82), (26, 94), (39, 96), (52, 97), (104, 97))
HIP_HOLD: Curve = ((6, 62), (10, 76), (16, 88), (26, 95), (52, 98))
FLEXION: Curve = ((-4, 138), (1, 88), (2, 103), (4, 117), (6, 126), (12, 136), (26, 140))
EXTENSION: Curve = ((-4, 0.6), (1, 5), (2, 3), (3, 1.8), (6, 0.6), (12, 0.2), (26, 0))
EFFUSION: Curve = ((-4, 0.8), (1, 2.6), (2, 2.2), (4, 1.8), (6, 1.4), (12, 0.7), (26, 0.2), (52, 0))
PAIN: Curve = ((-4, 2.5), (1, 5), (2, 4.5), (6, 2.8), (12, 1.8), (26, 1.1), (52, 0.6))
FRONT_PAIN: Curve = ((2, 2.4), (6, 2.2), (12, 1.8), (26, 1.0), (52, 0.5))
IKDC: Curve = ((-4, 52), (13, 61), (26, 75), (39, 83), (52, 86), (104, 88))
MIND: Curve = ((-4, 38), (13, 48), (26, 60), (39, 68), (52, 73), (104, 75))
"""Scores of the two questionnaires that are keyed by default: made up."""
DROP: Curve = ((8, 1.6), (12, 1.1), (16, 0.6), (22, 0.25), (52, 0))


def at(curve: Curve, week: float) -> float:
    """The curve's mean at a week; level before its first and after its last point."""
    weeks = [w for w, _ in curve]
    place = bisect_right(weeks, week)
    if place == 0 or place == len(curve):
        return curve[max(0, place - 1)][1]
    (w0, y0), (w1, y1) = curve[place - 1], curve[place]
    return y0 + (y1 - y0) * (week - w0) / (w1 - w0)


def whole(value: float, *, low: int, high: int) -> int:
    """A whole number within limits, as a person would write it down."""
    return max(low, min(high, round(value)))


def noise(rng: Random, spread: float) -> float:
    """Day-to-day noise, cut at two spreads so that no invented value is absurd."""
    return max(-2 * spread, min(2 * spread, rng.gauss(0, spread)))
