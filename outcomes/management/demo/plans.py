"""The plans of the demo: levels set by week, and the proposals that were answered since."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING, Final
from uuid import uuid4

from clinic import clock
from clinic.models.care import Episode
from clinic.models.places import Site
from clinic.permissions import Actor
from clinic.services.rules import Refused
from outcomes.management.demo import stories
from outcomes.models.plans import REASONS
from outcomes.queries.next_steps import Gathered, gather, proposals_of
from outcomes.services.plans import Given, answer

if TYPE_CHECKING:
    from outcomes.management.demo.loader import Loader

LATELY: Final = timedelta(weeks=9)
LEVELS: Final = {
    "hip_control": (
        (2, "side_lying_leg_raise"), (6, "supported_standing_hip_hold"), (9, "standing_hip_hold"),
        (12, "lateral_heel_touch"), (20, "forward_heel_touch"),
    ),
    "quadriceps_loading": (
        (0, "quad_set_and_leg_raise"), (4, "two_leg_squat_or_press"),
        (8, "split_squat_and_step_up"), (14, "one_leg_press_or_squat"),
        (24, "heavy_one_leg_strength"),
    ),
}  # fmt: skip
"""From which week which level is set, where none is set yet."""


def plan(
    *, loader: Loader, person: stories.Person, site: Site, episode: Episode, week: int, on: date
) -> None:
    """At the visits of the last weeks: set the levels once, then answer what is proposed."""
    if on < clock.today(site) - LATELY or week < 2:
        return
    fresh = Episode.objects.select_related("patient", "site").get(pk=episode.pk)
    with (
        clock.held_at(loader.moment(site, on, hour=17)),
        loader.acting(person.row["clinician"], site) as actor,
    ):
        found = gather(episode=fresh)
        for code, levels in LEVELS.items():
            if code not in found.steps:
                level = [level for since, level in levels if since <= week][-1]
                _answer(actor, fresh, found, code, level=level)
        _answer_proposals(actor, fresh, person, week)


def _answer_proposals(actor: Actor, episode: Episode, person: stories.Person, week: int) -> None:
    """Most steps are accepted, now and then one is declined."""
    found = gather(episode=episode)
    for code, proposal in proposals_of(gathered=found).items():
        if proposal.move == "stay" or code not in found.steps:
            continue
        declined = (person.number + week) % 4 == 0
        reason = REASONS[person.number % len(REASONS)][0] if declined else ""
        _answer(actor, episode, found, code, reason=reason, seen=proposal.mark)
        found = gather(episode=episode)


def _answer(
    actor: Actor,
    episode: Episode,
    found: Gathered,
    code: str,
    *,
    level: str = "",
    reason: str = "",
    seen: str = "",
) -> None:
    """One answer as the page posts it; what a limit blocks is left alone."""
    step = found.steps.get(code)
    said = "declined" if reason else "accepted" if seen else "set"
    given = Given(
        progression=code, answer=said, reason=reason, plan=step.pk if step else 0, level=level,
        sets=None, count=None, load_kg=None, at=None, days_a_week=None, note="",
    )  # fmt: skip
    try:
        answer(actor=actor, key=uuid4(), episode=episode, seen=seen, given=given)
    except Refused:
        return
