"""Events of episodes: what counts now as the core sees it, and each event's story in words."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Any, Final

from django.db.models import QuerySet, prefetch_related_objects

from clinic import words
from clinic.models import care
from clinic.queries.care import index_surgery, week_words
from outcomes.core.events import BY_CODE, KINDS, Kind, chart_words, event_words
from outcomes.core.values import Event, Limb
from outcomes.models.events import Event as EventRow

AS_DETAIL: Final[Mapping[str, str]] = {
    "meniscal_repair_complex": "meniscal_repair",
    "meniscal_root_repair": "meniscal_repair",
    "meniscal_transplant": "meniscal_repair",
}
"""What an operation on record calls more narrowly than an event does."""
STIFFNESS: Final = "stiffness_procedure"


def events_of(*, episodes: Sequence[care.Episode]) -> dict[int, list[Event]]:
    """The events of each episode that count, oldest first; later operations on record too.

    An operation that is on record with the operations and as an event of that day counts once.
    One statement, two where operations were not prefetched.
    """
    prefetch_related_objects(episodes, "surgeries")
    found: dict[int, list[Event]] = {episode.pk: [] for episode in episodes}
    rows = _effective().filter(episode_id__in=list(found))
    for episode_id, code, limb, on, detail, early, ref in rows:
        found[episode_id].append(
            Event(code=code, limb=Limb(limb), on=on, detail=detail, early=early, ref=ref)
        )
    for episode in episodes:
        mine = found[episode.pk]
        there = {(one.code, one.on, one.detail) for one in mine}
        mine += [
            one
            for one in later_operations(episode=episode)
            if (one.code, one.on, one.detail) not in there
        ]
        mine.sort(key=lambda one: (one.on, one.ref))
    return found


@cache
def _effective() -> QuerySet[EventRow, Any]:
    """Entered or corrected, neither superseded nor withdrawn; built once, to be filtered."""
    rows = EventRow.objects.filter(superseded_by__isnull=True).exclude(kind="withdrawn")
    return rows.order_by("date", "id").values_list(
        "episode_id", "event", "limb", "date", "detail", "earlier_than_advised", "id"
    )


def later_operations(*, episode: care.Episode) -> Iterator[Event]:
    """The later operations that stand with the operations. Reads ``surgeries.all()``."""
    for surgery in episode.surgeries.all():
        if surgery.operation != "reoperation" or surgery.state != "performed" or not surgery.date:
            continue
        for code, detail in dict.fromkeys(_kinds(surgery.procedures)):
            yield Event(code=code, limb=Limb(episode.knee), on=surgery.date, detail=detail)


def _kinds(procedures: Collection[str]) -> Iterator[tuple[str, str]]:
    """Kind of event and detail of each procedure; an operation without any is not known yet."""
    for procedure in procedures:
        detail = AS_DETAIL.get(procedure, procedure)
        if detail == STIFFNESS:
            yield STIFFNESS, "not_known"
        else:
            yield "reoperation", detail if detail in BY_CODE["reoperation"].details else "other"
    if not procedures:
        yield "reoperation", "not_known"


@dataclass(frozen=True, kw_only=True, slots=True)
class EventLine:
    """An event in one line; ``side`` is a dash where it is the person's and no knee's."""

    on: str
    week: str
    side: str
    what: str
    other_side: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class EventStep:
    """One row of an event's story: as it was entered, corrected or withdrawn, by whom and why."""

    line: EventLine
    note: str
    kind: str
    by: str
    at: str
    reason: str


@dataclass(frozen=True, kw_only=True, slots=True)
class EventStory:
    """An event from what was first entered to what counts now."""

    rows: tuple[EventRow, ...]
    episode: care.Episode

    @property
    def newest(self) -> EventRow:
        """What counts now, or the row that withdrew it."""
        return self.rows[-1]

    @property
    def withdrawn(self) -> bool:
        """Whether it counts no more."""
        return self.newest.kind == "withdrawn"

    @property
    def line(self) -> EventLine:
        """What counts now in one line."""
        return event_line(event=as_event(row=self.newest), episode=self.episode)

    @property
    def steps(self) -> list[EventStep]:
        """Its rows in words, the newest first."""
        return [_step(row, self.episode) for row in reversed(self.rows)]


def event_line(*, event: Event, episode: care.Episode) -> EventLine:
    """One event in words, with the week of its day."""
    return EventLine(
        on=words.day(event.on),
        week=week_words(episode=episode, on=event.on),
        side=event.limb.value if event.limb is not Limb.NONE else "–",
        what=event_words(event=event),
        other_side=event.limb is Limb(episode.knee).opposite,
    )


