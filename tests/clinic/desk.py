"""What the tests of the front desk share: the posted forms, and how a page is read."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

PERSON = {
    "name": "Zoë O’Brien-Łaska",
    "birth_date": "2003-04-12",
    "sex": "female",
    "preferred_limb": "right",
    "record_number": "H-0500",
    "phone": "555 0101",
    "goal_words": "handball in autumn",
}
EPISODE = {
    "knee": "left",
    "kind": "reconstruction",
    "injury_date": "2026-09-01",
    "other_limb": "healthy",
    "goal": "pivoting",
    "sport": "handball",
    "surgeon_new_name": "Ms Signe Aberdal",
    "surgeon_new_practice": "Westmoor Hospital",
}
OPERATION = {
    "operation_state": "performed",
    "operation_date": "2026-10-20",
    "operation_graft": "hamstring",
    "operation_graft_from": "same_limb",
    "operation_procedures": ["meniscal_repair"],
}
UNKNOWN = {
    "operation_state": "performed",
    "operation_date_asked_on": "2026-11-20",
    "operation_graft": "unknown",
    "operation_graft_from": "unknown",
    "operation_graft_asked_on": "2026-11-20",
    "operation_procedures": ["unknown"],
    "operation_procedures_asked_on": "2026-11-20",
}


def posted(*parts: dict[str, Any], **changes: Any) -> dict[str, Any]:
    """A form as a browser posts it, with a fresh key; a change of None leaves a field out."""
    whole = {"key": str(uuid4())} | {name: v for part in parts for name, v in part.items()}
    return {name: value for name, value in (whole | changes).items() if value is not None}


def errors_of(response: Any) -> dict[str, list[str]]:
    """The sentences of a refused form by field."""
    return {name: list(errors) for name, errors in response.context["form"].errors.items()}
