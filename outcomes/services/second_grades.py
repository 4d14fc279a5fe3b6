"""Keeping a second clinician's own grades of a visit: beside the record, never in it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta
from uuid import UUID

from django.urls import reverse

from clinic import audit, clock
from clinic.models.care import Visit
from clinic.permissions import Action, Actor
from clinic.services import acts, rules
from outcomes.models.agreement import Agreement
from outcomes.queries.catalogue import in_force
from outcomes.queries.second_grades import OF_LATE, pages_opened, tests_of


def too_late(*, visit: Visit) -> str:
    """Why this visit takes no second grade any more or yet, as a sentence; empty where it does."""
    if visit.state not in ("open", "signed"):
        return "A visit is graded a second time while it is open or once it is signed."
    if visit.date < clock.today(visit.site) - OF_LATE:
        days = OF_LATE // timedelta(days=1)
        return f"A second grade is taken up to {days} days after the visit: this one is older."
    return ""


def record(
    *, actor: Actor, key: UUID, visit: Visit, grades: Mapping[str, str], had_seen: str
) -> str:
    """Keep the grades by the names of their tests; what was not graded is not among them.

    Whether pages of the patient were opened before is taken from the audit trail. Raises
    ``Refused`` with a sentence for each field.
    """

    def do() -> str:
        fresh = Visit.objects.select_related("site").get(pk=visit.pk)
        force = in_force()
        tests = tests_of(visit=fresh, staff_id=actor.staff_id, measures=force.measures)
        offered = {test.name: test for test in tests if not test.done}
        rules.refuse_if(_errors(fresh, grades, set(offered)))
        opened = pages_opened(visit=fresh, staff_id=actor.staff_id)
        Agreement.objects.bulk_create(
            Agreement(
                visit=fresh,
                patient_id=fresh.patient_id,
                measure_version_id=force.measure_ids[offered[name].measure.code],
                measure=offered[name].measure.code,
                limb=offered[name].limb.value,
                grade=word,
                rank=offered[name].measure.grades.index(word),
                had_seen=had_seen,
                pages_opened=opened,
                recorded_at=clock.now(),
                recorded_by_id=actor.staff_id,
            )
            for name, word in grades.items()
        )
        audit.write(
            actor=actor,
            act=Action.GRADE_AGAIN.value,
            subject="visit",
            subject_ids=[fresh.pk],
            note=f"{len(grades)} kept",
        )
        return reverse("second_grade", args=[fresh.uid])

    body = {"act": "grade_again", "visit": visit.pk, "had_seen": had_seen, **grades}
    return acts.once(actor=actor, key=key, body=body, patient_id=visit.patient_id, do=do)


def _errors(visit: Visit, grades: Mapping[str, str], offered: set[str]) -> rules.Errors:
    late = too_late(visit=visit)
    if late:
        return {"": late}
    if not grades:
        return {"": "Grade at least one test."}
    if set(grades) - offered:
        return {"": "One of these was graded by you already, or is not there any more."}
    return {}
