"""What a lead does to the catalogue: own measures in versions, and switches. Nothing is deleted."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any, Final
from uuid import UUID

from django.db import IntegrityError, transaction
from django.urls import reverse

from clinic import audit, clock
from clinic.http import Conflict, Unprocessable
from clinic.permissions import Actor
from clinic.services import acts
from clinic.services.rules import Refused
from outcomes.catalogue.fields import SeedError
from outcomes.catalogue.measures import measure_from
from outcomes.catalogue.seeds import canonical_json, fingerprint
from outcomes.core.measures import OWN
from outcomes.core.values import Measure
from outcomes.models.questionnaires import CompletedQuestionnaire
from outcomes.models.record import Reading
from outcomes.models.versions import MeasureVersion, Switch
from outcomes.queries.catalogue import OFF, ON, RETIRED, InForce, in_force
from outcomes.queries.measure_list import leaning_on

FIXED: Final[Mapping[str, str]] = {
    "unit": "its unit",
    "entry": "how it is entered",
    "grades": "its grades",
    "per_limb": "whether each limb has a value",
    "conditions": "its conditions",
}
"""What a kept reading is read by: it stays once there is a reading."""


def add_measure(*, actor: Actor, key: UUID, mapping: Mapping[str, Any]) -> str:
    """A new measure of the clinic's own, version 1. ``mapping`` is what a seed would hold.

    Raises ``Refused`` with a sentence for the key that is wrong: a code or name that is there
    already, or anything that a seed would be refused for.
    """

    def do() -> str:
        measure = _read(mapping)
        refused = _refused(measure=measure, known=in_force().measures)
        if measure.code in in_force().measures:
            refused["code"] = f"{measure.code} is there already. Choose another code."
        if refused:
            raise Refused(refused)
        with once_each():
            row = _insert(actor=actor, measure=measure, mapping=mapping)
        audit.write(actor=actor, act="add_measure", subject="measure", subject_ids=[row.pk])
        return _row(measure.code)

    body = {"act": "add_measure", **mapping}
    return acts.once(actor=actor, key=key, body=body, patient_id=None, do=do)


def change_measure(
    *, actor: Actor, key: UUID, code: str, seen: int, mapping: Mapping[str, Any]
) -> str:
    """The next version of an own measure; readings keep the version that they were taken with.

    ``seen`` is the version that the form was made from: another one is a ``Conflict``. Raises
    ``Refused`` where the change would give kept readings another meaning.
    """

    def do() -> str:
        old = _own(code)
        if old.version != seen:
            raise Conflict("Nothing was overwritten. Check what is on record now, then save again.")
        measure = _read(mapping)
        _refuse_change(old=old, new=measure)
        with once_each():
            row = _insert(actor=actor, measure=measure, mapping=mapping)
        audit.write(actor=actor, act="change_measure", subject="measure", subject_ids=[row.pk])
        return _row(code)

    body = {"act": "change_measure", "seen": seen, **mapping}
    return acts.once(actor=actor, key=key, body=body, patient_id=None, do=do)


def switch(
    *, actor: Actor, key: UUID, code: str, state: str, seen: str, anyway: bool = False
) -> str:
    """Switch a measure or questionnaire on, off, or retire a used one; nothing is deleted.

    ``seen`` is the state that the page showed: another one is a ``Conflict``. What something
    leans on is switched off only with ``anyway``: else ``Refused`` names what leans on it.
    """

    def do() -> str:
        kept = Switch.objects.select_for_update().filter(code=code).first()
        rules = in_force()
        _refuse_switch(rules=rules, code=code, state=state, seen=seen, anyway=anyway)
        made = {"state": state, "changed_at": clock.now(), "changed_by_id": actor.staff_id}
        with once_each():
            Switch.objects.update_or_create(code=code, defaults=made)
        before = kept.state if kept else "as shipped"
        audit.write(actor=actor, act="switch", subject="measure", note=f"{code}: {before}, {state}")
        return _row(code)

    body = {"act": "switch", "code": code, "state": state, "seen": seen, "anyway": anyway}
    return acts.once(actor=actor, key=key, body=body, patient_id=None, do=do)


def _row(code: str) -> str:
    """Where the list shows it: a browser opens the group around it."""
    return f"{reverse('measures')}#{code}"


def _read(mapping: Mapping[str, Any]) -> Measure:
    """The measure, through the one strict reader; its refusal as a sentence for the key."""
    try:
        measure = measure_from(mapping, where="")
    except SeedError as error:
        _, key, *what = str(error).split(": ")
        raise Refused({key.partition("[")[0]: f"This {': '.join(what)}."}) from error
    if not measure.own:
        raise Refused({"code": f"A code of the clinic's own begins with {OWN}."})
    return measure


def _refused(*, measure: Measure, known: Mapping[str, Measure]) -> dict[str, str]:
    """A name that another measure has: rows of a visit are told apart by it."""
    others = [one for one in known.values() if one.code != measure.code]
    return {
        name: f"“{getattr(measure, name)}” is the name of another measure. Choose another name."
        for name in ("label", "short_label")
        if getattr(measure, name).casefold() in {getattr(one, name).casefold() for one in others}
    }


def _refuse_change(*, old: Measure, new: Measure) -> None:
    refused = _refused(measure=new, known=in_force().measures)
    if (new.code, new.version) != (old.code, old.version + 1):
        refused["code"] = f"The code stays {old.code}."
    moved = [name for name in FIXED if getattr(old, name) != getattr(new, name)]
    if moved and _used(old.code):
        sentence = "It was used already, so {} stays. Add a new measure, and retire this one."
        refused |= {name: sentence.format(FIXED[name]) for name in moved}
    if refused:
        raise Refused(refused)


def _refuse_switch(*, rules: InForce, code: str, state: str, seen: str, anyway: bool) -> None:
    known = code in rules.measures or code in rules.instruments
    if not known or state not in (ON, OFF, RETIRED):
        raise Unprocessable("Load the list again and press the button once more.")
    if rules.state(code=code) not in (seen, state):
        raise Conflict("Somebody switched it meanwhile. Load the list again to see how it stands.")
    if state == RETIRED and not _used(code):
        raise Refused({"state": "It was never used: switch it off instead."})
    leaning = leaning_on(rules=rules, code=code)
    if state != ON and rules.offers(code=code) and leaning and not anyway:
        raise Refused({"anyway": " ".join(leaning) + " Tick the box to go ahead all the same."})


def _used(code: str) -> bool:
    readings = Reading.objects.filter(measure=code)
    return readings.exists() or CompletedQuestionnaire.objects.filter(instrument=code).exists()


def _own(code: str) -> Measure:
    measure = in_force().measures.get(code)
    if measure is None or not measure.own:
        raise Unprocessable("Only measures of the clinic's own can be changed.")
    return measure


def _insert(*, actor: Actor, measure: Measure, mapping: Mapping[str, Any]) -> MeasureVersion:
    body = canonical_json(mapping)
    return MeasureVersion.objects.create(
        code=measure.code,
        version=measure.version,
        origin="clinic",
        body=body,
        sha256=fingerprint(body),
        created_at=clock.now(),
        created_by_id=actor.staff_id,
    )


@contextmanager
def once_each() -> Iterator[None]:
    """Code and version are one row; two people at the same moment cannot both have it."""
    try:
        with transaction.atomic():
            yield
    except IntegrityError as twice:
        raise Conflict("Somebody saved the same meanwhile. Load the list again.") from twice
