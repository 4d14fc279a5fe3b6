"""What the explanations of a pelvic drop rest on, also where it speaks against reading much in."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from outcomes.core.values import Mark, Source


def _seen(text: str) -> Source:
    return Source(text=text, mark=Mark.SEEN)


def _house(text: str) -> Source:
    return Source(text=f"{text}: setting of this house", mark=Mark.CLINIC_SETTING)


NERVE_BLOCK: Final = _seen(
    "Against it: a nerve block that cut hip abductor force changed neither drop nor trunk lean in "
    "walking (n = 8, PMC4560003)"
)
RUNNING: Final = _seen(
    "Against it: 20 women after reconstruction and 20 controls, running, differed in trunk lean, "
    "not in hip strength or hip adduction (Noehren 2014, PMC4314615)"
)
LOOKS_THE_SAME: Final = Source(
    text="A weak or avoiding quadriceps can look the same, test both: common practice, no source",
    mark=Mark.COMMON_PRACTICE,
)
SOURCES: Final[Mapping[str, tuple[Source, ...]]] = MappingProxyType(
    {
        "hip_abductors": (
            _seen(
                "With pain around the kneecap 10.3 (4.7)° of drop against 7.4 (3.8)°, and 18 % "
                "less hip abduction (n = 80, Nakagawa 2012)"
            ),
            Source(
                text="A trunk that leans over the standing leg shortens the lever and unloads the "
                "hip (quoted)",
                mark=Mark.SECOND_HAND,
            ),
            NERVE_BLOCK,
            RUNNING,
            _house("Under 90 % of the other side, hold under 20 s"),
        ),
        "quadriceps": (
            LOOKS_THE_SAME,
            Source(
                text="Quadriceps avoidance: less knee bend, hip and trunk take over: from memory, "
                "unverified",
                mark=Mark.MEMORY,
            ),
            _house("Under 80 % supports, from 90 % on speaks against"),
        ),
        "ankle": (
            _seen("Ankle dorsiflexion goes with the quality of a step-down (n = 55, Rabin 2014)"),
            _house("5° short of the other ankle"),
        ),
        "leg_length": (_house("1 cm or more between the legs"),),
        "step_height": (
            _seen(
                "A step-down shows more hip adduction than a single-leg squat, steps of 16 and "
                "24 cm (Lewis 2015)"
            ),
            _house("Step over 12 % of body height, or less drop on a lower step"),
        ),
        "lateral_hip_pain": (_house("Pain at the side of the hip is asked"),),
        "irritated_knee": (_house("Effusion from 1+, pain over 2 of 10"),),
        "fear": (_house("Comfort in the task, as it was seen or said"),),
        "usual_for_this_person": (
            _seen(
                "Women without a knee problem drop by 4.7 (4.4)° in a single-leg squat (n = 60, "
                "s12891-015-0739-3)"
            ),
            Source(
                text="About 74 % of the controls of Nakagawa 2012 would exceed 5°: worked out from "
                "mean and SD",
                mark=Mark.COMPUTED,
            ),
            _house("Moderate or less, and the same on both sides"),
        ),
    }
)
