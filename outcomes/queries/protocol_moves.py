"""Who may be moved to a protocol, and what would be judged otherwise if they were: nothing kept."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final
from uuid import UUID

from clinic import clock, words
from clinic.models.care import OPEN_CARE_STATES, Episode
from clinic.queries.care import week_words
from outcomes.core.pairing import pairs
from outcomes.core.values import (
    Criterion,
    CriterionResult,
    Measure,
    MilestoneResult,
)
from outcomes.queries.caseload_words import LAST_DECIDED
from outcomes.queries.catalogue import InForce
from outcomes.queries.judging import Record, judge_record, next_milestone, records_of
from outcomes.queries.milestone_words import count_words, headline
from outcomes.queries.protocol_words import asks
from outcomes.queries.result_words import RESULT

NOT_THERE: Final = "not in it"


@dataclass(frozen=True, kw_only=True, slots=True)
class Movable:
    """A followed episode that may be moved. ``value`` says which, and the version that was seen."""

    ident: int
    uid: UUID
    version: int
    title: str
    site: str
    protocol: str
    follows: bool

    @property
    def value(self) -> str:
        """What its tick sends."""
        return f"{self.uid}:{self.version}"


@dataclass(frozen=True, kw_only=True, slots=True)
class CriterionChange:
    """A criterion with another result, or with another threshold: as it is, as it would be."""

    label: str
    before: str
    after: str


@dataclass(frozen=True, kw_only=True, slots=True)
class MilestoneChange:
    """A milestone as it is judged and as it would be, with the criteria that differ.

    ``code`` is that of the milestone as it is, whose page opens its numbers; empty for a new one.
    """

    code: str
    label: str
    before: str
    after: str
    criteria: tuple[CriterionChange, ...]

    @property
    def same(self) -> bool:
        """Whether nothing about it differs."""
        return self.before == self.after and not self.criteria


@dataclass(frozen=True, kw_only=True, slots=True)
class Difference:
    """What a move would change for one episode. ``decided``: milestones it would leave behind.

    ``by_code``: both protocols name milestones alike; else they stand beside each other by what
    they judge.
    """

    who: Movable
    decided: str
    toward_before: str
    toward_after: str
    milestones: tuple[MilestoneChange, ...]
    by_code: bool = True

    @property
    def otherwise(self) -> int:
        """How many milestones are judged otherwise, or are in one of the protocols alone."""
        return sum(not one.same for one in self.milestones)

    @property
    def same(self) -> bool:
        """Whether nothing is judged otherwise."""
        toward = self.toward_before == self.toward_after
        return toward and all(one.same for one in self.milestones)


def movable(*, site_ids: Collection[int], protocol: str, rules: InForce) -> list[Movable]:
    """The followed episodes of the sites by name, those that follow it already last.

    Two statements, however many there are.
    """
    rows = Episode.objects.filter(site_id__in=site_ids, care_state__in=OPEN_CARE_STATES)
    rows = rows.select_related("patient", "site").prefetch_related("surgeries")
    found = [_movable(row, protocol, rules) for row in rows.order_by("patient__name_folded", "pk")]
    return sorted(found, key=lambda one: one.follows)


def _movable(row: Episode, protocol: str, rules: InForce) -> Movable:
    week = week_words(episode=row, on=clock.today(row.site))
    return Movable(
        ident=row.pk,
        uid=row.uid,
        version=row.version,
        title=f"{row.patient.name}, {row.knee} knee, {week}",
        site=row.site.name,
        protocol=rules.protocols[row.protocol].named,
        follows=row.protocol == protocol,
    )


def differences(
    *, chosen: Sequence[Movable], protocol: str, rules: InForce
) -> tuple[Difference, ...]:
    """What each chosen episode's results are now, and what they would be under the protocol.

    Both are judged afresh on the local today of the site; nothing is kept. Each is judged on what
    its own protocol reads of the record. The statements do not depend on how many are chosen.
    """
    idents = [one.ident for one in chosen]
    rows = Episode.objects.filter(pk__in=idents).select_related("patient", "site")
    episodes = {row.pk: row for row in rows}
    now = records_of(episodes=list(episodes.values()), rules=rules)
    days = {row.pk: clock.today(row.site) for row in episodes.values()}
    for row in episodes.values():
        row.protocol = protocol
    then = records_of(episodes=list(episodes.values()), rules=rules)
    return tuple(
        _difference(
            who=one, now=now[one.ident], then=then[one.ident], rules=rules, on=days[one.ident]
        )
        for one in chosen
        if one.ident in episodes
    )


def _difference(*, who: Movable, now: Record, then: Record, rules: InForce, on: date) -> Difference:
    before, after = (judge_record(record=one, rules=rules, on=on).milestones for one in (now, then))
    old, new = ({one.milestone.code: one for one in judged} for judged in (before, after))
    beside = pairs(before=[one.milestone for one in before], after=[one.milestone for one in after])
    return Difference(
        who=who,
        decided=words.listed(
            [one.milestone.label for code, one in old.items() if code in now.decided - {*new}]
        ),
        toward_before=_toward(before, now),
        toward_after=_toward(after, then),
        milestones=tuple(
            _change(
                None if i is None else before[i],
                None if j is None else after[j],
                now=now, then=then, measures=rules.measures, on=on,
            )
            for i, j in beside
        ),
        by_code=bool({*old} & {*new}),
    )  # fmt: skip


def _change(
    old: MilestoneResult | None,
    new: MilestoneResult | None,
    *,
    now: Record,
    then: Record,
    measures: Mapping[str, Measure],
    on: date,
) -> MilestoneChange:
    """A row of the table: a milestone of each, or of one alone."""
    labels = [one.milestone.label for one in (old, new) if one is not None]
    return MilestoneChange(
        code=old.milestone.code if old else "",
        label=" → ".join(dict.fromkeys(labels)),
        before=_stands(old, now, on),
        after=_stands(new, then, on),
        criteria=_criteria(old, new, measures),
    )


def _stands(found: MilestoneResult | None, record: Record, on: date) -> str:
    """State and counts of a milestone, as pages say them."""
    if found is None:
        return NOT_THERE
    return f"{headline(found=found, facts=record.facts, on=on)} {count_words(found=found)}"


def _toward(milestones: Sequence[MilestoneResult], record: Record) -> str:
    if milestones[-1].milestone.code in record.decided:
        return LAST_DECIDED
    return next_milestone(milestones=milestones, decided=record.decided).milestone.label


def _criteria(
    old: MilestoneResult | None, new: MilestoneResult | None, measures: Mapping[str, Measure]
) -> tuple[CriterionChange, ...]:
    """The criteria that differ, in the order of the new milestone, those that fall away last."""
    if old is None or new is None:
        return ()
    after = {one.criterion.code: one for one in new.criteria}
    before = _named_alike(old.criteria, after)
    changes = []
    for code in [*after, *(code for code in before if code not in after)]:
        was, is_now = (_said(each.get(code), each, measures) for each in (before, after))
        if was != is_now:
            label = (after.get(code) or before[code]).criterion.label
            changes.append(CriterionChange(label=label, before=was, after=is_now))
    return tuple(changes)


def _named_alike(
    criteria: Sequence[CriterionResult], after: Mapping[str, CriterionResult]
) -> dict[str, CriterionResult]:
    """The criteria by the code of the one they stand beside: the same code, or the same thing
    judged in the same form; by their own code where there is none.
    """
    own = {one.criterion.code for one in criteria}
    free = [one.criterion for code, one in after.items() if code not in own]
    found = {}
    for one in criteria:
        code, mine = one.criterion.code, one.criterion
        if code not in after and mine.measure:
            judged = (mine.measure, mine.form)
            beside = next((each for each in free if (each.measure, each.form) == judged), None)
            if beside is not None:
                free.remove(beside)
                code = beside.code
        found[code] = one
    return found


def _said(
    found: CriterionResult | None,
    beside: Mapping[str, CriterionResult],
    measures: Mapping[str, Measure],
) -> str:
    """A result with what was asked for it: "Not met (asks at least 70 %)"."""
    if found is None:
        return NOT_THERE
    criterion: Criterion = found.criterion
    names = {one.criterion.code: one.criterion.label for one in beside.values()}
    asked = asks(criterion=criterion, measures=measures, names=names)
    beside_it = "" if criterion.hard else ", shown beside"
    return f"{RESULT[found.result]} (asks {asked}{beside_it})"
