"""Forms that grade: the figures of a round, and a second grade of a visit's tests."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from django import forms
from django.http import QueryDict

from clinic.forms.base import ActForm, OneOf
from outcomes.core.grades import PELVIS
from outcomes.core.line_figures import FIGURES
from outcomes.models.agreement import SEEN
from outcomes.queries.second_grades import Test

NOT_GRADED: Final = "not graded"


class RoundForm(ActForm):
    """A grade for each place of a round's page; every figure is graded."""

    def __init__(self, data: QueryDict | None = None) -> None:
        super().__init__(data)
        for number in range(1, FIGURES + 1):
            self.fields[f"f{number}"] = OneOf(
                label=f"Figure {number}",
                choices=[(word, word) for word in PELVIS],
                error_messages={"required": "Choose a grade."},
            )

    @property
    def figures(self) -> list[forms.BoundField]:
        """The fields in the order of the page."""
        return [self[f"f{number}"] for number in range(1, FIGURES + 1)]

    @property
    def grades(self) -> list[str]:
        """The grades in the order of the page."""
        return [self.cleaned_data[f"f{number}"] for number in range(1, FIGURES + 1)]


class SecondGradeForm(ActForm):
    """A grade for each test that was looked at, and whether the first one was known."""

    had_seen = OneOf(
        label="Had you seen or been told the first grade?",
        choices=SEEN,
        error_messages={"required": "Say whether you knew the first grade."},
    )

    def __init__(self, data: QueryDict | None = None, *, tests: Sequence[Test]) -> None:
        """What was graded already is read too, so that a doubled post is the same post."""
        super().__init__(data)
        self.tests = tests
        for test in tests:
            self.fields[test.name] = OneOf(
                label=test.label,
                choices=[(word, word) for word in test.measure.grades],
                none=NOT_GRADED,
            )

    @property
    def rows(self) -> list[forms.BoundField]:
        """The fields of the tests that are left to grade."""
        return [self[test.name] for test in self.tests if not test.done]

    @property
    def grades(self) -> dict[str, Any]:
        """What was graded, by the name of its field."""
        names = [test.name for test in self.tests]
        return {name: word for name in names if (word := self.cleaned_data[name])}
