"""Events of an episode: recorded, corrected and withdrawn as rows; nothing else happens unsaid.

The one thing that an event may do beside being on record is said on its form and chosen there:
a graft rupture can end the episode.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import date, timedelta
from typing import Any, Final
from uuid import UUID

from django.urls import reverse

from clinic import audit, clock, words
from clinic.http import Conflict
from clinic.models.care import OPEN_CARE_STATES, Episode
from clinic.permissions import Action, Actor
from clinic.queries.care import index_surgery
from clinic.services import acts, care, rules
from outcomes.core.events import BY_CODE, RETURNS, event_words, limb_of
from outcomes.core.values import Event, Limb
from outcomes.models.events import Event as EventRow
from outcomes.queries.events import events_of
from outcomes.services import status

UNKNOWN_INJURY: Final = timedelta(days=365)
"""How far before an episode was opened its events may lie while the day of the injury is not
known (house setting)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Happened:
    """What is recorded: kind, day, side, what was done or hurt, and a note in own words."""

    event: str
    date: date
    limb: str
    detail: str = ""
    earlier_than_advised: bool = False
    note: str = ""


def record(
    *, actor: Actor, key: UUID, episode: Episode, seen: int, happened: Happened, ends: bool = False
) -> str:
    """Keep an event and judge the episode again; answers with the address of its events.

    ``ends``: a graft rupture ends the episode, as the person chose. Raises ``Refused`` with a
    sentence for each field and ``Conflict`` when the episode changed since ``seen``.
    """

    def do() -> str:
        fresh = _episode(episode.pk)
        rules.refuse_if(_errors(episode=fresh, happened=happened))
        acts.bump(fresh, seen=seen)
        if ends and fresh.care_state in OPEN_CARE_STATES:
            _end(actor=actor, episode=fresh, happened=happened)
        row = _insert(actor=actor, episode=fresh, happened=happened)
        _kept(actor=actor, rows=[row], note=row.event)
        return reverse("events", args=[fresh.uid])

    body = {"act": "record_event", "episode": episode.pk, "seen": seen, "ends": ends}
    return _once(actor=actor, key=key, episode=episode, body=body | asdict(happened), do=do)


def correct(*, actor: Actor, key: UUID, event: EventRow, happened: Happened, reason: str) -> str:
    """A new row in an event's place, with the reason; its kind stays. Answers with its address.

    Raises ``Refused``, and ``Conflict`` when it was corrected or withdrawn meanwhile.
    """

    def do() -> str:
        fresh = _episode(event.episode_id)
        _refuse_superseded(event)
        rules.refuse_if(
            _errors(episode=fresh, happened=happened, but=event), _unchanged(event, happened)
        )
        acts.bump(fresh)
        row = _insert(
            actor=actor, episode=fresh, happened=happened, old=event, kind="corrected",
            reason=reason,
        )  # fmt: skip
        _kept(actor=actor, rows=[event, row], note="corrected")
        return reverse("event", args=[row.uid])

    body = {"act": "correct_event", "event": event.pk, "reason": reason}
    return _once(actor=actor, key=key, episode=event.episode, body=body | asdict(happened), do=do)


def withdraw(*, actor: Actor, key: UUID, event: EventRow, reason: str) -> str:
    """A new row that takes an event out of every judgement; it stays to be read, with the reason.

    An episode that was ended with it stays as it is: care is taken up again as an act of its own.
    """

    def do() -> str:
        fresh = _episode(event.episode_id)
        _refuse_superseded(event)
        acts.bump(fresh)
        was = Happened(
            event=event.event,
            date=event.date,
            limb=event.limb,
            detail=event.detail,
            earlier_than_advised=event.earlier_than_advised,
        )
        row = _insert(
            actor=actor, episode=fresh, happened=was, old=event, kind="withdrawn", reason=reason
        )
        _kept(actor=actor, rows=[event, row], note="withdrawn")
        return reverse("event", args=[row.uid])

    body = {"act": "withdraw_event", "event": event.pk, "reason": reason}
    return _once(actor=actor, key=key, episode=event.episode, body=body, do=do)


def _once(*, actor: Actor, key: UUID, episode: Episode, body: dict[str, Any], do: Any) -> str:
    return acts.once(actor=actor, key=key, body=body, patient_id=episode.patient_id, do=do)


