"""Status today is rebuilt whole from the record, never in part."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from datetime import date, timedelta
from decimal import ROUND_FLOOR, Context, Decimal
from typing import Any, Final

from django.db import transaction
from django.db.models import F, Q, QuerySet

from clinic import clock
from clinic.models.care import OPEN_CARE_STATES, Episode
from clinic.models.people import Patient
from clinic.models.places import Site
from outcomes.core.looks import NOTE
from outcomes.core.sentences import sentence_of
from outcomes.core.status import MeasureStatus, StatusToday
from outcomes.core.values import Measure, NotAssessable, Reason, Result
from outcomes.models.status import EpisodeStatus
from outcomes.queries.catalogue import InForce, in_force
from outcomes.queries.days import sites_by_day
from outcomes.queries.judging import Record, judge_record, next_milestone, records_of
from outcomes.queries.kept import Kept, from_json, to_json
from outcomes.queries.looks import next_due, unanswered

KEPT_PLACES: Final = Decimal("0.0001")
FLOOR: Final = Context(prec=30, rounding=ROUND_FLOOR)
HIGHEST: Final = Decimal(99_999)
SENTENCE: Final = 200
COLUMNS: Final = tuple(
    column.name
    for column in EpisodeStatus._meta.concrete_fields
    if column.name not in ("id", "episode")
)


def rebuild(*, episode_ids: Collection[int]) -> None:
    """Judge the episodes on their local today and keep the whole judgement.

    Call it inside the transaction that changed the record, after the patient was locked. Costs
    the same number of statements for one episode and for many (SQLite: one insert for 30 or so).
    """
    _rebuild(Episode.objects.filter(pk__in=episode_ids))


def rebuild_followed(*, patient_id: int, rules: InForce | None = None) -> None:
    """The same for the patient's episodes that are followed: those whose status is kept.

    ``rules`` are those in force, where the caller has read them already.
    """
    rows = Episode.objects.filter(patient_id=patient_id, care_state__in=OPEN_CARE_STATES)
    _rebuild(rows, rules)


def _rebuild(rows: QuerySet[Episode], known: InForce | None = None) -> None:
    episodes = list(rows.select_related("patient", "site").order_by("id"))
    if not episodes:
        return
    rules = known or in_force()
    records = records_of(episodes=episodes, rules=rules)
    EpisodeStatus.objects.bulk_create(
        [_row(episode=episode, record=records[episode.pk], rules=rules) for episode in episodes],
        update_conflicts=True,
        unique_fields=["episode"],
        update_fields=COLUMNS,
    )


def rejudge_due(*, site_ids: Collection[int]) -> int:
    """Judge again what is due at the sites today; returns how many episodes were."""
    days = {site.pk: clock.today(site) for site in Site.objects.filter(pk__in=site_ids)}
    return rejudge_due_on(days=days, rules=in_force())


def rejudge_due_on(*, days: Mapping[int, date], rules: InForce) -> int:
    """Judge again what is due; ``days`` holds today's date at each site. Lists call it first.

    Due is an episode without a row, one whose day of change has come, and one that was judged
    under another version of itself or of the rules: every one whose row does not hold.
    """
    rows = Episode.objects.filter(site_id__in=days)
    return _rebuild_due(rows.exclude(holds_on(days=days, rules=rules)))


def holds_on(*, days: Mapping[int, date], rules: InForce) -> Q:
    """The episodes whose row holds; ``days`` holds today's date at each site."""
    found = Q(pk__in=[])
    for day, ids in sites_by_day(days).items():
        found |= Q(site_id__in=ids) & _holds(rules=rules, today=day)
    return found


def current(*, episode_ids: Collection[int], today: date) -> dict[int, Kept]:
    """What is kept of the episodes of one site, judged again first where it is due."""
    rows = Episode.objects.filter(pk__in=episode_ids).select_related("status")
    return kept_of(episodes=list(rows), rules=in_force(), today=today)


def kept_of(*, episodes: Sequence[Episode], rules: InForce, today: date) -> dict[int, Kept]:
    """What is kept of episodes that were read with their ``status``, judged again where due."""
    stale = [e.pk for e in episodes if _stale(episode=e, rules=rules, today=today)]
    bodies = {e.pk: e.status.body for e in episodes if e.pk not in stale}
    if stale:
        _rebuild_due(Episode.objects.filter(pk__in=stale))
        rows = EpisodeStatus.objects.filter(episode_id__in=stale)
        bodies |= dict(rows.values_list("episode_id", "body"))
    return {
        e.pk: from_json(
            body=bodies[e.pk], measures=rules.measures, protocol=rules.protocols[e.protocol]
        )
        for e in episodes
    }


def _stale(*, episode: Episode, rules: InForce, today: date) -> bool:
    """The opposite of ``_holds``, for an episode that was read with its ``status``."""
    row: EpisodeStatus | None = getattr(episode, "status", None)
    return (
        row is None
        or (row.next_change_on is not None and row.next_change_on <= today)
        or row.judged_on > today
        or row.episode_version != episode.version
        or row.rules_version != rules.rules.get(episode.protocol)
    )


