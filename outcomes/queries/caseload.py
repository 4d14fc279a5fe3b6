"""The caseload: which episodes, in which order, and what a list or a table needs of each.

Everything is read from the columns of status today, so that no statement depends on how many
visits or readings there are. Callers re-judge what is due first.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal
from functools import cache
from typing import Any, Final, NamedTuple
from uuid import UUID

from django.db.models import Count, F, OuterRef, Q, QuerySet, Subquery
from django.db.models.expressions import Combinable

from clinic.models.care import INDEX_OPERATIONS, OPEN_CARE_STATES, Episode, Surgery
from clinic.models.people import RecordNumber
from outcomes.queries.days import sites_by_day

PAGE_SIZE: Final = 50
FOLLOWED: Final = "followed"
"""Care state of the filter: active, on hold and follow-up only together."""
EVERYONE: Final = "all"
"""Care state of the filter: every episode, also one that has ended."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Filters:
    """What is asked for, as codes. Empty or None leaves a filter open.

    ``weeks`` are the first and last completed week since the index date, both included;
    ``before_surgery`` asks for those that have no week yet.
    """

    care: str = FOLLOWED
    weeks: tuple[int, int] | None = None
    before_surgery: bool = False
    graft: str = ""
    clinician: int | None = None
    milestone: str = ""
    site: str = ""
    look: bool = False
    sort: str = "look"
    page: int = 1

    @property
    def everybody(self) -> bool:
        """Whether all followed are asked for, in whatever order."""
        return replace(self, sort="look", page=1) == Filters()


class Line(NamedTuple):
    """One episode as lists and tables need it. Values only: words are made of them elsewhere."""

    episode_id: int
    uid: UUID
    patient_uid: UUID
    patient: str
    record_number: str | None
    site_id: int
    knee: str
    kind: str
    care_state: str
    care_until: date | None
    clinician: str | None
    graft: str | None
    graft_from: str | None
    index_date: date | None
    last_visit: date | None
    next_milestone: str | None
    criteria_met: int | None
    criteria_untested: int | None
    criteria_out_of_date: int | None
    criteria_not_assessable: int | None
    criteria_all: int | None
    quadriceps_lsi: Decimal | None
    quadriceps_on: date | None
    quadriceps_until: date | None
    quadriceps_why: str | None
    hop_lsi: Decimal | None
    hop_on: date | None
    hop_until: date | None
    hop_why: str | None
    look_rank: int | None
    looks: int | None
    look_sentence: str | None
    rules_version: str | None
    protocol: str = ""
    operated: bool = False
    """Operated, although there is no index date: then only the date is not known."""


_ELSEWHERE: Final = {
    "episode_id": "pk",
    "patient_uid": "patient__uid",
    "patient": "patient__name",
    "clinician": "responsible__full_name",
    "record_number": "record_number",
}
_OF_EPISODE: Final = ("uid", "site_id", "knee", "kind", "care_state", "care_until", "protocol")
_PATHS: Final = tuple(
    _ELSEWHERE.get(name) or (name if name in _OF_EPISODE else f"status__{name}")
    for name in Line._fields
    if name != "operated"
)


def _first(field: str, *, down: bool = False) -> Combinable:
    path = F(field)
    return path.desc(nulls_last=True) if down else path.asc(nulls_last=True)


_LOOK: Final = _first("status__look_rank", down=True)
_NAME: Final = F("patient__name_folded").asc()
SORTS: Final[Mapping[str, tuple[str, tuple[Combinable, ...]]]] = {
    "look": ("needs a look first", (_LOOK, _NAME)),
    "week": ("earliest week first", (_first("status__index_date", down=True), _NAME)),
    "visit": ("longest without a visit first", (_first("status__last_visit"), _NAME)),
    "quadriceps": ("lowest quadriceps first", (_first("status__quadriceps_lsi"), _NAME)),
    "name": ("by name", (_NAME,)),
}
"""Words and order of each sort; the id always ends it."""


def _asked_for(*, filters: Filters, days: Mapping[int, date]) -> Q:
    """The episodes asked for. ``days`` holds today's date at each site to look at."""
    care = OPEN_CARE_STATES if filters.care == FOLLOWED else [filters.care]
    wanted = Q(site_id__in=days)
    if filters.care != EVERYONE:
        wanted &= Q(care_state__in=care)
    if filters.site:
        wanted &= Q(site__code=filters.site)
    if filters.weeks:
        wanted &= _in_weeks(*filters.weeks, days=days)
    if filters.before_surgery:
        wanted &= _without_week(days=days)
    if filters.graft:
        wanted &= Q(status__graft=filters.graft)
    if filters.clinician is not None:
        wanted &= Q(responsible_id=filters.clinician)
    if filters.milestone:
        wanted &= Q(status__next_milestone=filters.milestone)
    return wanted & Q(status__look_rank__gt=0) if filters.look else wanted


