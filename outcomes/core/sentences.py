"""A reason to look as one plain sentence that starts with the reason."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from typing import Final

from outcomes.core.holds import KIND_WORDS, not_confirmed
from outcomes.core.redflags import BY_CODE
from outcomes.core.values import Reason

MONTHS: Final = (
    "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
)  # fmt: skip
TIERS: Final = {"now": "act now", "today": "today", "this_week": "this week"}
GRAFTS: Final = {
    "patellar_tendon": "a patellar-tendon graft",
    "quadriceps_tendon": "a quadriceps-tendon graft",
    "unknown": "a graft not known yet",
}
EARLY: Final = ("0", "1")
GO_BACK: Final = ": go back a step"
NO_NEW_LOAD: Final = ": no new load but quad sets"
Facts = Mapping[str, str]


def day_in_words(*, iso: str) -> str:
    """An ISO date as 14 Mar 2026, the same in every locale."""
    day = date.fromisoformat(iso)
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def _day(facts: Facts, key: str) -> str:
    return day_in_words(iso=facts[key])


def _at_week(facts: Facts) -> str:
    return f"at week {facts['week']}" if facts["week"] else "before surgery"


def _extension(action: str) -> Callable[[Facts], str]:
    def sentence(facts: Facts) -> str:
        stuck = facts["unchanged_since"]
        held = f", under 3° gained since {day_in_words(iso=stuck)}" if stuck else ""
        return f"Extension {facts['degrees']}° short {_at_week(facts)}{held}{action}"

    return sentence


def _effusion(action: str) -> Callable[[Facts], str]:
    """In the first two weeks there is no step to go back: the words say what waits."""

    def sentence(facts: Facts) -> str:
        grade, before = facts["grade"], facts["from"]
        if facts["twice"]:
            found = f"up on two visits, from {before} to {grade}"
        else:
            found = f"up from {before} to {grade}" if before else grade
        early = facts["week"] in EARLY and action == GO_BACK
        return f"Effusion {found}, {_at_week(facts)}{NO_NEW_LOAD if early else action}"

    return sentence


def _infection(facts: Facts) -> str:
    return (
        f"Effusion with {facts['signs']} {_at_week(facts)}: infection possible, "
        "assess and call the surgeon's team today"
    )


def _pain(facts: Facts) -> str:
    rise = f"from {facts['before']} to {facts['after']} of 10"
    return f"Worst pain up {rise} between {_day(facts, 'before_on')} and {_day(facts, 'on')}"


def _front_of_knee(facts: Facts) -> str:
    graft = GRAFTS[facts["graft"]]
    return f"Front-of-knee pain {facts['pain']} of 10 with {graft} ({_day(facts, 'on')})"


def _flexion(facts: Facts) -> str:
    return f"Flexion {facts['degrees']}°, under 90°, {_at_week(facts)}: ask the surgeon"


def _quadriceps(facts: Facts) -> str:
    fall = "down twice in a row" if facts["twice"] else "down"
    numbers = f"from {facts['before']} to {facts['index']} %"
    return f"Quadriceps symmetry {fall} {numbers} since {_day(facts, 'before_on')}"


def _quadriceps_alone(facts: Facts) -> str:
    fall = "down twice in a row" if facts["twice"] else "down"
    numbers = f"from {facts['before']} to {facts['index']} N·m"
    return f"Quadriceps torque {fall} {numbers} since {_day(facts, 'before_on')}, own values only"


def _pelvis(facts: Facts) -> str:
    stance = facts["standing"]
    other = {"left": "right", "right": "left"}[stance]
    grade = facts["other_grade"]
    beside = f", {grade} on the {other}" if grade else ""
    return f"Pelvic drop {facts['grade']} standing on the {stance}{beside} ({facts['task']})"


def _red_flag(facts: Facts) -> str:
    question = BY_CODE[facts["flag"]].text
    return f"Red flag, {TIERS[facts['tier']]}: {question} ({_day(facts, 'on')})"


def _no_visit(facts: Facts) -> str:
    since = f"since {_day(facts, 'last')}" if facts["last"] else "yet"
    return f"No visit {since}, overdue from {_day(facts, 'overdue_from')}"


def _unsigned(facts: Facts) -> str:
    return f"Visit of {_day(facts, 'on')} not signed"


def _late(facts: Facts) -> str:
    more = f" and at {facts['more']} more" if facts["more"] != "0" else ""
    where = f"at the visit of {_day(facts, 'on')}{more}"
    return f"Typed without network {where}, not in the record: read it on that visit’s page"


def _late_flag(facts: Facts) -> str:
    where = f"without network at the visit of {_day(facts, 'on')}"
    return (
        f"Red flag answered yes {where}, not in the record: ask now, "
        "follow your local emergency pathway, read it on that visit’s page"
    )


def _limits(facts: Facts) -> str:
    return not_confirmed(procedure=facts["procedures"])


def _limit_ends(facts: Facts) -> str:
    more = f" and {facts['more']} more" if facts["more"] != "0" else ""
    what = f"{KIND_WORDS.get(facts['kind'], facts['kind'])}, {facts['limit']}"
    return f"Surgeon's limit ends {_day(facts, 'until')}{more}: ask what follows ({what})"


def _happened(told: str, action: str) -> Callable[[Facts], str]:
    """``told`` may name the side; a detail follows it in words."""

    def sentence(facts: Facts) -> str:
        detail = f" {facts['detail']}" if facts["detail"] else ""
        said = told.format(side=facts["limb"])
        return f"{said}{detail} ({_day(facts, 'on')}){action}"

    return sentence


def _fracture(facts: Facts) -> str:
    what = f"Fracture of the {facts['detail']}" if facts["detail"] else "Fracture"
    return f"{what}, {facts['limb']} ({_day(facts, 'on')}): ask the surgeon before loading"


def _gave_way_again(facts: Facts) -> str:
    times = f"Knee gave way on {facts['times']} days, last {_day(facts, 'on')}"
    return f"{times}: discuss with the surgeon"


def _baseline(facts: Facts) -> str:
    return "No baseline: measure the other leg now, before it weakens"


WRITERS: Final[dict[str, Callable[[Facts], str]]] = {
    "extension_short_note": _extension(": not straight yet"),
    "extension_short_recheck": _extension(
        ": recheck weekly with prone heel height, hamstring guarding?"
    ),
    "extension_short_surgeon": _extension(": tell the surgeon"),
    "extension_short_letter": _extension(": letter to the surgeon this week"),
    "effusion_note": _effusion(""),
    "effusion_hold_impact": _effusion(": hold impact"),
    "effusion_regress": _effusion(GO_BACK),
    "infection_signs": _infection,
    "pain_rising": _pain,
    "front_of_knee_pain": _front_of_knee,
    "flexion_low": _flexion,
    "quadriceps_setback": _quadriceps,
    "quadriceps_fall": _quadriceps_alone,
    "no_visit": _no_visit,
    "unsigned_visit": _unsigned,
    "late_typing": _late,
    "late_red_flag": _late_flag,
    "limits_not_confirmed": _limits,
    "limit_ends": _limit_ends,
    "no_baseline": _baseline,
    "event_giving_way": _happened("Knee gave way", ": look at it this week"),
    "event_giving_way_again": _gave_way_again,
    "event_new_injury": _happened("New injury, {side} knee", ": look at it this week"),
    "event_graft_rupture": _happened(
        "Graft rupture", ": this episode is still open, tell the surgeon"
    ),
    "event_other_knee_acl_injury": _happened(
        "ACL injury of the {side} knee", ": no episode follows that knee yet"
    ),
    "event_infection": _happened("Infection", ": the plan of the surgeon’s team comes first"),
    "event_clot": _happened("Blood clot", ": the plan of the treating doctor comes first"),
    "event_fracture": _fracture,
}


def sentence_of(*, reason: Reason) -> str:
    """The sentence of a reason, complete without its page. Raises ``KeyError`` for a new code."""
    if reason.code.startswith("red_flag_"):
        return _red_flag(reason.facts)
    if reason.code.startswith("pelvic_drop_"):
        return _pelvis(reason.facts)
    return WRITERS[reason.code](reason.facts)
