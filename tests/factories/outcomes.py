"""Factories for what was measured: signed readings of the shipped measures."""

from collections.abc import Mapping
from datetime import UTC, date, datetime, time
from decimal import Decimal
from typing import Any

import factory
from factory.django import DjangoModelFactory

from clinic.models.care import Visit
from outcomes.core.readings import comparison_key
from outcomes.models.events import Event
from outcomes.models.pictures import Picture
from outcomes.models.plans import PlanStep
from outcomes.models.questionnaires import CompletedQuestionnaire
from outcomes.models.record import Reading
from outcomes.models.status import EpisodeStatus
from outcomes.queries.catalogue import in_force
from tests.factories.clinic import EpisodeFactory, VisitFactory

CONDITIONS: Mapping[str, Mapping[str, str]] = {
    "effusion": {"moment": "before"},
    "hamstring_torque": {"device": "fixed", "knee_angle": "90"},
    "pain_during_test": {"during": "single_hop"},
    "pelvic_drop_forward_heel_touch": {"step_height": "15"},
    "pelvic_drop_lateral_heel_touch": {"step_height": "15"},
    "quadriceps_torque": {"device": "fixed", "knee_angle": "90"},
    "single_hop": {"hands": "free", "shoes": "worn", "brace": "no"},
    "standing_hip_hold": {"hand_support": "no", "added_load": "0"},
    "timed_hop_6m": {"hands": "free", "shoes": "worn", "brace": "no"},
}
"""The usual conditions of a test, where a test has any."""


def signed_visit(*, patient: Any, site: Any, by: Any, on: Any, **more: Any) -> Visit:
    """A visit of a day as it is once signed, at noon."""
    noon = datetime.combine(on, time(12), tzinfo=UTC)
    visit: Visit = VisitFactory(
        patient=patient, site=site, date=on, state="signed", clinician=by, signed_by=by,
        arrived_at=noon, opened_at=noon, signed_at=noon, **more,
    )  # fmt: skip
    return visit


class ReadingFactory(DjangoModelFactory[Reading]):
    """One signed reading: give ``visit``, ``measure``, ``limb`` and ``value``; the rest follows."""

    class Meta:
        model = Reading

    class Params:
        rules = factory.LazyFunction(in_force)

    visit = factory.SubFactory(VisitFactory)
    measure = "knee_flexion"
    limb = "right"
    value: Any = Decimal(120)
    conditions: Any = factory.LazyAttribute(lambda o: dict(CONDITIONS.get(o.measure, {})))
    patient = factory.LazyAttribute(lambda o: o.visit.patient)
    date = factory.LazyAttribute(lambda o: o.visit.date)
    measure_version_id = factory.LazyAttribute(lambda o: o.rules.measure_ids[o.measure])
    comparison_key = factory.LazyAttribute(
        lambda o: comparison_key(measure=o.rules.measures[o.measure], conditions=o.conditions)
    )
    typed_text = factory.LazyAttribute(lambda o: "" if o.value is None else str(o.value))
    typed_unit = factory.LazyAttribute(lambda o: o.rules.measures[o.measure].unit)
    measured_at = factory.LazyAttribute(
        lambda o: datetime.combine(o.visit.date, time(11), tzinfo=UTC)
    )
    recorded_at = factory.LazyAttribute(
        lambda o: datetime.combine(o.visit.date, time(12), tzinfo=UTC)
    )
    recorded_by = factory.LazyAttribute(lambda o: o.visit.signed_by)


def both_limbs(*, visit: Visit, measure: str, left: Any, right: Any, **more: Any) -> list[Reading]:
    """A reading for each limb; numbers and texts become exact. None leaves a limb out."""
    given = {"visit": visit, "measure": measure, "rules": in_force(), **more}
    return [
        ReadingFactory(limb=limb, value=Decimal(str(value)), **given)
        for limb, value in (("left", left), ("right", right))
        if value is not None
    ]


KOOS = tuple(
    f"{letter}{number}"
    for letter, count in (("S", 7), ("P", 9), ("A", 17), ("SP", 5), ("Q", 4))
    for number in range(1, count + 1)
)
"""The items of koos, as they are numbered."""


def keyed(
    *,
    visit: Visit,
    instrument: str,
    answers: Mapping[str, str | None],
    limb: str = "right",
    **more: Any,
) -> CompletedQuestionnaire:
    """A completed form at a visit; items left out are blank."""
    rules = in_force()
    items = [item.code for item in rules.instruments[instrument].items]
    return CompletedQuestionnaire.objects.create(
        visit=visit,
        patient=visit.patient,
        date=visit.date,
        instrument=instrument,
        instrument_version_id=rules.instrument_ids[instrument],
        limb=limb,
        answers={code: answers.get(code) for code in items},
        recorded_at=datetime.combine(visit.date, time(12), tzinfo=UTC),
        recorded_by_id=visit.signed_by_id or visit.clinician_id or 0,
        **more,
    )


class EpisodeStatusFactory(DjangoModelFactory[EpisodeStatus]):
    """The columns of a kept status that is not due on 25 November 2026; its body is empty."""

    class Meta:
        model = EpisodeStatus

    episode = factory.SubFactory(EpisodeFactory)
    body: Any = factory.LazyFunction(dict)
    judged_on = date(2026, 11, 25)
    rules_version = factory.LazyFunction(lambda: in_force().rules["starter@2"])
    episode_version = factory.LazyAttribute(lambda o: o.episode.version)
    graft = "hamstring"
    graft_from = "same_limb"
    index_date = date(2026, 8, 12)
    last_visit = date(2026, 11, 20)
    next_milestone = "running"
    criteria_met = 4
    criteria_untested = 1
    criteria_all = 7


class EventFactory(DjangoModelFactory[Event]):
    """One event of an episode as it was entered: give ``episode``, ``event`` and ``date``."""

    class Meta:
        model = Event

    episode = factory.SubFactory(EpisodeFactory)
    event = "giving_way"
    limb = "right"
    date = date(2026, 11, 14)
    recorded_at = factory.LazyAttribute(lambda o: datetime.combine(o.date, time(12), tzinfo=UTC))
    recorded_by = factory.LazyAttribute(lambda o: o.episode.responsible)


class PlanStepFactory(DjangoModelFactory[PlanStep]):
    """A first step of the hip-control plan, set by a clinician: give ``episode``."""

    class Meta:
        model = PlanStep

    episode = factory.SubFactory(EpisodeFactory)
    progression = "hip_control"
    progression_version = 1
    level = "supported_standing_hip_hold"
    sets = 3
    hold_s = 15
    load_kg = Decimal("0.0")
    days_a_week = 3
    since = date(2026, 11, 4)
    answer = "set"
    move = "begun"
    answered_on = factory.LazyAttribute(lambda o: o.since)
    answered_at = factory.LazyAttribute(
        lambda o: datetime.combine(o.answered_on, time(12), tzinfo=UTC)
    )
    answered_by = factory.LazyAttribute(lambda o: o.episode.responsible)


class PictureFactory(DjangoModelFactory[Picture]):
    """A kept picture, bytes that are no picture: give ``visit``."""

    class Meta:
        model = Picture

    visit = factory.SubFactory(VisitFactory)
    measure = "pelvic_drop_lateral_heel_touch"
    limb = "right"
    view = "back"
    width = 30
    height = 40
    content = b"a drawing"
    sha256 = "0" * 64
    recorded_at = datetime(2026, 11, 25, 9, tzinfo=UTC)
    recorded_by = factory.LazyAttribute(lambda o: o.visit.clinician)
