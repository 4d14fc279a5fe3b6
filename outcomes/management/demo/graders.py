"""Those of the demo who grade: rounds of drawn figures, and colleagues' second grades of visits."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from random import Random
from typing import TYPE_CHECKING, Final
from uuid import UUID, uuid4

from clinic import clock
from clinic.models.care import Visit
from clinic.models.places import Site
from outcomes.core.grades import PELVIS
from outcomes.management.demo import stories
from outcomes.models.agreement import LineRound
from outcomes.queries.catalogue import catalogue
from outcomes.queries.line_rounds import figures_in
from outcomes.queries.second_grades import firsts_of, tests_of, twice
from outcomes.services import line_rounds, second_grades

if TYPE_CHECKING:
    from outcomes.management.demo.loader import Loader

LATELY: Final = timedelta(weeks=10)
ROUNDS: Final = (
    ("tess", "harbour", 40), ("bram", "harbour", 39), ("yuna", "harbour", 33),
    ("tess", "harbour", 12), ("bram", "harbour", 8), ("pavo", "millbank", 5),
)  # fmt: skip
"""Who finished a round, where, and how many days ago."""
COLLEAGUE: Final = {"tess": "bram", "bram": "tess", "yuna": "pavo", "pavo": "yuna"}


def warm_up(*, loader: Loader) -> None:
    """Rounds of drawn figures, most of them graded as drawn, some a grade off."""
    for number, (username, place, days) in enumerate(ROUNDS):
        site, chance = loader.sites[place], Random(number)  # noqa: S311  invented people
        with (
            clock.held_at(loader.now - timedelta(days=days)),
            loader.acting(username, site) as actor,
        ):
            line_rounds.begin(actor=actor, key=uuid4())
            row = LineRound.objects.select_related("figure_set").get(
                staff_id=actor.staff_id, given=None
            )
            made = figures_in(row=row.figure_set)
            grades = [_near(PELVIS, made[at].grade, chance, often=0.75) for at in row.order]
            line_rounds.finish(actor=actor, key=uuid4(), row=row, grades=grades)


def grade_again(*, loader: Loader, person: stories.Person, site: Site, uid: UUID, on: date) -> None:
    """A colleague who watched grades every fourth person's tests too; some knew the first grade."""
    colleague = COLLEAGUE.get(person.row["clinician"], "")
    if person.number % 4 or on < clock.today(site) - LATELY or not colleague:
        return
    with (
        clock.held_at(loader.moment(site, on, hour=18)),
        loader.acting(colleague, site) as actor,
    ):
        visit, measures = Visit.objects.get(uid=uid), catalogue()
        tests = tests_of(visit=visit, staff_id=actor.staff_id, measures=measures)
        firsts = firsts_of(visits=[visit.pk], codes=twice(measures=measures))
        chance = Random(visit.pk)  # noqa: S311  invented people
        grades = {
            test.name: _near(test.measure.grades, word, chance, often=0.65)
            for test in tests
            if (word := firsts[visit.pk, test.measure.code, test.limb.value].word)
        }
        if grades:
            second_grades.record(
                actor=actor,
                key=uuid4(),
                visit=visit,
                grades=grades,
                had_seen="yes" if person.number % 16 == 0 else "no",
            )


def _near(grades: Sequence[str], word: str, chance: Random, *, often: float) -> str:
    """The grade itself, as often as that, or one beside it."""
    at = grades.index(word)
    off = 0 if chance.random() < often else chance.choice((-1, 1))
    return grades[min(max(at + off, 0), len(grades) - 1)]
