"""Kinds of events: what can happen to a followed knee, on which side, and what it changes.

An event never moves the week count and never meets a criterion. What it does change is said in
``effect``, in the words that stand on the form before it is recorded. Groups and effects are
settings of this house; the grouping over the caseload follows a published consensus (see
``core.outcome_sets``).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from outcomes.core.values import Event, Limb

NONE_NEEDED: Final = frozenset({"partial_meniscectomy", "cyclops_removal", "washout"})
"""What can be done again to a knee without new limits of the surgeon (common practice, no
source). After everything else, and where it is not known what was done, they are asked for."""


class Side(StrEnum):
    """Whose side an event is on, seen from the followed knee. A person returns, not a knee."""

    SAME = "same"
    OTHER = "other"
    PERSON = "person"


@dataclass(frozen=True, kw_only=True, slots=True)
class Kind:
    """One kind of event.

    ``sides``: the sides it can be on, the usual one first. ``details``: what was done or hurt, as
    codes with their words; one is asked for where there are any. ``after_operation``: it makes
    sense only once this knee was operated. ``in_short``: the words on a chart.
    """

    code: str
    label: str
    effect: str
    sides: tuple[Side, ...] = (Side.SAME,)
    details: Mapping[str, str] = field(default_factory=dict)
    after_operation: bool = False
    in_short: str = ""


CLOCK: Final = "The weeks go on from the ACL operation or injury."
RETURN: Final = "An outcome, no criterion: it meets nothing, and a decision is recorded apart."
KINDS: Final = (
    Kind(
        code="giving_way",
        label="giving way",
        effect=f"{CLOCK} Once is a reason to look this week; from the second time on the record "
        "asks to discuss it with the surgeon.",
        in_short="gave way",
    ),
    Kind(
        code="new_injury",
        label="new injury",
        effect=f"{CLOCK} A reason to look this week.",
        sides=(Side.SAME, Side.OTHER),
    ),
    Kind(
        code="graft_rupture",
        label="graft rupture",
        effect="You choose below whether this episode ends; a revision is then registered as an "
        "episode of its own. Nothing ends by itself.",
        after_operation=True,
    ),
    Kind(
        code="other_knee_acl_injury",
        label="ACL injury of the other knee",
        effect=f"{CLOCK} The other side is no fair reference any more, so symmetry is not "
        "assessable. That knee is followed once you register an episode for it.",
        sides=(Side.OTHER,),
        in_short="ACL injury, other knee",
    ),
    Kind(
        code="reoperation",
        label="reoperation",
        effect="The weeks go on from the ACL operation. After a meniscal repair, a cartilage "
        "procedure or anything not named here the surgeon’s new limits are asked for, and what "
        "they touch is held until they are confirmed. A procedure for stiffness is a kind of its "
        "own.",
        details=MappingProxyType(
            {
                "cyclops_removal": "removal of scar tissue at the front",
                "washout": "washout",
                "partial_meniscectomy": "partial meniscectomy",
                "meniscal_repair": "meniscal repair",
                "cartilage_procedure": "cartilage procedure",
                "implant_removal": "removal of an implant",
                "other": "other",
                "not_known": "not known yet",
            }
        ),
        after_operation=True,
    ),
    Kind(
        code="infection",
        label="infection",
        effect=f"{CLOCK} A reason to look at once: the plan of the surgeon’s team comes first.",
        details=MappingProxyType(
            {"wound": "of the wound", "joint": "of the joint", "not_known": "not known yet"}
        ),
    ),
    Kind(
        code="clot",
        label="clot",
        effect=f"{CLOCK} A reason to look at once: the plan of the treating doctor comes first.",
        details=MappingProxyType(
            {"leg": "in the leg", "lung": "in the lung", "not_known": "not known yet"}
        ),
    ),
    Kind(
        code="fracture",
        label="fracture",
        effect=f"{CLOCK} A reason to look at once: ask the surgeon before loading.",
        sides=(Side.SAME, Side.OTHER),
        details=MappingProxyType(
            {"patella": "patella", "tibia": "tibia", "femur": "femur", "other": "other"}
        ),
    ),
    Kind(
        code="stiffness_procedure",
        label="procedure for stiffness",
        effect="The weeks go on from the ACL operation. No new limits are asked for; record them "
        "if the surgeon gives some.",
        details=MappingProxyType(
            {
                "manipulation": "manipulation under anaesthesia",
                "release": "release of scar tissue",
                "not_known": "not known yet",
            }
        ),
        after_operation=True,
    ),
    Kind(code="return_to_running", label="return to running", effect=RETURN,
         sides=(Side.PERSON,), in_short="running"),
    Kind(code="return_to_training", label="return to training", effect=RETURN,
         sides=(Side.PERSON,), in_short="training"),
    Kind(code="return_to_competition", label="return to competition", effect=RETURN,
         sides=(Side.PERSON,), in_short="competition"),
)  # fmt: skip
"""Every kind, in the order of the buttons."""

BY_CODE: Final = MappingProxyType({kind.code: kind for kind in KINDS})
RETURNS: Final = ("return_to_running", "return_to_training", "return_to_competition")
INJURIES: Final = ("new_injury", "graft_rupture", "other_knee_acl_injury", "fracture")
"""After one of these a decision made before it is marked as such."""
PROCEDURES: Final = ("reoperation", "stiffness_procedure")


def limb_of(*, side: Side, knee: Limb) -> Limb:
    """The limb of a side, seen from the followed knee.

    >>> limb_of(side=Side.OTHER, knee=Limb.LEFT).value
    'right'
    """
    return {Side.SAME: knee, Side.OTHER: knee.opposite}.get(side, Limb.NONE)


def event_words(*, event: Event) -> str:
    """What happened, in words, without day and side.

    >>> from datetime import date
    >>> day = date(2026, 11, 14)
    >>> event_words(event=Event(code="reoperation", limb=Limb.LEFT, on=day, detail="washout"))
    'reoperation: washout'
    >>> event_words(event=Event(code="return_to_running", limb=Limb.NONE, on=day, early=True))
    'return to running, earlier than advised'
    """
    kind = BY_CODE[event.code]
    detail = kind.details.get(event.detail, "")
    said = f"{kind.label}: {detail}" if detail else kind.label
    return f"{said}, earlier than advised" if event.early else said


def chart_words(*, event: Event) -> str:
    """The same in the fewest words, for an upright line on a chart.

    >>> from datetime import date
    >>> chart_words(event=Event(code="giving_way", limb=Limb.LEFT, on=date(2026, 11, 14)))
    'gave way'
    """
    kind = BY_CODE[event.code]
    named = kind.details.get(event.detail, "") if event.code == "reoperation" else ""
    said = named if named and event.detail not in ("other", "not_known") else kind.in_short
    return f"{said or kind.label}, early" if event.early else said or kind.label


def asks_for_limits(*, event: Event) -> bool:
    """Whether the surgeon's limits have to be asked for after it.

    >>> from datetime import date
    >>> repair = Event(code="reoperation", limb=Limb.LEFT, on=date(2026, 11, 14),
    ...                detail="meniscal_repair")
    >>> asks_for_limits(event=repair)
    True
    """
    return event.code == "reoperation" and event.detail not in NONE_NEEDED


def injuries(*, events: Sequence[Event]) -> list[Event]:
    """The events that mark decisions made before them, oldest first."""
    return sorted((one for one in events if one.code in INJURIES), key=lambda one: one.on)
