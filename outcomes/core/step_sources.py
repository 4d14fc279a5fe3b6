"""Where the reasons of a proposed step come from: the sources of a rule, with their marks."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from outcomes.core.progressions import Level, Progression, Requirement, StepReason
from outcomes.core.values import Mark, Source


def _house(text: str) -> Source:
    return Source(text=f"{text}: setting of this house", mark=Mark.CLINIC_SETTING)


PAIN: Final = (_house("Pain of 0 to 2 goes on, 3 and 4 hold, from 5 on a step back"),)
EFFUSION: Final = (
    Source(text="Graded by the sweep test (n = 75, Sturgill 2009)", mark=Mark.SEEN),
    _house("1+ holds impact, from 2+ or up a grade on two visits a step back"),
)
SORENESS: Final = (
    Source(
        text="Soreness rules of a progression after ACL reconstruction (PMC6044585, table 5)",
        mark=Mark.SECOND_HAND,
    ),
)
SORE_NEXT_DAY: Final = (
    Source(
        text="Soreness the day after: one day off and the same level: from memory, unverified",
        mark=Mark.MEMORY,
    ),
)
SETBACK: Final = (_house("Extension by 5°, flexion by 10° or 15 points of quadriceps symmetry"),)
EVENTS: Final = (_house("What happened is looked into before more load"),)
VISIT: Final = (_house("One step up and one change a visit"),)
FIRST_MOVEMENT: Final = (
    Source(
        text="Hip work before more step-downs: common practice, no source",
        mark=Mark.COMMON_PRACTICE,
    ),
)
SURGEON: Final = (_house("The surgeon's limit beats every criterion"),)
BY_RULE: Final[Mapping[str, tuple[Source, ...]]] = MappingProxyType(
    {
        **dict.fromkeys(("pain_low", "pain_holds", "pain_high", "pain_not_known"), PAIN),
        **dict.fromkeys(("settled", "not_settled"), PAIN),
        **dict.fromkeys(
            (
                "effusion_low", "effusion_one", "effusion_holds_impact", "effusion_high",
                "effusion_up_twice", "effusion_not_known",
            ),
            EFFUSION,
        ),
        **dict.fromkeys(
            ("soreness_none", "soreness_warm_up", "soreness_stayed", "soreness_came_back"),
            SORENESS,
        ),
        "soreness_next_day": SORE_NEXT_DAY,
        **dict.fromkeys(
            (
                "knee_extension_lost", "knee_flexion_lost", "limp_back", "quadriceps_setback",
                "quadriceps_fall", "infection_signs",
            ),
            SETBACK,
        ),
        **dict.fromkeys(
            ("giving_way", "ask_the_surgeon", "operated_since", "red_flag"), EVENTS
        ),
        **dict.fromkeys(
            ("sessions_missing", "two_good_sessions"),
            (_house("Two good sessions at least three days apart"),),
        ),
        **dict.fromkeys(("one_step_a_visit", "one_step_up", "step_down"), VISIT),
        "drop_at_first_movement": FIRST_MOVEMENT,
        **dict.fromkeys(("surgeons_limit", "limits_not_confirmed"), SURGEON),
    }
)  # fmt: skip
"""Rules that hold for every progression; those of a level have the sources of the level."""


def sources_of(
    *, reason: StepReason, progression: Progression, level: str, here: str
) -> tuple[Source, ...]:
    """What a reason rests on: its requirement's sources, its rule's, else those of the level.

    ``level`` is the one proposed, ``here`` the one of now; either may be empty for not begun.
    """
    ends = [one for one in progression.levels if one.code in (level, here)]
    named = _named(reason=reason, progression=progression, levels=ends)
    if named:
        return named
    if reason.rule in BY_RULE:
        return BY_RULE[reason.rule]
    found = [one.sources for one in ends]
    return found[-1] if found else progression.sources


def _named(
    *, reason: StepReason, progression: Progression, levels: list[Level]
) -> tuple[Source, ...]:
    """The sources of a requirement or of a caution after a graft, by what the reason says of it."""
    code, text = reason.facts.get("code", ""), reason.facts.get("text", "")
    asked = [one for level in progression.levels if level in levels for one in _asked(level)]
    asked += [one for level in progression.levels for one in _asked(level)]
    for requirement in (*asked, *progression.advice):
        if code and requirement.code == code and requirement.sources:
            return requirement.sources
    cautions = [one for level in progression.levels for one in level.cautions]
    return next((one.sources for one in cautions if text and one.text == text), ())


def _asked(level: Level) -> list[Requirement]:
    return [*level.enter, *level.advance, *level.step_back]
