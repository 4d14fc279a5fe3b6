"""A measure of the clinic's own as its tests add it, and the lead who does."""

from __future__ import annotations

from datetime import date
from typing import Any
from uuid import uuid4

from clinic.models.care import Visit
from clinic.permissions import Actor
from outcomes.services import catalogue
from tests.cast import TODAY, Cast
from tests.factories.outcomes import both_limbs, signed_visit

STEP = {
    "code": "own_step_hold",
    "version": 1,
    "label": "Step hold, seconds",
    "short_label": "Step hold",
    "unit": "s",
    "entry": "number",
    "per_limb": True,
    "better": "higher",
    "decimals": 1,
    "hard": ["0", "60"],
    "soft": ["5", "45"],
    "symmetry": "ratio",
    "summary": "best",
    "trials": 2,
    "conditions": [
        {
            "code": "shoes",
            "label": "shoes",
            "choices": [{"code": "on", "label": "on"}, {"code": "off", "label": "off"}],
        },
        {"code": "step_height", "label": "step height", "unit": "cm"},
    ],
    "sources": [{"text": "This clinic’s own, no published error", "mark": "clinic_setting"}],
    "when_to_use": "From week 6.",
    "how_to_do": "Stand on the step, other leg first.",
    "how_to_read": "Look at the difference between the limbs.",
}


def lead_of(cast: Cast) -> Actor:
    """The clinic lead as services know them."""
    return Actor(staff_id=cast.lead.pk, site_id=cast.harbour.pk, request_id=uuid4())


def add_own(cast: Cast, number: int = 1, **changes: Any) -> str:
    """An own measure in force; a number tells several apart. Returns its code."""
    mark = "" if number == 1 else f" {number}"
    made: dict[str, Any] = {
        **STEP,
        "code": f"own_step_hold{mark.replace(' ', '_')}",
        "label": f"Step hold, seconds{mark}",
        "short_label": f"Step hold{mark}",
        **changes,
    }
    catalogue.add_measure(actor=lead_of(cast), key=uuid4(), mapping=made)
    return str(made["code"])


def switched(cast: Cast, code: str, state: str, *, seen: str = "on", anyway: bool = True) -> None:
    """A measure switched by the lead."""
    catalogue.switch(
        actor=lead_of(cast), key=uuid4(), code=code, state=state, seen=seen, anyway=anyway
    )


def used(cast: Cast, code: str = "own_step_hold", *, on: date = TODAY) -> Visit:
    """A signed visit, of today unless said, with both limbs of an own measure."""
    visit = signed_visit(patient=cast.ines, site=cast.harbour, by=cast.clinician, on=on)
    conditions = {"shoes": "on", "step_height": "20"}
    both_limbs(visit=visit, measure=code, left=30, right=20, conditions=conditions)
    return visit
