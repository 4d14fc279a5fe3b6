"""Sets of figures for the line-reading warm-up: a known drop, a standing leg, a view."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from itertools import product
from random import Random
from typing import Final, Literal

from outcomes.core.grades import PELVIS, pelvis_grade

Side = Literal["left", "right"]
View = Literal["behind", "front"]

FIGURES: Final = 20
"""Figures of one set: each of two legs in each of two views five times."""
OF_EACH: Final = 3
"""How many figures of each grade a set has at least; the others may have any."""
TENTHS: Final = {"level": (0, 19), "slight": (20, 49), "moderate": (50, 100), "marked": (101, 150)}
"""Tenths of a degree from which a figure of a grade is drawn: up to 15 degrees."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Figure:
    """One drawn figure. ``drop`` in degrees toward the free side is the truth.

    ``lean`` is the trunk's in degrees toward the standing leg, ``build`` how broad the figure is
    in per cent: both are beside the question, as they are in a person.
    """

    drop: Decimal
    standing: Side
    view: View
    lean: int
    build: int

    @property
    def grade(self) -> str:
        """The grade word of the drawn drop, by the bands of this house."""
        return pelvis_grade(degrees=self.drop)


def figures(*, seed: int) -> tuple[Figure, ...]:
    """The twenty figures that a seed stands for, always the same ones.

    Three or more of each grade; each standing leg in each view five times.

    >>> made = figures(seed=1)
    >>> len(made), made == figures(seed=1), made == figures(seed=2)
    (20, True, False)
    """
    chance = Random(seed)  # noqa: S311  figures, not secrets
    grades = [*PELVIS * OF_EACH]
    grades += [chance.choice(PELVIS) for _ in range(FIGURES - len(grades))]
    sides: tuple[Side, Side] = ("left", "right")
    views: tuple[View, View] = ("behind", "front")
    places = [*product(sides, views)] * (FIGURES // 4)
    chance.shuffle(grades)
    chance.shuffle(places)
    return tuple(
        Figure(
            drop=Decimal(chance.randint(*TENTHS[grade])) / 10,
            standing=standing,
            view=view,
            lean=chance.randint(-4, 6),
            build=chance.randint(90, 112),
        )
        for grade, (standing, view) in zip(grades, places, strict=True)
    )
