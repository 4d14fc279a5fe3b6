"""What is typed at a visit of the bench: twelve readings, taken by the ledger's own reading."""

from __future__ import annotations

from functools import lru_cache

from outcomes.core.entries import Entry
from outcomes.core.values import Limb
from outcomes.forms.ledger_tests import tests_of
from outcomes.forms.red_flags import NONE
from outcomes.queries.catalogue import catalogue

READINGS = 12


def texts_of(*, knee: Limb, share: int) -> dict[str, str]:
    """The typed fields where the followed knee reaches ``share`` per cent of the other one."""
    other = Limb.LEFT if knee is Limb.RIGHT else Limb.RIGHT
    lacking = (100 - share) // 10
    return {
        f"v:pain_worst_24h:{knee}": str(lacking),
        "c:effusion:moment": "before",
        f"v:effusion:{knee}": "trace" if share > 75 else "1+",
        f"x:knee_extension:{other}": "straight",
        f"x:knee_extension:{knee}": "lacks" if lacking else "straight",
        f"v:knee_extension:{knee}": str(lacking or ""),
        f"v:knee_flexion:{other}": "142",
        f"v:knee_flexion:{knee}": str(42 + share),
        "c:standing_hip_hold:hand_support": "no",
        "c:standing_hip_hold:added_load": "0",
        f"v:standing_hip_hold:{other}": "30",
        f"v:standing_hip_hold:{knee}": f"{0.3 * share:.1f}",
        "c:quadriceps_torque:device": "fixed",
        "c:quadriceps_torque:knee_angle": "90",
        "u:quadriceps_torque": "N.m",
        f"v:quadriceps_torque:{other}": "170",
        f"v:quadriceps_torque:{knee}": f"{1.7 * share:.1f}",
        "c:single_hop:hands": "free",
        "c:single_hop:shoes": "worn",
        "c:single_hop:brace": "no",
        f"v:single_hop:{other}": "130",
        f"v:single_hop:{knee}": f"{1.3 * share:.1f}",
        NONE: "1",
    }


@lru_cache(maxsize=256)
def entries_of(*, knee: Limb, share: int) -> tuple[Entry, ...]:
    """The same fields as entries. Raises ``ValueError`` when they are not twelve whole ones."""
    tests = tests_of(
        measures=catalogue(), texts=texts_of(knee=knee, share=share), asked=(), off=(), last=()
    )
    entries = tuple(entry for test in tests for entry in test.entries)
    if len(entries) != READINGS or any(test.problems for test in tests):
        raise ValueError(f"{knee} at {share}: {entries}")
    return entries
