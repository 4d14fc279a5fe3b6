"""What else happens to the demo's people beside their visits, story by story."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date, time, timedelta
from typing import TYPE_CHECKING
from uuid import uuid4

from clinic import clock
from clinic.http import Unprocessable
from clinic.models.care import Episode, Visit
from clinic.models.places import Site
from clinic.permissions import Actor
from clinic.services import care, episodes, handovers, surgeries, visits
from clinic.services.details import Instruction, Operation
from outcomes.core.values import MilestoneState
from outcomes.management.demo import happenings, stories
from outcomes.management.demo.stories import Person, Test
from outcomes.services import decisions

if TYPE_CHECKING:
    from outcomes.management.demo.loader import Loader

GOAL_WORDS: Mapping[str, str] = {
    "pivoting": "Play a whole match again without thinking of the knee.",
    "sideways": "Back on court with the usual partner.",
    "straight_line": "Run the river loop on Sundays.",
    "no_sport": "Walk stairs and hills without pain.",
}
MILESTONES = ("step_down_work", "running", "hopping_landing", "competition")
AGREED: Mapping[str, str] = {
    "step_down_work": "Lateral step-downs from 10 cm, three days a week.",
    "running": "Run and walk in turns, every other day, ten sessions.",
    "hopping_landing": "Two-leg landings first, then one-leg, thirty contacts.",
    "competition": "Training with contact, minutes limited.",
}
LIMITS: Mapping[str, tuple[tuple[str, str, int], ...]] = {
    "meniscal_repair": (("loaded_flexion", "no loaded bend beyond 90°", 16),),
    "meniscal_repair_complex": (
        ("loaded_flexion", "no loaded bend beyond 90°", 20),
        ("weight_bearing", "half weight until week 6", 6),
    ),
    "meniscal_root_repair": (("loaded_flexion", "no loaded bend beyond 70°", 16),),
}
"""Kind, words and week until which: invented instructions, an example of what a surgeon says."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Scene:
    """Who, where and when: what every chapter needs."""

    loader: Loader
    person: Person
    site: Site
    episode: Episode
    index: date

    @property
    def today(self) -> date:
        """The site's local date."""
        return clock.today(self.site)

    def clinician(self) -> Actor:
        """The responsible clinician in a request of their own."""
        staff = self.loader.staff[self.person.row["clinician"]]
        return Actor(staff_id=staff.pk, site_id=self.site.pk, request_id=uuid4())

    def row(self) -> Episode:
        """The episode as it stands now."""
        return Episode.objects.get(pk=self.episode.pk)


def tell(*, loader: Loader, person: Person, site: Site, episode: Episode, index: date) -> None:
    """The story's own chapter, and the next booked visit."""
    scene = Scene(loader=loader, person=person, site=site, episode=episode, index=index)
    happenings.happen(scene)
    CHAPTERS.get(person.story, _nothing)(scene)
    if person.story not in ("discharged", "missed_visits", "follow_up", "ruptures"):
        _book(scene)


TOLD_AFTER = timedelta(days=2)
"""When the operation note has come."""
LATEST = {"step_down_work": 13, "running": 20, "hopping_landing": 28}
"""Week from which a demo clinician goes ahead although a criterion is missing, with the reason."""


def decide(*, loader: Loader, person: Person, site: Site, episode: Episode, week: int) -> None:
    """The next milestone, decided at this visit when its criteria are recorded as met, or late."""
    scene = Scene(loader=loader, person=person, site=site, episode=episode, index=date.min)
    taken = set(scene.row().decisions.values_list("milestone", flat=True))
    code = next((code for code in MILESTONES if code not in taken), None)
    if code is None or week < 8:
        return
    row = Episode.objects.select_related("patient", "site", "status").get(pk=episode.pk)
    early = person.story == "early_returner" and code == "competition" and week >= 30
    late = early or week >= LATEST.get(code, 999)
    if not late and row.status.next_milestone == code and _is_missing_some(row):
        return
    try:
        evidence = decisions.evidence_today(episode=row, milestone=code)
    except Unprocessable:
        return
    if evidence.found.blocked_by or evidence.to_confirm or row.care_state != "active":
        return
    met = evidence.found.state is MilestoneState.RECORDED_AS_MET
    if not met and not late:
        return
    decisions.record_decision(
        actor=scene.clinician(),
        key=uuid4(),
        episode=row,
        seen=evidence.mark,
        decided=decisions.Decided(
            milestone=code,
            course="begun_early" if early else "goes_ahead",
            agreed=AGREED[code],
            took_part=("patient", "surgeon") if code == "competition" else ("patient",),
            why_unmet="" if met else "Close, and stable over two visits; load stays low.",
            risk_discussed="A second injury, and what the tests cannot show.",
            recheck_on=scene.today + timedelta(weeks=6),
        ),
    )


def _is_missing_some(row: Episode) -> bool:
    """Whether status today, as the visit left it, still misses a criterion: no need to judge."""
    return row.status.criteria_met < row.status.criteria_all


def _nothing(scene: Scene) -> None:
    """No more than the visits."""


