"""What is typed about a person, an episode and an operation: plain values between form and act."""

from __future__ import annotations

import datetime
from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True, slots=True)
class Person:
    """Who a patient is and how they are reached. Fields as on the row."""

    name: str
    birth_date: datetime.date
    sex: str = "not_stated"
    preferred_limb: str = ""
    phone: str = ""
    email: str = ""
    address: str = ""
    guardian_name: str = ""
    guardian_phone: str = ""
    goal_words: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class EpisodeDetails:
    """One knee that is to be followed. ``injury_asked_on``: the date is unknown, asked then.

    Referrer and surgeon are one of the list, or a new name with a practice, or nobody.
    """

    knee: str
    kind: str
    goal: str = "not_stated"
    sport: str = ""
    level_before: str = ""
    injury_date: datetime.date | None = None
    injury_asked_on: datetime.date | None = None
    other_limb: str = "not_stated"
    responsible_id: int | None = None
    referrer_id: int | None = None
    referrer_new_name: str = ""
    referrer_new_practice: str = ""
    surgeon_id: int | None = None
    surgeon_new_name: str = ""
    surgeon_new_practice: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Operation:
    """An operation, planned or performed; an ``…_asked_on`` says that the part is unknown.

    Graft and the limb it came from share one such date. ``procedures`` is what else was done:
    empty for nothing else, None where nobody said (unknown, or not performed yet).
    """

    operation: str
    state: str
    date: datetime.date | None = None
    date_asked_on: datetime.date | None = None
    graft: str = ""
    graft_from: str = ""
    graft_asked_on: datetime.date | None = None
    procedures: tuple[str, ...] | None = None
    procedures_asked_on: datetime.date | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Instruction:
    """What the surgeon said: a limit with its days, who told it and how.

    Kind ``none``: asked, and the surgeon sets no limit. ``supersedes_id`` is the instruction whose
    place it takes from its first day. ``procedure``: the one whose limits it confirms; ``told_on``:
    the day on which it was told. ``origin`` template: a usual limit that was confirmed as it is
    usual; clinician: ``limit`` is why that one, or the gate of ``milestone``, is set aside.
    """

    kind: str
    limit: str
    since: datetime.date
    until: datetime.date | None
    told_by: str
    supersedes_id: int | None = None
    procedure: str = ""
    told_on: datetime.date | None = None
    origin: str = "surgeon"
    milestone: str = ""
