"""The day at a site: who is expected and who is here; never a measurement."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from django.db.models import Prefetch, QuerySet

from clinic import words
from clinic.models.care import CAME_STATES, OPEN_CARE_STATES, Episode, Visit
from clinic.models.places import Site
from clinic.queries.care import week_words

_ORDER = {"arrived": 0, "open": 1, "booked": 2, "signed": 3, "missed": 4, "cancelled": 5}


@dataclass(frozen=True, kw_only=True, slots=True)
class DayRow:
    """One visit of the day in words."""

    visit: Visit
    time: str
    day: str
    born: str
    knees: Sequence[str]
    state: str
    clinician: str
    mine: bool
    iso: str
    openable: bool
    markable: bool
    keyable: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Day:
    """A day's visits at a site, one's own first, and earlier ones that nobody has marked."""

    mine: Sequence[DayRow]
    others: Sequence[DayRow]
    unmarked: Sequence[DayRow]
    expected: int
    here: int

    def visit_ids(self) -> list[int]:
        """Every visit that is shown."""
        return [row.visit.pk for row in (*self.mine, *self.others, *self.unmarked)]


def day_of(*, site: Site, on: date, today: date, staff_id: int) -> Day:
    """Who is expected and who is here on a day. At most six statements.

    Those who wait come first, then who is being seen, then who is expected by time.
    """
    rows = sorted(
        (_row(visit, site, today, staff_id) for visit in _visits().filter(site=site, date=on)),
        key=lambda row: (_ORDER[row.visit.state], row.time or "~", row.visit.pk),
    )
    unmarked = _visits().filter(site=site, date__lt=today, state="booked").order_by("date", "pk")
    states = [row.visit.state for row in rows]
    return Day(
        mine=[row for row in rows if row.mine],
        others=[row for row in rows if not row.mine],
        unmarked=[_row(visit, site, today, staff_id) for visit in unmarked] if on == today else [],
        expected=states.count("booked"),
        here=states.count("arrived") + states.count("open"),
    )


def _visits() -> QuerySet[Visit]:
    followed = Episode.objects.filter(care_state__in=OPEN_CARE_STATES).order_by("knee")
    return Visit.objects.select_related("patient", "clinician").prefetch_related(
        Prefetch("patient__episodes", queryset=followed.prefetch_related("surgeries"))
    )


def _row(visit: Visit, site: Site, today: date, staff_id: int) -> DayRow:
    state = visit.get_state_display()
    if visit.state == "arrived" and visit.arrived_at:
        state = f"arrived {visit.arrived_at.astimezone(ZoneInfo(site.zone)):%H:%M}"
    return DayRow(
        visit=visit,
        time=f"{visit.time:%H:%M}" if visit.time else "",
        day=words.day(visit.date),
        born=words.day(visit.patient.birth_date),
        knees=[
            f"{episode.knee} knee, {week_words(episode=episode, on=visit.date)}"
            for episode in visit.patient.episodes.all()
        ],
        state={"booked": "expected", "open": "being seen"}.get(state, state),
        clinician=visit.clinician.full_name if visit.clinician else "",
        mine=visit.clinician_id == staff_id,
        iso=visit.date.isoformat(),
        openable=visit.state in ("booked", "arrived", "open", "missed") and visit.date <= today,
        markable=visit.state in ("booked", "arrived", "missed"),
        keyable=visit.state in CAME_STATES and visit.date == today,
    )