def limits(*, loader: Loader, person: Person, site: Site, episode: Episode, index: date) -> None:
    """The surgeon's limits as the operation note tells them; every fifth note tells none."""
    scene = Scene(loader=loader, person=person, site=site, episode=episode, index=index)
    if scene.person.number % 5 == 0:
        return
    for procedure in scene.person.row["procedures"].split():
        for kind, limit, week in LIMITS.get(procedure, ()):
            with clock.held_at(scene.loader.moment(scene.site, scene.index + TOLD_AFTER)):
                care.record_limit(
                    actor=scene.clinician(),
                    key=uuid4(),
                    patient_id=scene.episode.patient_id,
                    episode_id=scene.episode.pk,
                    said=Instruction(
                        kind=kind,
                        limit=limit,
                        since=scene.index,
                        until=scene.index + timedelta(weeks=week),
                        told_by=f"{scene.person.row['surgeon']}, operation note",
                        told_on=scene.index + TOLD_AFTER,
                        procedure=procedure,
                    ),
                )


def _book(scene: Scene) -> None:
    """The next visit; every sixth person comes today, and some of those are here already."""
    number = scene.person.number
    today = number % 6 == 0 and scene.today.weekday() < 5
    on = scene.today if today else scene.today + timedelta(days=3 + number % 11)
    if today and Visit.objects.filter(patient_id=scene.episode.patient_id, date=on).exists():
        on += timedelta(days=7)
    actor = scene.clinician()
    visits.book(
        actor=actor,
        key=uuid4(),
        patient_id=scene.episode.patient_id,
        site_id=scene.site.pk,
        on=on,
        at=time(8 + number % 9, 30 * (number % 2)),
        clinician_id=actor.staff_id,
    )
    booked = Visit.objects.filter(patient_id=scene.episode.patient_id, state="booked").first()
    if booked and on == scene.today and number % 12 == 0:
        visits.arrive(actor=actor, key=uuid4(), visit_id=booked.pk, seen=booked.version)


def _care(scene: Scene, state: str, reason: str, *, until: date | None = None) -> None:
    care.set_care(
        actor=scene.clinician(),
        key=uuid4(),
        patient_id=scene.episode.patient_id,
        episode_id=scene.episode.pk,
        seen=scene.row().version,
        state=state,
        reason=reason,
        until=until,
    )


def _discharged(scene: Scene) -> None:
    _care(scene, "discharged", "Goal reached; own exercise plan given.")


def _on_hold(scene: Scene) -> None:
    _care(scene, "on_hold", "Works abroad.", until=scene.today + timedelta(weeks=5))


def _follow_up(scene: Scene) -> None:
    _care(scene, "follow_up_only", "Two-year follow-up.")


def _second_knee(scene: Scene) -> None:
    """The other knee is injured and operated eight weeks ago: two episodes, one visit."""
    person, index = scene.person, scene.today - timedelta(weeks=8)
    with clock.held_at(scene.loader.moment(scene.site, index)):
        operation = scene.loader.operation(person, index, performed=True)
        details = scene.loader.episode_details(person, index)
        episodes.add_episode(
            actor=scene.clinician(),
            key=uuid4(),
            patient_id=scene.episode.patient_id,
            site_id=scene.site.pk,
            episode=replace(details, knee=person.other, other_limb="earlier_surgery"),
            operation=operation,
        )
    for week in (2, 4, 6):
        on = index + timedelta(weeks=week, days=1)
        tests = [
            Test(measure="pain_worst_24h", texts={person.other: str(5 - week // 2)}),
            Test(
                measure="effusion",
                texts={person.other: "2+" if week < 6 else "1+"},
                conditions={"moment": "before"},
            ),
            Test(
                measure="knee_flexion",
                texts={person.other: str(96 + 4 * week), person.involved: "141"},
            ),
            Test(
                measure="knee_extension",
                texts={person.other: f"lacks {6 - week // 2}", person.involved: "straight"},
            ),
        ]
        patient = scene.episode.patient
        scene.loader.see(person, scene.site, patient, week, on, tests)


def _converts(scene: Scene) -> None:
    """Treated without surgery, then operated: the kind changes and the history stays."""
    operated = scene.index + timedelta(weeks=stories.CONVERTED)
    with clock.held_at(scene.loader.moment(scene.site, operated)):
        surgeries.record_surgery(
            actor=scene.clinician(),
            key=uuid4(),
            patient_id=scene.episode.patient_id,
            episode_id=scene.episode.pk,
            seen=scene.row().version,
            operation=Operation(
                operation="reconstruction",
                state="performed",
                date=operated,
                graft="hamstring",
                graft_from="same_limb",
                procedures=(),
            ),
        )


def _hand_over(scene: Scene) -> None:
    """Two weeks of cover by a colleague, in two lines."""
    cover = "bram" if scene.person.row["clinician"] != "bram" else "tess"
    if scene.person.row["site"] == "millbank":
        cover = "yuna" if scene.person.row["clinician"] != "yuna" else "pavo"
    actor = scene.clinician()
    handovers.hand_over(
        actor=actor,
        key=uuid4(),
        giver_id=actor.staff_id,
        taker_id=scene.loader.staff[cover].pk,
        since=scene.today,
        until=scene.today + timedelta(weeks=2),
        patients=[
            handovers.Lines(
                episode_id=scene.episode.pk,
                aim_now="Extension first, then load.",
                watch_for="Effusion after new load.",
            )
        ],
    )


CHAPTERS: Mapping[str, Callable[[Scene], None]] = {
    "discharged": _discharged,
    "on_hold": _on_hold,
    "follow_up": _follow_up,
    "second_knee": _second_knee,
    "converts": _converts,
    "extension_loss": _hand_over,
}
