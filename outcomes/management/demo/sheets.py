"""Questionnaires of the demo's people: made-up answers that follow made-up curves."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from random import Random
from typing import Final
from uuid import uuid4

from clinic.models.care import Visit
from clinic.permissions import Actor
from clinic.queries.people import ADULT, age
from outcomes.core.instruments import Instrument, Item, ScoreRule
from outcomes.core.quantities import plain
from outcomes.core.values import Limb
from outcomes.management.demo import curves
from outcomes.management.demo.curves import Curve, at, noise
from outcomes.management.demo.stories import SEED, Person
from outcomes.queries.catalogue import in_force
from outcomes.queries.keying import Sheet
from outcomes.services import catalogue, questionnaires

WEEKS: Final = (-4, 12, 26, 39, 52)
"""Before surgery and at 3, 6, 9 and 12 months."""
ADULT_FORMS: Final = (("ikdc", curves.IKDC), ("acl_rsi", curves.MIND))
CHILD_FORMS: Final = (("acl_rsi", curves.MIND),)
MORE: Final = "koos"
"""What the lead has switched on; every tenth person fills it in."""
LEAVES_OUT: Final = 8
"""Every eighth person was not asked."""
WIDE: Final = 6


def switch_on(*, actor: Actor) -> None:
    """The demo's lead takes one more questionnaire into use."""
    catalogue.switch(actor=actor, key=uuid4(), code=MORE, state="on", seen="off")


def key_at(*, actor: Actor, visit: Visit, person: Person, week: int) -> None:
    """Key this person's sheets at a visit of one of the weeks; nothing at other visits."""
    if week not in WEEKS or person.number % LEAVES_OUT == 0:
        return
    for sheet in _sheets(person, week, visit.date):
        questionnaires.keep(actor=actor, key=uuid4(), visit=visit, sheet=sheet)


def _sheets(person: Person, week: int, on: date) -> Iterator[Sheet]:
    rules = in_force()
    child = age(birth_date=date.fromisoformat(person.row["born"]), on=on) < ADULT
    forms: list[tuple[str, Curve]] = list(CHILD_FORMS if child else ADULT_FORMS)
    if person.number % 10 == 2 and not child:
        forms.append((MORE, curves.IKDC))
    rng = Random(SEED * 7 + person.number * 300 + week)  # noqa: S311  made up, not a secret
    level = WIDE * float(person.row["level"]) + noise(rng, 4)
    for code, curve in forms:
        instrument = rules.instruments[code]
        share = max(2.0, min(99.0, at(curve, week) + level)) / 100
        yield Sheet(
            instrument=instrument,
            version_id=rules.instrument_ids[code],
            limb=Limb(person.involved),
            layout=instrument.layouts[0].code,
            answers=_answers(instrument, share, rng),
            typed={},
        )


def _answers(instrument: Instrument, share: float, rng: Random) -> dict[str, str | None]:
    """An answer near the share of the best one for each item."""
    return {
        item.code: plain(value=_answer(instrument, item, share, rng)) for item in instrument.items
    }


def _answer(instrument: Instrument, item: Item, share: float, rng: Random) -> Decimal:
    best_is_low = any(
        form.rule is ScoreRule.INVERTED_SHARE
        for form in instrument.scores
        if item.code in form.items
    )
    wanted = (1 - share if best_is_low else share) + noise(rng, 0.12)
    place = round(max(0.0, min(1.0, wanted)) * (len(item.answers) - 1))
    return item.answers[place]
