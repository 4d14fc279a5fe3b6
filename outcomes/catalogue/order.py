"""The order in which a visit goes through the measures: one for the form, lists and letters."""

from __future__ import annotations

from typing import Final

ORDER: Final = (
    "pain_worst_24h",
    "pain_front_of_knee",
    "effusion",
    "knee_extension",
    "knee_flexion",
    "standing_hip_hold",
    "pelvic_drop_lateral_heel_touch",
    "pelvic_drop_forward_heel_touch",
    "quadriceps_torque",
    "single_hop",
    "timed_hop_6m",
    "pain_during_test",
    "body_mass",
)
"""The order of a visit: ask, look and feel, move, load. Common practice, no source."""


def rank(code: str) -> int:
    """The place of a measure in a visit; measures that have none come last.

    >>> rank("effusion") < rank("single_hop") < rank("own_grip")
    True
    """
    return ORDER.index(code) if code in ORDER else len(ORDER)
