"""The page of agreement: with drawn figures, between clinicians, and on tests of real visits.

Everything for the lead, one's own for a clinician. In order of names: this is no ranking.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Final

from django.db.models import Q

from clinic.models.places import Site
from outcomes.core.agreement_sources import PUBLISHED
from outcomes.core.grades import PELVIS, is_pelvic_drop
from outcomes.core.values import Measure
from outcomes.models.agreement import Agreement, LineGrades
from outcomes.models.record import Reading
from outcomes.queries.agreement_words import Agreed, agreed
from outcomes.queries.line_rounds import FIGURE, finished_by, ranks, with_truth
from outcomes.queries.opened import source_lines
from outcomes.queries.second_grades import First, Key, firsts_of, twice

Person = tuple[str, int]
"""Name and id, so that people stand in the order of their names."""
Pairs = list[tuple[int, int]]
TEST: Final = ("test", "tests")
ALL: Final = "All together"


@dataclass(frozen=True, kw_only=True, slots=True)
class Line:
    """One line of a table: a clinician, a pair, or all together."""

    who: str
    agreed: Agreed


@dataclass(frozen=True, kw_only=True, slots=True)
class Group:
    """Second grades of one kind of test. ``left_out``: sentences about what does not count."""

    label: str
    lines: Sequence[Line]
    left_out: Sequence[str]


@dataclass(frozen=True, kw_only=True, slots=True)
class AgreementPage:
    """What the page shows. ``visit_ids`` are the visits whose grades it rests on."""

    truth: Sequence[Line]
    figures: Sequence[Line]
    visits: Sequence[Group]
    visit_ids: Sequence[int]


def published() -> Sequence[str]:
    """What was published on agreement by eye, each with how well that is supported."""
    return source_lines(sources=PUBLISHED)


def agreement_page(
    *, sites: Sequence[Site], measures: Mapping[str, Measure], only: int | None
) -> AgreementPage:
    """Everything of these sites, or with ``only`` what one person has a part in."""
    rounds = finished_by(sites=[site.pk for site in sites])
    grades = _second_grades(sites, only)
    codes = twice(measures=measures)
    firsts = firsts_of(visits={row.visit_id for row in grades}, codes=codes)
    return AgreementPage(
        truth=_truth([one for one in rounds if only in (None, one.round.staff_id)]),
        figures=_between(rounds, only),
        visits=[
            _group(label, kind, [row for row in grades if row.measure in kind], firsts, only)
            for label, kind in _kinds(codes)
        ],
        visit_ids=sorted({row.visit_id for row in grades}),
    )


def _second_grades(sites: Sequence[Site], only: int | None) -> list[Agreement]:
    """Second grades at these sites; of one person also those of what they graded first."""
    rows = Agreement.objects.filter(visit__site__in=sites).select_related("recorded_by")
    if only is not None:
        measured = Reading.objects.filter(recorded_by_id=only).values("visit")
        rows = rows.filter(Q(recorded_by_id=only) | Q(visit__in=measured))
    return list(rows.order_by("id"))


def _truth(rounds: Sequence[LineGrades]) -> list[Line]:
    by: dict[Person, list[LineGrades]] = defaultdict(list)
    for one in rounds:
        by[one.round.staff.full_name, one.round.staff_id].append(one)
    lines = [
        Line(who=name, agreed=with_truth(rounds=by[name, ident])) for name, ident in sorted(by)
    ]
    return [*lines, Line(who=ALL, agreed=with_truth(rounds=rounds))] if len(lines) > 1 else lines


def _between(rounds: Sequence[LineGrades], only: int | None) -> list[Line]:
    """Each pair of people over the figures that both graded."""
    sets: dict[int, dict[Person, LineGrades]] = defaultdict(dict)
    for one in rounds:
        row = one.round
        sets[row.figure_set_id][row.staff.full_name, row.staff_id] = one
    found: dict[tuple[Person, Person], Pairs] = defaultdict(list)
    for by in sets.values():
        for first, second in combinations(sorted(by), 2):
            if only in (None, first[1], second[1]):
                both = zip(ranks(given=by[first]), ranks(given=by[second]), strict=True)
                found[first, second] += both
    return _lines(found, PELVIS, FIGURE)


def _lines(
    found: Mapping[tuple[Person, Person], Pairs], grades: Sequence[str], unit: tuple[str, str]
) -> list[Line]:
    """A line for each pair in the order of names, and one for all of them."""
    lines = [
        Line(
            who=f"{first[0]} and {second[0]}",
            agreed=agreed(
                pairs=found[first, second], grades=grades, first=first[0], second=second[0],
                unit=unit,
            ),
        )
        for first, second in sorted(found)
    ]  # fmt: skip
    if len(lines) < 2:
        return lines
    pairs = [pair for one in found.values() for pair in one]
    whole = agreed(pairs=pairs, grades=grades, first="one", second="the other", unit=unit)
    return [*lines, Line(who=ALL, agreed=whole)]


def _kinds(codes: Mapping[str, Measure]) -> list[tuple[str, dict[str, Measure]]]:
    """Heel touches share their four grades and go together; every other measure stands alone."""
    drops = {code: one for code, one in codes.items() if is_pelvic_drop(measure=one)}
    rest = [(one.label, {code: one}) for code, one in codes.items() if code not in drops]
    return [("Pelvic drop in heel touches", drops), *rest]


def _group(
    label: str,
    kind: Mapping[str, Measure],
    rows: Sequence[Agreement],
    firsts: Mapping[Key, First],
    only: int | None,
) -> Group:
    """Pairs of two people, lower name first; only what was graded without knowing counts."""
    grades = next(iter(kind.values())).grades if kind else PELVIS
    found: dict[tuple[Person, Person], Pairs] = defaultdict(list)
    known, waiting = 0, 0
    for row in rows:
        first = firsts.get((row.visit_id, row.measure, row.limb))
        if first is None or not first.word:
            waiting += only in (None, row.recorded_by_id)
        elif only in (None, row.recorded_by_id, first.by):
            if row.had_seen == "yes" or row.pages_opened:
                known += 1
            else:
                one = ((first.name, first.by), grades.index(first.word))
                two = ((row.recorded_by.full_name, row.recorded_by_id), row.rank)
                (a, low), (b, high) = sorted((one, two))
                found[a, b].append((low, high))
    return Group(label=label, lines=_lines(found, grades, TEST), left_out=_left_out(known, waiting))


def _left_out(known: int, waiting: int) -> list[str]:
    said = (
        (known, "not counted: the first grade was or may have been known"),
        (waiting, "not counted: no first grade to compare with (not signed, or taken back)"),
    )
    return [f"{count} {why}" for count, why in said if count]