def _in_weeks(first: int, last: int, *, days: Mapping[int, date]) -> Q:
    wanted = Q(pk__in=[])
    for day, site_ids in sites_by_day(days).items():
        wanted |= Q(
            site_id__in=site_ids,
            status__index_date__gt=day - timedelta(weeks=last + 1),
            status__index_date__lte=day - timedelta(weeks=first),
        )
    return wanted


def _without_week(*, days: Mapping[int, date]) -> Q:
    wanted = Q(status__index_date__isnull=True)
    for day, site_ids in sites_by_day(days).items():
        wanted |= Q(site_id__in=site_ids, status__index_date__gt=day)
    return wanted


@cache
def _every_line() -> QuerySet[Episode, tuple[Any, ...]]:
    """All episodes as lines, built once: most of what a list costs is naming its columns."""
    number = RecordNumber.objects.filter(patient=OuterRef("patient"), site=OuterRef("site"))
    found = Episode.objects.annotate(record_number=Subquery(number.values("number")[:1]))
    return found.values_list(*_PATHS)


def lines(*, filters: Filters, days: Mapping[int, date], all_pages: bool = False) -> list[Line]:
    """The lines of one page of the list, or of all pages, in order.

    One statement; a second one when lines without an index date may have been operated.
    """
    found = _every_line().filter(_asked_for(filters=filters, days=days))
    found = found.order_by(*SORTS[filters.sort][1], "pk")
    if not all_pages:
        start = (filters.page - 1) * PAGE_SIZE
        found = found[start : start + PAGE_SIZE]
    made = [Line(*row) for row in found]
    undated = [line.episode_id for line in made if line.index_date is None]
    operated = _operated(undated) if undated else set()
    return [line._replace(operated=True) if line.episode_id in operated else line for line in made]


def _operated(episode_ids: list[int]) -> set[int]:
    rows = Surgery.objects.filter(
        episode_id__in=episode_ids, state="performed", operation__in=INDEX_OPERATIONS
    )
    return set(rows.values_list("episode_id", flat=True))


def episodes(*, lines: Sequence[Line]) -> list[Episode]:
    """The episodes of lines, with what judging them needs. Two statements."""
    rows = Episode.objects.filter(pk__in=[line.episode_id for line in lines])
    return list(rows.select_related("patient", "site").prefetch_related("surgeries"))


@dataclass(frozen=True, kw_only=True, slots=True)
class Pages:
    """Where a page stands: "51 to 73 of 73", and the pages before and after it."""

    first: int
    last: int
    total: int
    before: int | None
    after: int | None

    @property
    def words(self) -> str:
        """Where the page stands, as a sentence."""
        if not self.total:
            return "No episode matches these filters."
        return f"{self.first} to {self.last} of {self.total}."


def pages(*, filters: Filters, days: Mapping[int, date], tally: Tally, shown: int) -> Pages:
    """The place of a page that shows so many lines. One statement, none for all followed."""
    if filters.everybody:
        total = tally.followed
    else:
        total = Episode.objects.filter(_asked_for(filters=filters, days=days)).count()
    start = (filters.page - 1) * PAGE_SIZE
    return Pages(
        first=start + 1 if shown else 0,
        last=start + shown,
        total=total,
        before=min(filters.page - 1, -(-total // PAGE_SIZE)) or None,
        after=filters.page + 1 if start + shown < total else None,
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class Tally:
    """How many episodes of the sites are in each care state and need a look, and who treats them.

    ``due`` counts those that are to be judged again before anything is listed; ``clinicians``
    maps the id of each responsible clinician to the name.
    """

    by_care: Mapping[str, int]
    need_a_look: int
    due: int
    clinicians: Mapping[int, str]

    @property
    def followed(self) -> int:
        """Active, on hold and follow-up only together."""
        return sum(self.by_care.get(state, 0) for state in OPEN_CARE_STATES)


@cache
def _every_count() -> QuerySet[Episode, Any]:
    """How many episodes each clinician has in each care state, and with a look; built once."""
    return (
        Episode.objects.values_list("care_state", "responsible_id", "responsible__full_name")
        .annotate(all=Count("pk"), looks=Count("pk", filter=Q(status__look_rank__gt=0)))
        .order_by("responsible__full_name", "responsible_id")
    )


def tally(*, days: Mapping[int, date], holds: Q) -> Tally:
    """The counts over all episodes of the sites, whatever is filtered. One statement.

    ``holds`` says of which episodes the row holds today: all others are due.
    """
    rows = _every_count().filter(site_id__in=days).annotate(held=Count("pk", filter=holds))
    by_care: dict[str, int] = {}
    clinicians: dict[int, str] = {}
    looks = due = 0
    for state, ident, name, count, with_look, held in rows:
        by_care[state] = by_care.get(state, 0) + count
        looks += with_look
        due += count - held
        if ident is not None:
            clinicians[ident] = name
    return Tally(by_care=by_care, need_a_look=looks, due=due, clinicians=clinicians)
