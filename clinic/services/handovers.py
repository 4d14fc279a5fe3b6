"""Cover: patients handed to a colleague for some days, each with two lines; seen and taken over."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date
from uuid import UUID

from django.urls import reverse

from clinic import audit, clock, words
from clinic.models.care import Episode
from clinic.models.handovers import Handover
from clinic.models.people import Patient
from clinic.models.places import Membership, Site
from clinic.permissions import Actor, Role
from clinic.services import acts, rules


@dataclass(frozen=True, kw_only=True, slots=True)
class Lines:
    """What the covering clinician must know of one episode, in two lines."""

    episode_id: int
    aim_now: str
    watch_for: str


def hand_over(
    *,
    actor: Actor,
    key: UUID,
    giver_id: int,
    taker_id: int,
    since: date,
    until: date,
    patients: Sequence[Lines],
) -> str:
    """Hand the giver's patients to a colleague from one day until another, both included.

    Raises ``Refused``: nobody chosen, days in the wrong order or past, a colleague who is not a
    clinician at the site of an episode, or an episode that is not the giver's.
    """

    def do() -> str:
        rules.refuse_if(
            _day_errors(actor=actor, since=since, until=until),
            _people_errors(episodes=_held(patients), giver_id=giver_id, taker_id=taker_id),
        )
        shared = {"giver_id": giver_id, "taker_id": taker_id, "recorded_at": clock.now()}
        made = [
            Handover.objects.create(**asdict(lines), **shared, since=since, until=until).pk
            for lines in patients
        ]
        audit.write(actor=actor, act="hand_over", subject="handover", subject_ids=made)
        return reverse("handovers")

    body = {
        "act": "hand_over",
        "giver": giver_id,
        "taker": taker_id,
        "since": since,
        "until": until,
        "patients": [asdict(lines) for lines in patients],
    }
    return acts.once(actor=actor, key=key, body=body, patient_id=None, do=do)


def _held(patients: Sequence[Lines]) -> Sequence[Episode]:
    """The episodes, with their patients' rows locked in the order of their ids."""
    ids = [lines.episode_id for lines in patients]
    rows = list(Episode.objects.filter(pk__in=ids).select_related("site").order_by("pk"))
    owners = Patient.objects.filter(pk__in=[row.patient_id for row in rows]).order_by("pk")
    list(owners.select_for_update())
    return rows


def take_over(*, actor: Actor, key: UUID, handover_id: int) -> str:
    """The covering clinician has seen the two lines and takes over, under their own name.

    Raises ``Refused`` alike for a hand-over to somebody else and for one that does not exist.
    """
    mine = Handover.objects.filter(pk=handover_id, taker_id=actor.staff_id)

    def do() -> str:
        if not mine.exists():
            raise rules.Refused({"": "Nothing was handed to you under this number."})
        if mine.filter(taken_over_at__isnull=True).update(taken_over_at=clock.now()):
            audit.write(actor=actor, act="take_over", subject="handover", subject_ids=[handover_id])
        return reverse("handovers")

    body = {"act": "take_over", "handover": handover_id}
    patient_id = mine.values_list("episode__patient_id", flat=True).first()
    return acts.once(actor=actor, key=key, body=body, patient_id=patient_id, do=do)


def _day_errors(*, actor: Actor, since: date, until: date) -> rules.Errors:
    if until < since:
        return {"until": f"The last day lies before the first, {words.day(since)}."}
    if until < clock.today(Site.objects.get(pk=actor.site_id)):
        return {"until": f"{words.day(until)} lies in the past."}
    return {}


def _people_errors(*, episodes: Sequence[Episode], giver_id: int, taker_id: int) -> rules.Errors:
    if not episodes:
        return {"": "Choose at least one patient and write both lines."}
    if taker_id == giver_id:
        return {"taker": "Choose a colleague: these are the same person's patients already."}
    if any(episode.responsible_id != giver_id for episode in episodes):
        return {"": "One of these patients has another responsible clinician now."}
    works_at = set(
        Membership.objects.filter(
            staff_id=taker_id, role=Role.CLINICIAN.value, ended_on__isnull=True
        ).values_list("site_id", flat=True)
    )
    elsewhere = sorted({e.site.name for e in episodes if e.site_id not in works_at})
    if elsewhere:
        return {"taker": f"This colleague is no clinician at {words.listed(elsewhere)}."}
    return {}
