"""One reading's page: who, which test, its history, and what the newest step changes."""

from __future__ import annotations

from functools import cached_property

from outcomes.core.values import Measure
from outcomes.forms.signed import Step, steps_of
from outcomes.forms.visit_head import VisitHead, head_of
from outcomes.models.record import Reading
from outcomes.queries.reading_history import Chain, chain_of, what_changed
from outcomes.queries.visit import VisitSheet


class ReadingPage:
    """Everything that the page of one reading asks for."""

    def __init__(self, *, row: Reading) -> None:
        self.row = row
        self.sheet = VisitSheet(row.visit)

    @cached_property
    def head(self) -> VisitHead:
        """The band above."""
        return head_of(sheet=self.sheet)

    @property
    def measure(self) -> Measure:
        """What was measured."""
        return self.sheet.measures[self.row.measure]

    @cached_property
    def chain(self) -> Chain:
        """From what was entered to what counts now."""
        return chain_of(row=self.row)

    @property
    def steps(self) -> list[Step]:
        """The history in words, the newest step first."""
        zone = self.sheet.visit.site.zone
        return steps_of(rows=self.chain.rows, measure=self.measure, zone=zone)

    @property
    def withdrawn(self) -> bool:
        """Whether it counts no more."""
        return self.chain.newest.kind == "withdrawn"

    @property
    def changes(self) -> list[str]:
        """What the newest step changes in the judgement of today."""
        return what_changed(
            chain=self.chain, episodes=self.sheet.episodes, rules=self.sheet.in_force
        )
