"""One protocol from one mapping, cross-checked against the catalogue it will be judged with."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from outcomes.catalogue.fields import Fields, sources_from
from outcomes.core.values import Criterion, Gate, Measure, Milestone, Protocol
from outcomes.protocols.criteria import GRAFTS, criterion_from
from outcomes.protocols.sets import sets_from

GOALS: Final = ("pivoting", "sideways", "straight_line", "no_sport")
KINDS: Final = ("waiting", "reconstruction", "repair", "revision", "without_surgery")
RESTRICTIONS: Final = (
    "weight_bearing", "range", "brace", "open_chain", "hamstring_load", "loaded_flexion",
    "pivoting", "impact",
)  # fmt: skip
LATER: Final = frozenset(
    ["under_16", *(f"graft:{graft}" for graft in GRAFTS), *(f"kind:{kind}" for kind in KINDS)]
)


def protocol_from(
    mapping: Mapping[str, Any], catalogue: Mapping[str, Measure], *, where: str = "protocol"
) -> Protocol:
    """The protocol that a seed or a stored version describes, named like ``starter@1``.

    ``where`` names the file. Raises ``SeedError`` naming file and key for anything missing,
    unknown or contradictory, and for a criterion the catalogue cannot answer.
    """
    fields = Fields(mapping=mapping, where=where)
    code, version = fields.code("code"), fields.integer("version", at_least=1)
    milestones = tuple(
        _milestone(part, catalogue) for part in fields.parts("milestones", needed=True)
    )
    protocol = Protocol(
        code=f"{code}@{version}",
        label=fields.text("label"),
        milestones=milestones,
        last_by_goal=fields.table("last_by_goal"),
        sets=sets_from(fields, catalogue),
    )
    fields.done()
    codes = [milestone.code for milestone in milestones]
    if len(set(codes)) != len(codes):
        raise fields.refuse("milestones", "names one twice")
    if set(protocol.last_by_goal) != set(GOALS):
        raise fields.refuse("last_by_goal", f"must name each of {', '.join(GOALS)}")
    if not set(protocol.last_by_goal.values()) <= set(codes):
        raise fields.refuse("last_by_goal", "names a milestone that is not there")
    return protocol


def battery_from(
    mapping: Mapping[str, Any], catalogue: Mapping[str, Measure], *, where: str = "battery"
) -> Protocol:
    """The published set of criteria that a seed describes: a protocol of one milestone.

    Every criterion is hard, as published. It has no earliest date unless one is part of the set
    (``weeks``); it stands beside the stages of a protocol and is none of them. Raises
    ``SeedError`` as ``protocol_from`` does.
    """
    fields = Fields(mapping=mapping, where=where)
    code, version = fields.code("code"), fields.integer("version", at_least=1)
    label = fields.text("label")
    weeks = fields.integer_or_none("weeks", at_least=1)
    gate = Gate(weeks=weeks, months=None, sources=() if weeks is None else sources_from(fields))
    criteria = criteria_from(fields, catalogue)
    fields.done()
    if not all(criterion.hard for criterion in criteria):
        raise fields.refuse("criteria", "each of a published set is hard")
    milestone = Milestone(code=code, label=label, gate=gate, criteria=criteria)
    return Protocol(code=f"{code}@{version}", label=label, milestones=(milestone,), last_by_goal={})


def _milestone(fields: Fields, catalogue: Mapping[str, Measure]) -> Milestone:
    milestone = Milestone(
        code=fields.code("code"),
        label=fields.text("label"),
        gate=_gate(fields.part("gate")),
        criteria=criteria_from(fields, catalogue),
        blocked_by=_known(fields, "blocked_by", RESTRICTIONS),
        before_surgery=fields.truth("before_surgery", default=False),
    )
    fields.done()
    if not any(criterion.hard for criterion in milestone.criteria):
        raise fields.refuse("criteria", "needs a hard one: never time alone")
    return milestone


def criteria_from(fields: Fields, catalogue: Mapping[str, Measure]) -> tuple[Criterion, ...]:
    """The criteria of one table, at least one, each code once; a group after its members."""
    found: dict[str, Criterion] = {}
    for part in fields.parts("criteria", needed=True):
        criterion = criterion_from(part, catalogue, earlier=found)
        if criterion.code in found:
            raise fields.refuse("criteria", "names one twice")
        found[criterion.code] = criterion
    return tuple(found.values())


def _known(fields: Fields, key: str, known: tuple[str, ...]) -> tuple[str, ...]:
    found = fields.texts(key)
    for code in found:
        if code not in known:
            raise fields.refuse(key, f"{code!r} is none of {', '.join(known)}")
    return found


def _gate(fields: Fields) -> Gate:
    later = fields.table("later")
    gate = Gate(
        weeks=fields.integer_or_none("weeks"),
        months=fields.integer_or_none("months", at_least=1),
        sources=sources_from(fields),
        later=tuple(sorted(later.items())),
        waived_for=_known(fields, "waived_for", KINDS),
    )
    fields.done()
    if (gate.weeks is None) == (gate.months is None):
        raise fields.refuse("weeks", "give either weeks or months: never criteria alone")
    for code, months in later.items():
        if code not in LATER:
            raise fields.refuse(f"later.{code}", "is not known")
        if not isinstance(months, int) or isinstance(months, bool) or months <= (gate.months or 0):
            raise fields.refuse(f"later.{code}", "must be whole months, later than the gate")
    return gate
