"""Factories for agreement: sets of figures, finished rounds, second grades of a visit."""

from collections.abc import Callable
from typing import Any

import factory
from factory.django import DjangoModelFactory

from outcomes.core.grades import PELVIS
from outcomes.core.line_figures import figures
from outcomes.models.agreement import Agreement, FigureSet, LineGrades, LineRound
from outcomes.models.versions import MeasureVersion
from outcomes.queries.line_rounds import as_json, figures_in
from tests.factories.clinic import MOMENT, VisitFactory


class FigureSetFactory(DjangoModelFactory[FigureSet]):
    """The figures of a seed, 1 for the first set."""

    class Meta:
        model = FigureSet

    number = factory.Sequence(lambda n: n + 1)
    figures = factory.LazyAttribute(lambda o: as_json(figures=figures(seed=o.number)))
    made_at = MOMENT


def finished_round(
    *, staff: Any, of: Any = None, graded: Callable[[int, int], int] | None = None, **more: Any
) -> LineRound:
    """A finished round; ``graded`` makes a rank of a figure's place and true rank."""
    figure_set = of or FigureSetFactory()
    made: LineRound = LineRound.objects.create(
        figure_set=figure_set, staff=staff, order=[*range(20)], started_at=MOMENT
    )
    ranks = [PELVIS.index(one.grade) for one in figures_in(row=figure_set)]
    given = [graded(place, rank) for place, rank in enumerate(ranks)] if graded else ranks
    LineGrades.objects.create(
        round=made, grades=[PELVIS[rank] for rank in given], finished_at=MOMENT, **more
    )
    return made


class AgreementFactory(DjangoModelFactory[Agreement]):
    """A second grade of a lateral heel touch, blind: give ``visit`` and ``recorded_by``."""

    class Meta:
        model = Agreement

    visit = factory.SubFactory(VisitFactory)
    patient = factory.LazyAttribute(lambda o: o.visit.patient)
    measure = "pelvic_drop_lateral_heel_touch"
    limb = "right"
    grade = "slight"
    rank = factory.LazyAttribute(lambda o: PELVIS.index(o.grade))
    measure_version = factory.LazyAttribute(
        lambda o: MeasureVersion.objects.filter(code=o.measure).latest("version")
    )
    had_seen = "no"
    pages_opened = False
    recorded_at = MOMENT