def reasons(*, episode_id: int, today: date) -> tuple[Reason, ...]:
    """Every reason to look at an episode today, also those that were answered."""
    kept = current(episode_ids=[episode_id], today=today)
    return kept[episode_id].status.reasons


def _holds(*, rules: InForce, today: date) -> Q:
    """A row judged on a later day does not hold: the clock was set back."""
    by_rules = Q(pk__in=[])
    for protocol, version in rules.rules.items():
        by_rules |= Q(protocol=protocol, status__rules_version=version)
    lasts = Q(status__next_change_on__gt=today) | Q(status__next_change_on__isnull=True)
    return by_rules & lasts & Q(status__judged_on__lte=today, status__episode_version=F("version"))


def _rebuild_due(due: QuerySet[Episode]) -> int:
    pairs = list(due.values_list("pk", "patient_id"))
    if pairs:
        with transaction.atomic():
            patients = Patient.objects.filter(pk__in={patient for _, patient in pairs})
            list(patients.order_by("pk").select_for_update().values_list("pk"))
            rebuild(episode_ids=[episode for episode, _ in pairs])
    return len(pairs)


def _row(*, episode: Episode, record: Record, rules: InForce) -> EpisodeStatus:
    today = clock.today(episode.site)
    status = judge_record(record=record, rules=rules, on=today)
    due = next_due(reasons=status.reasons, answers=record.answers, on=today)
    days = [day for day in (status.next_change_on, due) if day is not None]
    return EpisodeStatus(
        episode=episode,
        body=to_json(kept=Kept(facts=record.facts, status=status)),
        judged_on=today,
        next_change_on=min(days, default=None),
        rules_version=rules.rules[record.protocol],
        episode_version=episode.version,
        graft=record.facts.graft,
        graft_from=record.facts.graft_from,
        index_date=record.facts.index_date,
        last_visit=record.visits.last_on,
        **_milestone_columns(status=status, decided=record.decided),
        **_index_columns(name="quadriceps", code="quadriceps_torque", status=status, rules=rules),
        **_index_columns(name="hop", code="single_hop", status=status, rules=rules),
        **_look_columns(
            open_reasons=unanswered(reasons=status.reasons, answers=record.answers, on=today)
        ),
    )


def _milestone_columns(*, status: StatusToday, decided: Collection[str]) -> dict[str, Any]:
    """The milestone worked toward, with counts over its hard criteria.

    Nothing when the last one of the goal is decided: then no milestone is worked toward.
    """
    if status.milestones[-1].milestone.code in decided:
        return {}
    ahead = next_milestone(milestones=status.milestones, decided=decided)
    hard = [found for found in ahead.criteria if found.criterion.hard]
    count = Counter(found.result for found in hard)
    return {
        "next_milestone": ahead.milestone.code,
        "criteria_met": sum(found.result.truth is True for found in hard),
        "criteria_untested": count[Result.NOT_TESTED],
        "criteria_out_of_date": count[Result.OUT_OF_DATE],
        "criteria_not_assessable": count[Result.NOT_ASSESSABLE],
        "criteria_all": len(hard),
    }


def _index_columns(*, name: str, code: str, status: StatusToday, rules: InForce) -> dict[str, Any]:
    """A symmetry index, cut and never rounded up, with its dates, or why there is none."""
    found, measure = status.measure(code=code), rules.measures.get(code)
    if found is None or measure is None:
        return {}
    on = _index_date(found)
    if found.symmetry is None or isinstance(found.symmetry, NotAssessable):
        why = found.symmetry.why.value if found.symmetry else ""
        return {f"{name}_on": on, f"{name}_why": why}
    exact = FLOOR.divide(
        Decimal(found.symmetry.value.numerator), Decimal(found.symmetry.value.denominator)
    )
    return {
        f"{name}_lsi": min(exact, HIGHEST).quantize(KEPT_PLACES, context=FLOOR),
        f"{name}_on": on,
        f"{name}_until": _until(measure=measure, on=on),
    }


def _index_date(found: MeasureStatus) -> date | None:
    if found.pair is not None:
        return found.pair.on
    return max((r.on for r in (found.left, found.right) if r is not None), default=None)


def _until(*, measure: Measure, on: date | None) -> date | None:
    """The last day on which a value still counts."""
    if on is None or measure.maximum_age_days is None:
        return None
    return on + timedelta(days=measure.maximum_age_days)


def _look_columns(*, open_reasons: Sequence[Reason]) -> dict[str, Any]:
    """The first reason that needs a look as a sentence, and how many there are; notes are none."""
    looks = [reason for reason in open_reasons if reason.rank >= NOTE]
    if not looks:
        return {}
    return {
        "look_rank": looks[0].rank,
        "look_sentence": sentence_of(reason=looks[0])[:SENTENCE],
        "looks": len(looks),
    }
