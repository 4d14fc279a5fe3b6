"""What happened to the demo's knees beside their visits: events, told on their days."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING, Final
from uuid import uuid4

from clinic import clock
from clinic.models.care import Episode
from clinic.permissions import Actor
from outcomes.core.events import BY_CODE, limb_of
from outcomes.core.values import Limb
from outcomes.management.demo.stories import RUPTURED
from outcomes.services import events

if TYPE_CHECKING:
    from outcomes.management.demo.chapters import Scene


@dataclass(frozen=True, kw_only=True, slots=True)
class Told:
    """One event: in which week since the index date, or how many weeks ago where below zero."""

    event: str
    week: int
    detail: str = ""
    early: bool = False
    ends: bool = False
    note: str = ""


STORIES: Final[Mapping[str, tuple[Told, ...]]] = {
    "without_surgery": (
        Told(event="giving_way", week=8, note="Stepping off a kerb."),
        Told(event="giving_way", week=-2, note="Turning in the kitchen."),
    ),
    "cyclops_removed": (Told(event="reoperation", week=16, detail="cyclops_removal"),),
    "ruptures": (
        Told(event="return_to_training", week=36),
        Told(event="graft_rupture", week=-RUPTURED, ends=True, note="Landed from a jump."),
    ),
    "early_returner": (
        Told(event="return_to_running", week=9, early=True),
        Told(event="return_to_competition", week=31, early=True, note="Two matches already."),
    ),
    "second_knee": (Told(event="other_knee_acl_injury", week=-15),),
    "strong": (Told(event="return_to_running", week=14), Told(event="return_to_training", week=38)),
    "setback": (Told(event="infection", week=3, detail="wound", note="Tablets for ten days."),),
    "follow_up": (
        Told(event="clot", week=2, detail="leg"),
        Told(event="return_to_training", week=40),
        Told(event="return_to_competition", week=46),
    ),
    "overloader": (Told(event="giving_way", week=-1, note="After three days of stairs."),),
}


def happen(scene: Scene) -> None:
    """Every event of the person's story that has come."""
    for told in STORIES.get(scene.person.story, ()):
        start = scene.index if told.week >= 0 else scene.today
        on = start + timedelta(weeks=told.week, days=1 if told.week >= 0 else 0)
        if on <= scene.today:
            _record(scene, told, on)


def _record(scene: Scene, told: Told, on: date) -> None:
    kind, staff = BY_CODE[told.event], scene.loader.staff[scene.person.row["clinician"]]
    row = Episode.objects.select_related("site").get(pk=scene.episode.pk)
    with clock.held_at(scene.loader.moment(scene.site, on, hour=15)):
        events.record(
            actor=Actor(staff_id=staff.pk, site_id=scene.site.pk, request_id=uuid4()),
            key=uuid4(),
            episode=row,
            seen=row.version,
            happened=events.Happened(
                event=told.event,
                date=on,
                limb=limb_of(side=kind.sides[0], knee=Limb(row.knee)).value,
                detail=told.detail,
                earlier_than_advised=told.early,
                note=told.note,
            ),
            ends=told.ends,
        )
