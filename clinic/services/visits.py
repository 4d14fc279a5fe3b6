"""Visits: booked, arrived, opened, missed, cancelled. Signing belongs to the ledger.

Only a booked visit may lie ahead. A change of a visit makes the patient's status due.
"""

from __future__ import annotations

from datetime import date, time
from typing import Any
from uuid import UUID

from django.urls import reverse

from clinic import audit, clock, words
from clinic.models.care import Visit
from clinic.models.people import Patient
from clinic.models.places import Site
from clinic.permissions import Actor
from clinic.queries.care import earliest_injury
from clinic.services import acts, episodes, rules

YEARS_BEFORE_INJURY = 2
"""How long before the earliest injury a visit may lie: our own limit, against typed years."""

_FROM = {
    "arrived": ("booked", "missed"),
    "missed": ("booked",),
    "cancelled": ("booked", "arrived"),
    "booked": ("arrived", "missed"),
}
_WORD = {
    "booked": "expected",
    "arrived": "arrived",
    "open": "opened by a clinician",
    "signed": "signed",
    "missed": "missed",
    "cancelled": "cancelled",
}


def book(
    *,
    actor: Actor,
    key: UUID,
    patient_id: int,
    site_id: int,
    on: date,
    at: time | None,
    clinician_id: int | None,
) -> str:
    """Book a visit for today or later. Answers with the address of that day's list."""

    def do() -> str:
        if on < clock.today(Site.objects.get(pk=site_id)):
            raise rules.Refused(
                {"date": f"{words.day(on)} lies in the past. A clinician opens a past visit."}
            )
        visit = Visit.objects.create(
            patient_id=patient_id,
            site_id=site_id,
            date=on,
            time=at,
            clinician_id=clinician_id,
            state="booked",
        )
        episodes.status_is_due(patient_id=patient_id)
        audit.write(actor=actor, act="book_visit", subject="visit", subject_ids=[visit.pk])
        return _day(on)

    body = {
        "act": "book_visit",
        "patient": patient_id,
        "site": site_id,
        "on": on,
        "at": at,
        "clinician": clinician_id,
    }
    return acts.once(actor=actor, key=key, body=body, patient_id=patient_id, do=do)


def arrive(*, actor: Actor, key: UUID, visit_id: int, seen: int) -> str:
    """The patient is here. On the day itself, or later when it was forgotten."""
    return _mark(actor=actor, key=key, visit_id=visit_id, seen=seen, state="arrived")


def miss(*, actor: Actor, key: UUID, visit_id: int, seen: int) -> str:
    """The patient did not come. On the day itself or later."""
    return _mark(actor=actor, key=key, visit_id=visit_id, seen=seen, state="missed")


def cancel(*, actor: Actor, key: UUID, visit_id: int, seen: int) -> str:
    """The visit does not take place; only one that no clinician has opened."""
    return _mark(actor=actor, key=key, visit_id=visit_id, seen=seen, state="cancelled")


def expect(*, actor: Actor, key: UUID, visit_id: int, seen: int) -> str:
    """Take back "arrived" or "missed": the patient is expected again."""
    return _mark(actor=actor, key=key, visit_id=visit_id, seen=seen, state="booked")


def open_visit(*, actor: Actor, key: UUID, patient_id: int, site_id: int, on: date) -> UUID:
    """Open a visit on a local date, also without the front desk; the uid of its row.

    Takes the day's arrived or booked visit where there is one; a visit already open that day is
    the answer as it is. Raises ``Refused`` in the future, before birth, and more than 24 months
    before the earliest injury on record.
    """

    def do() -> str:
        rules.refuse_if(_date_errors(patient_id=patient_id, site_id=site_id, on=on))
        visit = _running(patient_id=patient_id, on=on) or Visit(patient_id=patient_id, date=on)
        if visit.state != "open":
            if visit.pk:
                acts.bump(visit)
            visit.site_id, visit.state, visit.opened_at = site_id, "open", clock.now()
            visit.clinician_id = actor.staff_id
            visit.save()
            episodes.status_is_due(patient_id=patient_id)
        audit.write(actor=actor, act="open_visit", subject="visit", subject_ids=[visit.pk])
        return str(visit.uid)

    body = {"act": "open_visit", "patient": patient_id, "site": site_id, "on": on}
    return UUID(acts.once(actor=actor, key=key, body=body, patient_id=patient_id, do=do))


def _running(*, patient_id: int, on: date) -> Visit | None:
    """The day's visit to go on with: an open one first; one marked as missed came late."""
    order = ["open", "arrived", "booked", "missed"]
    found = Visit.objects.filter(patient_id=patient_id, date=on, state__in=order)
    return min(found, key=lambda visit: (order.index(visit.state), visit.pk), default=None)


def _date_errors(*, patient_id: int, site_id: int, on: date) -> rules.Errors:
    """Where an opened or signed visit must not lie; field ``date``."""
    patient = Patient.objects.get(pk=patient_id)
    if on > clock.today(Site.objects.get(pk=site_id)):
        return {"date": f"{words.day(on)} lies ahead. Book the visit; open it on the day itself."}
    if on < patient.birth_date:
        return {"date": f"The visit lies before the birth on {words.day(patient.birth_date)}."}
    injury = earliest_injury(patient_id=patient_id)
    if injury and on < _years_before(injury, years=YEARS_BEFORE_INJURY):
        return {
            "date": f"{words.day(on)} is more than {12 * YEARS_BEFORE_INJURY} months before the "
            f"earliest injury on record, {words.day(injury)}. Check the year."
        }
    return {}


def _years_before(day: date, *, years: int) -> date:
    """The same day some years earlier; 28 February for a 29th that is not there."""
    try:
        return day.replace(year=day.year - years)
    except ValueError:
        return day.replace(year=day.year - years, day=28)


def _mark(*, actor: Actor, key: UUID, visit_id: int, seen: int, state: str) -> str:
    """Move a visit to another state and answer with the address of its day's list."""
    patient_id = Visit.objects.values_list("patient_id", flat=True).get(pk=visit_id)

    def do() -> str:
        visit = Visit.objects.select_related("site").get(pk=visit_id)
        if visit.version == seen:
            _refuse_move(visit, state)
        acts.bump(visit, seen=seen)
        changes: dict[str, Any] = {"state": state}
        if state in ("arrived", "booked"):
            changes["arrived_at"] = clock.now() if state == "arrived" else None
        Visit.objects.filter(pk=visit_id).update(**changes)
        episodes.status_is_due(patient_id=patient_id)
        audit.write(actor=actor, act=f"visit_{state}", subject="visit", subject_ids=[visit_id])
        return _day(visit.date)

    body = {"act": f"visit_{state}", "visit": visit_id, "seen": seen}
    return acts.once(actor=actor, key=key, body=body, patient_id=patient_id, do=do)


def _refuse_move(visit: Visit, state: str) -> None:
    if visit.state not in _FROM[state]:
        raise rules.Refused(
            {"": f"This visit is {_WORD[visit.state]}; it cannot be marked as {_WORD[state]}."}
        )
    if state in ("arrived", "missed") and visit.date > clock.today(visit.site):
        raise rules.Refused(
            {"": f"The visit is on {words.day(visit.date)}. Mark it on the day itself."}
        )
    others = Visit.objects.filter(
        patient_id=visit.patient_id, date=visit.date, state__in=["arrived", "open"]
    )
    if state == "arrived" and others.exists():
        raise rules.Refused({"": "Another visit of this patient is under way that day."})


def _day(on: date) -> str:
    return f"{reverse('today')}?on={on.isoformat()}"
