"""The page of our checks: topics in words, counts, and each row as it is shown."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from functools import cache
from typing import Final

from outcomes.queries.verify import Verified, verified

TOPICS: Final = {
    "symmetry": "Limb against limb",
    "strength": "Strength",
    "jumps_and_reach": "Jumps and reach",
    "angles": "Angles from heights and pictures",
    "grades": "Grades of lacking extension",
    "measurement_error": "Measurement error and change",
    "agreement": "Agreement of two who grade",
    "thresholds": "Values against thresholds",
    "batteries": "Published sets of criteria",
    "knee_scores": "Questionnaires: IKDC and KOOS forms",
    "other_scores": "Questionnaires: the others",
    "dates": "Weeks, months and ages",
    "units": "Units",
}
KINDS: Final = {
    "published": "published",
    "standard": "follows from a published rule or definition",
    "reference library": "computed with a reference library",
    "common practice": "common practice, no source",
    "from memory": "from memory, unverified",
}


@dataclass(frozen=True, kw_only=True, slots=True)
class Row:
    """One check in words; ``computed`` is cut after twelve places, not rounded."""

    check: Verified
    computed: str
    kind: str
    result: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Topic:
    """The checks of one topic."""

    code: str
    label: str
    rows: tuple[Row, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class CheckPage:
    """All topics, how many checks there are, and how many of each kind."""

    topics: tuple[Topic, ...]
    total: int
    failed: int
    kinds: tuple[tuple[str, int], ...]


@cache
def check_page() -> CheckPage:
    """The page, worked out once for a process: nothing in it depends on a record."""
    checks = verified()
    count = Counter(check.kind for check in checks)
    return CheckPage(
        topics=tuple(
            Topic(
                code=code,
                label=label,
                rows=tuple(_row(check) for check in checks if check.topic == code),
            )
            for code, label in TOPICS.items()
        ),
        total=len(checks),
        failed=sum(not check.ok for check in checks),
        kinds=tuple((words, count[kind]) for kind, words in KINDS.items()),
    )


def _row(check: Verified) -> Row:
    if not check.ok:
        result = "NOT as expected"
    elif check.trust:
        result = "as expected"
    else:
        result = "wrong in print, not followed"
    computed = re.sub(r"(\.\d{12})\d+", r"\1…", check.computed)
    return Row(check=check, computed=computed, kind=KINDS[check.kind], result=result)
