"""What the one strict reader of protocols refuses, as a sentence for the field of a form."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, Final

from outcomes.catalogue.fields import SeedError

Json = Mapping[str, Any]
TOP: Final = ""
PLACE: Final = re.compile(r"(?:milestones\[(\d+)\]: )(?:criteria\[(\d+)\]: )?(.+)", re.DOTALL)
KEYS: Final = re.compile(r"((?:[a-z_]+(?:\[\d+\])?(?:\.[\w:]+)?: )+)(.+)", re.DOTALL)
QUOTED: Final = re.compile(r"'([a-z][a-z0-9_]*)'")
FIELD: Final[Mapping[str, str]] = {
    "threshold": "value",
    "value_by_sex": "value_female",
    "bands": "value_band_0",
    "needed": "needed",
    "earliest_week": "earliest_week",
    "maximum_age_days": "maximum_age_days",
    "within_days": "within_days",
    "hard": "hard",
    "label": "label",
    "sources": "source",
    "repeated": "repeated_",
    "alike_to": "alike_to",
    "key": "key_",
    "form": "form",
    "of": "of",
}
"""The field of a criterion by the first key that the reader names."""
MISSING: Final = "is missing"
TOGETHER: Final[Mapping[str, str]] = {
    "repeated": "Type both numbers of days, or leave both blank.",
    "value_by_sex": "Type a number for women and one for men, or leave both blank.",
}
"""What is typed together or not at all, by the first key."""
ALL_CONDITIONS: Final = "Its conditions are asked together, or none of them."
GOALS: Final = "last_by_goal: "
SETS: Final = "sets"
NEVER_ALONE: Final = "needs a hard one"
THROUGH_GROUP: Final = "it counts through its group alone"
BEFORE_IT: Final = "does not stand before it"


def said_of(error: SeedError, *, body: Json, before: Json) -> tuple[str, str, str]:
    """Milestone, field and sentence of a refusal; the field of a criterion begins with its code.

    An empty field is the whole form. ``before`` still has what was just taken out.
    """
    found = PLACE.search(str(error))
    if found is None:
        return TOP, TOP, _whole(str(error).strip(": "), body)
    milestone = body["milestones"][int(found[1])]
    keys, sentence = _keys(found[3])
    if found[2] is None:
        return milestone["code"], _gate_field(keys), _sentence(sentence, milestone)
    criterion = milestone["criteria"][int(found[2])]
    names: dict[str, str] = {
        one["code"]: one["label"]
        for each in before["milestones"]
        if each["code"] == milestone["code"]
        for one in each["criteria"]
    }
    named = QUOTED.search(sentence)
    if named and THROUGH_GROUP in sentence:
        return (
            milestone["code"],
            f"{named[1]}-hard",
            _through(names.get(named[1], ""), criterion),
        )
    if named and BEFORE_IT in sentence:
        return milestone["code"], TOP, _order(names.get(named[1], ""), criterion)
    first = keys[0].partition("[")[0]
    field = FIELD.get(first, "")
    place = f"{criterion['code']}-{field}" if field else TOP
    if sentence == MISSING and first in TOGETHER:
        return milestone["code"], place, TOGETHER[first]
    if first == "key":
        return milestone["code"], place, f"{sentence} {ALL_CONDITIONS}"
    return milestone["code"], place, _sentence(sentence, milestone)


def _whole(what: str, body: Json) -> str:
    """A refusal that speaks of no one milestone: of the goals, the weeks, or everything."""
    if what.startswith(GOALS) and "not there" in what:
        return (
            "A goal stops at that milestone. Open the goals first and let it stop at another one; "
            "then take this one away."
        )
    if what.startswith(SETS):
        keys, sentence = _keys(what)
        place = re.fullmatch(r"sets\[(\d+)\]", keys[0])
        which = f"“{body['sets'][int(place[1])]['label']}”" if place else "The weeks"
        return (
            f"{which}: {sentence}. Every week stands in one set and in no other, from week 0 on, "
            "and the last set has no end."
        )
    return _plain(what)


def _keys(text: str) -> tuple[list[str], str]:
    """The keys that lead to what is wrong, and what is wrong."""
    found = KEYS.fullmatch(text)
    if found is None:
        return [""], text
    keys = found[1].removesuffix(": ").split(": ")
    if keys[0] == "criteria":
        return keys[:1], ": ".join([*keys[1:], found[2]])
    return keys, found[2]


def _gate_field(keys: list[str]) -> str:
    return {"gate": "gate", "label": "label"}.get(keys[0], TOP)


def _sentence(what: str, milestone: Json) -> str:
    if NEVER_ALONE in what:
        return (
            f"{milestone['label']} would rest on time alone. Leave at least one criterion that "
            "counts."
        )
    return _plain(what)


def _plain(what: str) -> str:
    said = f"{what[:1].upper()}{what[1:]}".rstrip(".")
    return f"This cannot be taken: {said}. Type another value."


def _through(label: str, group: Json) -> str:
    return (
        f"“{label}” counts through “{group['label']}”. Leave it advisory, or remove that group "
        "first."
    )


def _order(label: str, group: Json) -> str:
    return (
        f"“{group['label']}” is made of “{label}”, which stands before it. Move or remove the "
        "group first."
    )
