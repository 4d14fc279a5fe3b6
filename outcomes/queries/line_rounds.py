"""Rounds of the line-reading warm-up: the page to grade, and how it was graded and drawn."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import asdict, dataclass
from decimal import Decimal
from typing import Any, Final

from clinic import words
from clinic.models.places import StaffMember
from outcomes.charts.line_figure import LineFigure
from outcomes.core.grades import PELVIS
from outcomes.core.line_figures import Figure
from outcomes.models.agreement import FigureSet, LineGrades, LineRound
from outcomes.queries.agreement_words import Agreed, agreed

FIGURE: Final = ("figure", "figures")


@dataclass(frozen=True, kw_only=True, slots=True)
class Place:
    """One figure on a page. ``says`` names the leg and the view, never the drop."""

    number: int
    says: str
    drawing: LineFigure


@dataclass(frozen=True, kw_only=True, slots=True)
class Graded:
    """One figure after it was graded, with the truth. ``apart``: how far off, or empty."""

    place: Place
    drop: str
    drawn: str
    given: str
    apart: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Result:
    """A finished round: every figure, and the agreement with what was drawn."""

    rows: Sequence[Graded]
    agreed: Agreed


@dataclass(frozen=True, kw_only=True, slots=True)
class OwnRound:
    """One of a person's rounds, newest first; without figures while it is unfinished."""

    row: LineRound
    number: int
    finished: str
    agreed: Agreed | None


def as_json(*, figures: Iterable[Figure]) -> list[dict[str, Any]]:
    """Figures as they are kept; the drop as its text."""
    return [asdict(one) | {"drop": str(one.drop)} for one in figures]


def figures_in(*, row: FigureSet) -> tuple[Figure, ...]:
    """The figures of a kept set, in its order."""
    return tuple(Figure(**{**one, "drop": Decimal(one["drop"])}) for one in row.figures)


def places_of(*, row: LineRound) -> list[Place]:
    """The figures in the order of this round's page."""
    made = figures_in(row=row.figure_set)
    return [_place(number, made[at]) for number, at in enumerate(row.order, start=1)]


def given_in(*, row: LineRound) -> LineGrades | None:
    """The grades of a round, None while it is unfinished."""
    return LineGrades.objects.filter(round=row).first()


def result_of(*, row: LineRound, given: LineGrades) -> Result:
    """A finished round, figure by figure in the order of its page."""
    made = figures_in(row=row.figure_set)
    return Result(
        rows=[
            _graded(_place(number, made[at]), made[at], given.grades[at])
            for number, at in enumerate(row.order, start=1)
        ],
        agreed=with_truth(rounds=[given]),
    )


def own_rounds(*, staff_id: int, zone: str) -> list[OwnRound]:
    """Everything that a person began to grade, newest first. One statement."""
    rows = LineRound.objects.filter(staff_id=staff_id).select_related("figure_set", "given")
    return [_own(row, zone) for row in rows.order_by("-started_at", "-id")]


def finished_by(*, sites: Collection[int]) -> list[LineGrades]:
    """Finished rounds of those who work at these sites, by name. One statement."""
    people = StaffMember.objects.filter(memberships__site__in=sites, memberships__ended_on=None)
    found = LineGrades.objects.filter(round__staff__in=people)
    rows = found.select_related("round__figure_set", "round__staff")
    return list(rows.order_by("round__staff__full_name", "round__staff_id", "id"))


def ranks(*, given: LineGrades) -> list[int]:
    """The ranks of a finished round, in the order of its set."""
    return [PELVIS.index(word) for word in given.grades]


def with_truth(*, rounds: Iterable[LineGrades]) -> Agreed:
    """What was graded against what was drawn, over some finished rounds."""
    pairs = [
        (PELVIS.index(one.grade), rank)
        for given in rounds
        for one, rank in zip(
            figures_in(row=given.round.figure_set), ranks(given=given), strict=True
        )
    ]
    return agreed(pairs=pairs, grades=PELVIS, first="drawn", second="graded", unit=FIGURE)


def _place(number: int, one: Figure) -> Place:
    seen = "from behind" if one.view == "behind" else "from the front"
    says = f"Standing on the {one.standing} leg, seen {seen}"
    drawing = LineFigure(
        drop=one.drop, standing=one.standing, view=one.view, lean=one.lean, build=one.build,
        title=f"Figure {number}. {says}",
    )  # fmt: skip
    return Place(number=number, says=says, drawing=drawing)


def _graded(place: Place, one: Figure, given: str) -> Graded:
    off = PELVIS.index(given) - PELVIS.index(one.grade)
    way = "too much" if off > 0 else "too little"
    apart = f"{words.several(abs(off), 'grade')} {way}" if off else ""
    return Graded(place=place, drop=f"{one.drop:.1f}°", drawn=one.grade, given=given, apart=apart)


def _own(row: LineRound, zone: str) -> OwnRound:
    given: LineGrades | None = getattr(row, "given", None)
    if given is not None:
        given.round = row
    return OwnRound(
        row=row,
        number=row.figure_set.number,
        finished=words.moment(given.finished_at, zone=zone) if given else "",
        agreed=with_truth(rounds=[given]) if given else None,
    )
