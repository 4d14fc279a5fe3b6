"""The questionnaires of a patient for the patient page and for the page of one score's course."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from clinic.models.people import Patient
from outcomes.queries.catalogue import InForce
from outcomes.queries.events import events_of
from outcomes.queries.knee_sections import Source
from outcomes.queries.patient_page import episodes_of, shown_of
from outcomes.queries.questionnaire_section import FormCard, cards_of, person_of
from outcomes.queries.questionnaire_trend import ScoreCourse, course_of
from outcomes.queries.questionnaires import completed_of


@dataclass(frozen=True, kw_only=True, slots=True)
class PatientQuestionnaires:
    """A card for each questionnaire and knee, and the course of the score keyed last."""

    cards: Sequence[FormCard]
    course: ScoreCourse | None


def questionnaires_of(*, source: Source) -> PatientQuestionnaires:
    """What the patient page shows. One statement."""
    patient = source.shown[0].patient
    forms = completed_of(patient_id=patient.pk, rules=source.rules)
    person = person_of(shown=source.shown, events=source.events, on=source.on)
    return PatientQuestionnaires(
        cards=cards_of(forms=forms, person=person),
        course=course_of(patient=patient.uid, forms=forms, person=person),
    )


def course_at(*, patient: Patient, rules: InForce, asked: str, on: date) -> ScoreCourse | None:
    """The line of a patient that an address names, or None. Four statements."""
    shown = shown_of(episodes=episodes_of(patient=patient), asked=None)
    return course_of(
        patient=patient.uid,
        forms=completed_of(patient_id=patient.pk, rules=rules),
        person=person_of(shown=shown, events=events_of(episodes=shown), on=on),
        asked=asked,
    )