def _episode(episode_id: int) -> Episode:
    rows = Episode.objects.select_related("patient", "site").prefetch_related("surgeries")
    return rows.get(pk=episode_id)


def _insert(
    *,
    actor: Actor,
    episode: Episode,
    happened: Happened,
    old: EventRow | None = None,
    kind: str = "entered",
    reason: str = "",
) -> EventRow:
    return EventRow.objects.create(
        episode=episode,
        kind=kind,
        supersedes=old,
        reason=reason,
        recorded_at=clock.now(),
        recorded_by_id=actor.staff_id,
        **asdict(happened),
    )


def _kept(*, actor: Actor, rows: list[EventRow], note: str) -> None:
    """The audit row of the act, and the judgement that follows from it."""
    audit.write(
        actor=actor,
        act=Action.RECORD_EVENT.value,
        subject="event",
        subject_ids=[row.pk for row in rows],
        note=note,
    )
    status.rebuild(episode_ids=[rows[-1].episode_id])


def _end(*, actor: Actor, episode: Episode, happened: Happened) -> None:
    care.change(
        actor=actor,
        episode=episode,
        state="discharged",
        reason=f"Graft rupture of {words.day(happened.date)}",
        until=None,
    )


def _refuse_superseded(event: EventRow) -> None:
    if event.kind == "withdrawn" or EventRow.objects.filter(supersedes_id=event.pk).exists():
        raise Conflict("This event was corrected or withdrawn meanwhile. Open the page afresh.")


def _unchanged(event: EventRow, happened: Happened) -> rules.Errors:
    same = all(getattr(event, name) == value for name, value in asdict(happened).items())
    return {"": "Nothing differs from what is on record."} if same else {}


def _errors(*, episode: Episode, happened: Happened, but: EventRow | None = None) -> rules.Errors:
    """Everything that cannot be: the kind, its day, side and detail, or that it is there already.

    ``but`` is the event that is corrected.
    """
    kind = BY_CODE.get(happened.event)
    if kind is None:
        return {"": "Choose what happened."}
    errors: rules.Errors = {}
    sides = {limb_of(side=side, knee=Limb(episode.knee)).value for side in kind.sides}
    if happened.limb not in sides:
        errors["limb"] = "Choose the side."
    if (happened.detail not in kind.details) if kind.details else bool(happened.detail):
        errors["detail"] = "Choose one of the list."
    if happened.earlier_than_advised and happened.event not in RETURNS:
        errors["earlier_than_advised"] = "Only a return can be earlier than advised."
    return errors or _date_errors(episode, happened) or _double_errors(episode, happened, but)


def _date_errors(episode: Episode, happened: Happened) -> rules.Errors:
    """Not in the future, not before the injury, and after the operation where it follows one."""
    day = happened.date
    if day > clock.today(episode.site):
        return {"date": f"{words.day(day)} lies in the future: record it once it has happened."}
    injury = episode.injury_date
    if injury and day < injury:
        return {"date": f"{words.day(day)} lies before the injury on {words.day(injury)}."}
    if injury is None and day < episode.opened_on - UNKNOWN_INJURY:
        return {
            "date": f"{words.day(day)} lies more than a year before this episode was opened, and "
            "the day of the injury is not known: ask for it, or check the year."
        }
    if not BY_CODE[happened.event].after_operation:
        return {}
    operation = index_surgery(episode=episode)
    if operation is None or episode.kind == "without_surgery":
        return {"": "No operation of this knee is on record: record it with the operations first."}
    if operation.date and day < operation.date:
        return {
            "date": f"{words.day(day)} lies before the operation on {words.day(operation.date)}."
        }
    return {}


def _double_errors(episode: Episode, happened: Happened, but: EventRow | None) -> rules.Errors:
    """The same kind, detail and side on the same day counts once, also among the operations."""
    new = Event(
        code=happened.event, limb=Limb(happened.limb), on=happened.date, detail=happened.detail
    )
    for one in events_of(episodes=[episode])[episode.pk]:
        same = (one.code, one.limb, one.on, one.detail) == (new.code, new.limb, new.on, new.detail)
        if same and (but is None or one.ref != but.pk):
            where = "" if one.ref else " with the operations"
            return {"": f"{event_words(event=one).capitalize()} of that day is on record{where}."}
    return {}
