"""One reading's history, and what its newest step changes in the judgement of today."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from clinic import clock
from clinic.models.care import Episode
from outcomes.core.status import StatusToday
from outcomes.core.values import Measure, Reading, Symmetry
from outcomes.core.wording import symmetry_words
from outcomes.models.record import Reading as ReadingRow
from outcomes.queries.catalogue import InForce
from outcomes.queries.judging import Record, judge_record, records_of
from outcomes.queries.result_words import RESULT
from outcomes.queries.visit import as_reading


@dataclass(frozen=True, kw_only=True, slots=True)
class Chain:
    """A reading from what was first entered to the newest row of it."""

    rows: tuple[ReadingRow, ...]

    @property
    def newest(self) -> ReadingRow:
        """What counts now."""
        return self.rows[-1]

    @property
    def before(self) -> ReadingRow | None:
        """What counted before the newest step; None while nothing was corrected."""
        return self.rows[-2] if len(self.rows) > 1 else None


def chain_of(*, row: ReadingRow) -> Chain:
    """The chain that a row belongs to. One statement."""
    same = ReadingRow.objects.filter(visit_id=row.visit_id)
    rows = {one.pk: one for one in same.select_related("recorded_by")}
    after = {one.supersedes_id: one for one in rows.values() if one.supersedes_id is not None}
    first = rows[row.pk]
    while first.supersedes_id is not None:
        first = rows[first.supersedes_id]
    found = [first]
    while (following := after.get(found[-1].pk)) is not None:
        found.append(following)
    return Chain(rows=tuple(found))


def what_changed(*, chain: Chain, episodes: Sequence[Episode], rules: InForce) -> list[str]:
    """What the newest step changes in the judgement of today, as sentences.

    Today is judged twice, with the value before and with the newest one; nothing is kept.
    """
    if chain.before is None:
        return []
    sentences: list[str] = []
    for episode, record in _with_records(episodes, rules):
        on = clock.today(episode.site)
        old = replace(record, readings=_before(record=record, chain=chain))
        was = judge_record(record=old, rules=rules, on=on)
        now = judge_record(record=record, rules=rules, on=on)
        measures = {chain.before.measure, chain.newest.measure}
        for code in sorted(measures):
            sentences += _symmetry(measure=rules.measures[code], was=was, now=now)
        sentences += _criteria(was=was, now=now)
    return sentences


def _with_records(episodes: Sequence[Episode], rules: InForce) -> Iterator[tuple[Episode, Record]]:
    records = records_of(episodes=episodes, rules=rules)
    for episode in episodes:
        yield episode, records[episode.pk]


def _before(*, record: Record, chain: Chain) -> list[Reading]:
    rest = [reading for reading in record.readings if reading.ref != chain.newest.pk]
    if chain.before is None or chain.before.kind == "withdrawn":
        return rest
    return [*rest, as_reading(row=chain.before)]


def _symmetry(*, measure: Measure, was: StatusToday, now: StatusToday) -> Iterator[str]:
    words = [_index(measure=measure, status=status) for status in (was, now)]
    if words[0] != words[1]:
        yield f"{measure.short_label}, symmetry: was {words[0]}, now {words[1]}."


def _index(*, measure: Measure, status: StatusToday) -> str:
    found = status.measure(code=measure.code)
    if found is None or not isinstance(found.symmetry, Symmetry):
        return "not assessable"
    return symmetry_words(measure=measure, symmetry=found.symmetry)


def _criteria(*, was: StatusToday, now: StatusToday) -> Iterator[str]:
    before = {
        (milestone.milestone.code, found.criterion.code): found.result
        for milestone in was.milestones
        for found in milestone.criteria
    }
    for milestone in now.milestones:
        for found in milestone.criteria:
            earlier = before[milestone.milestone.code, found.criterion.code]
            if earlier is not found.result:
                yield (
                    f"{milestone.milestone.label}, {found.criterion.label}: was "
                    f"{RESULT[earlier].lower()}, now {RESULT[found.result].lower()}."
                )