def on_charts(*, events: Sequence[Event], on: date) -> list[tuple[date, str]]:
    """What stands on every chart up to a day: each day once, with what happened on it."""
    found: dict[date, list[str]] = {}
    for event in sorted(events, key=lambda one: one.on):
        if event.on <= on:
            found.setdefault(event.on, []).append(chart_words(event=event))
    return [(day, words.listed(list(dict.fromkeys(said)))) for day, said in found.items()]


def as_event(*, row: EventRow) -> Event:
    """A row as the core sees it."""
    return Event(
        code=row.event,
        limb=Limb(row.limb),
        on=row.date,
        detail=row.detail,
        early=row.earlier_than_advised,
        ref=row.pk,
    )


def _step(row: EventRow, episode: care.Episode) -> EventStep:
    return EventStep(
        line=event_line(event=as_event(row=row), episode=episode),
        note=row.note,
        kind=row.get_kind_display(),
        by=row.recorded_by.full_name,
        at=words.moment(row.recorded_at, zone=episode.site.zone),
        reason=row.reason,
    )


def stories_of(*, episode: care.Episode) -> list[EventStory]:
    """Every event that was ever entered, with its corrections, newest day first. Two statements."""
    prefetch_related_objects([episode], "surgeries")
    rows = EventRow.objects.filter(episode_id=episode.pk).select_related("recorded_by")
    chains: dict[int, list[EventRow]] = {}
    for row in rows.order_by("id"):
        chain = chains.get(row.supersedes_id or 0, [])
        chains[row.pk] = chain
        chain.append(row)
    found = {id(chain): EventStory(rows=tuple(chain), episode=episode) for chain in chains.values()}
    return sorted(found.values(), key=lambda one: (one.newest.date, one.newest.pk), reverse=True)


def story_of(*, row: EventRow, episode: care.Episode) -> EventStory:
    """The story that a row of the episode belongs to. Two statements."""
    stories = stories_of(episode=episode)
    return next(story for story in stories if row.pk in {one.pk for one in story.rows})


@dataclass(frozen=True, kw_only=True, slots=True)
class EventsPage:
    """The events of an episode: what counts, what stands with the operations, what was withdrawn.

    ``kinds``: those that can be recorded of this knee. ``follow``: episodes that are offered
    because of an event, as knee and kind.
    """

    episode: care.Episode
    kinds: Sequence[Kind]
    stories: Sequence[EventStory]
    operations: Sequence[EventLine]
    withdrawn: Sequence[EventStory]
    follow: Sequence[Offer]


@dataclass(frozen=True, kw_only=True, slots=True)
class Offer:
    """An episode that an event asks for and nobody has registered yet, with the event's words."""

    knee: str
    kind: str
    because: str


def events_page(*, episode: care.Episode) -> EventsPage:
    """Everything that the page of events prints. Three statements."""
    stories = stories_of(episode=episode)
    standing = [story for story in stories if not story.withdrawn]
    told = {(story.newest.event, story.newest.date, story.newest.detail) for story in standing}
    return EventsPage(
        episode=episode,
        kinds=_offered(episode),
        stories=standing,
        operations=[
            event_line(event=one, episode=episode)
            for one in later_operations(episode=episode)
            if (one.code, one.on, one.detail) not in told
        ],
        withdrawn=[story for story in stories if story.withdrawn],
        follow=_offers(episode=episode, events=[as_event(row=one.newest) for one in standing]),
    )


def _offered(episode: care.Episode) -> list[Kind]:
    """Every kind, without those that follow an operation where none is on record."""
    operated = index_surgery(episode=episode) and episode.kind != "without_surgery"
    return [kind for kind in KINDS if operated or not kind.after_operation]


def _offers(*, episode: care.Episode, events: Sequence[Event]) -> list[Offer]:
    """A revision after a graft rupture, the other knee after its injury, until it is followed."""
    asked = {
        "graft_rupture": (episode.knee, "revision"),
        "other_knee_acl_injury": (Limb(episode.knee).opposite.value, "waiting"),
    }
    wanted = [(*asked[one.code], one) for one in events if one.code in asked]
    if not wanted:
        return []
    later = care.Episode.objects.filter(patient_id=episode.patient_id).exclude(pk=episode.pk)
    opened = list(later.values_list("knee", "opened_on", "care_state"))
    return [
        Offer(knee=knee, kind=kind, because=f"{event_words(event=one)}, {words.day(one.on)}")
        for knee, kind, one in wanted
        if not any(
            mine == knee and (on >= one.on or state in care.OPEN_CARE_STATES)
            for mine, on, state in opened
        )
    ]
