"""Moving episodes to another protocol: kept with its reason, judged again at once."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from uuid import UUID

from django.urls import reverse

from clinic import audit
from clinic.models.care import OPEN_CARE_STATES, Episode
from clinic.models.people import Patient
from clinic.permissions import Actor
from clinic.services import acts, rules
from clinic.services.episodes import keep
from outcomes.queries.catalogue import in_force
from outcomes.services import status


def move(
    *,
    actor: Actor,
    key: UUID,
    protocol: str,
    site_ids: Collection[int],
    chosen: Mapping[UUID, int],
    reason: str,
) -> str:
    """Let episodes of these sites follow a protocol like ``own_ours@1`` from now on.

    ``chosen`` maps each episode to the version that was seen: another one is a ``Conflict``, and
    then none is moved. What was decided keeps the version that it was decided under. Raises
    ``Refused``: nobody chosen, no reason, an episode that is not followed at these sites or follows
    the protocol already.
    """

    def do() -> str:
        rows = _held(chosen, site_ids)
        rules.refuse_if(_errors(rows, chosen=chosen, protocol=protocol, reason=reason))
        for row in rows:
            acts.bump(row, seen=chosen[row.uid])
            keep(
                actor=actor,
                episode=row,
                part="protocol",
                before=row.protocol,
                after=protocol,
                reason=reason.strip(),
            )
        ids = [row.pk for row in rows]
        Episode.objects.filter(pk__in=ids).update(protocol=protocol)
        audit.write(
            actor=actor, act="move_episodes", subject="episode", subject_ids=ids, note=protocol
        )
        status.rebuild(episode_ids=ids)
        return reverse("protocol", args=protocol.split("@"))

    body = {
        "act": "move_episodes",
        "protocol": protocol,
        "chosen": sorted((str(uid), seen) for uid, seen in chosen.items()),
        "reason": reason,
    }
    return acts.once(actor=actor, key=key, body=body, patient_id=None, do=do)


def _held(chosen: Collection[UUID], site_ids: Collection[int]) -> list[Episode]:
    """The episodes, read after their patients' rows were locked in the order of their ids."""
    rows = Episode.objects.filter(
        uid__in=chosen, site_id__in=site_ids, care_state__in=OPEN_CARE_STATES
    )
    owners = Patient.objects.filter(pk__in=rows.values("patient_id")).order_by("pk")
    list(owners.select_for_update().values_list("pk"))
    return list(rows.select_related("site").order_by("pk"))


def _errors(
    rows: Collection[Episode], *, chosen: Collection[UUID], protocol: str, reason: str
) -> rules.Errors:
    if protocol not in in_force().protocols:
        return {"": "This protocol is not kept. Load the list again."}
    if not chosen:
        return {"": "Tick at least one episode."}
    if len(rows) < len(chosen):
        return {"": "One of these episodes is not followed at your sites any more. Choose again."}
    if any(row.protocol == protocol for row in rows):
        return {"": "One of these episodes follows this protocol already. Choose again."}
    return {} if reason.strip() else {"reason": "Write why they are moved."}
