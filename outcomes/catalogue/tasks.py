"""What a clinician looks at in one task: the pelvis first, then trunk, knee and comfort."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from outcomes.catalogue.order import rank
from outcomes.core.readings import conditions_of

SEEN: Final = ("trunk_lean", "trunk_flexion", "forward_knee_travel", "knee_medial_position")
"""What is looked at after the pelvis, under the same task and step height."""
PAIN: Final = "pain_during_test"
COMFORT: Final = "comfort"
"""A detail of the pelvis that is asked with what is looked at after it."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Task:
    """One task. ``lead`` is the measure that is graded first and alone is enough.

    ``code`` is the choice of the condition ``task`` of everything else that is seen in it.
    """

    lead: str
    code: str
    label: str


TASKS: Final[Mapping[str, Task]] = {
    task.code: task
    for task in (
        Task(
            lead="pelvic_drop_lateral_heel_touch",
            code="lateral_heel_touch",
            label="lateral heel touch",
        ),
        Task(
            lead="pelvic_drop_forward_heel_touch",
            code="forward_heel_touch",
            label="forward heel touch",
        ),
    )
}
LED: Final[Mapping[str, Task]] = {task.lead: task for task in TASKS.values()}


def place(*, code: str, key: str) -> tuple[int, str, int]:
    """Where a test stands in a list: beside the measure that leads its task, in that order.

    >>> lean = place(code="trunk_lean", key="step_height=15;task=lateral_heel_touch")
    >>> place(code="pelvic_drop_lateral_heel_touch", key="step_height=15") < lean
    True
    >>> lean < place(code="pelvic_drop_forward_heel_touch", key="step_height=15")
    True
    """
    found = conditions_of(key=key)
    task = TASKS.get(found.get("task", "")) if code in SEEN else None
    task = LED.get(found.get("during", "")) if code == PAIN else task
    if task is None:
        return rank(code), code, 0
    return rank(task.lead), task.lead, 1 + (*SEEN, PAIN).index(code)
