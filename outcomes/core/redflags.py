"""Red flags: eight yes-or-no questions in our own words, in three tiers.

They never diagnose: a yes follows the local urgent pathway and the surgeon's team is told.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from outcomes.core.values import Tier

SHORT_FORM_AFTER_WEEK: Final = 13


@dataclass(frozen=True, kw_only=True, slots=True)
class Question:
    """One question. ``opens`` names the original questions that a yes of the short form opens."""

    code: str
    text: str
    tier: Tier
    opens: tuple[str, ...] = ()


QUESTIONS: Final = (
    Question(code="chest", text="Chest pain, breathless or collapsed", tier=Tier.NOW),
    Question(
        code="foot",
        text="Foot cold, pale or numb, cannot lift the foot, or calf tense with severe pain",
        tier=Tier.NOW,
    ),
    Question(code="calf", text="Calf pain or calf swelling", tier=Tier.TODAY),
    Question(
        code="hot_knee",
        text="Knee hot, red, leaking or newly swollen and painful, or fever or unwell",
        tier=Tier.TODAY,
    ),
    Question(code="pop", text="Pop or snap, and cannot straighten the knee", tier=Tier.TODAY),
    Question(code="giving_way", text="Knee gave way", tier=Tier.THIS_WEEK),
    Question(code="locking", text="Knee locks and will not move", tier=Tier.THIS_WEEK),
    Question(
        code="colour_pain",
        text="Pain with a change of colour or temperature of the leg",
        tier=Tier.THIS_WEEK,
    ),
)
"""All eight, in the order they are asked; tiers of our own clinical setting."""

SHORT_FORM: Final = (
    Question(
        code="short_pop",
        text="Pop, or knee gave way",
        tier=Tier.TODAY,
        opens=("pop", "giving_way"),
    ),
    Question(code="short_locking", text="Knee locks", tier=Tier.THIS_WEEK, opens=("locking",)),
    Question(
        code="short_hot_knee",
        text="Hot or swollen knee, or fever",
        tier=Tier.TODAY,
        opens=("hot_knee",),
    ),
    Question(
        code="short_calf",
        text="Calf or chest trouble",
        tier=Tier.NOW,
        opens=("chest", "foot", "calf"),
    ),
)
"""The short four after week 13. Their tier is the higher one of the questions they open."""

BY_CODE: Final = {question.code: question for question in (*QUESTIONS, *SHORT_FORM)}
URGENCY: Final = (Tier.NOW, Tier.TODAY, Tier.THIS_WEEK)


def questions_for(*, week: int | None) -> tuple[Question, ...]:
    """The questions to ask: all eight, or the short four after week 13."""
    return SHORT_FORM if week is not None and week > SHORT_FORM_AFTER_WEEK else QUESTIONS


def flags(*, answers: Mapping[str, bool]) -> tuple[Question, ...]:
    """The questions that stand as yes, the most urgent first.

    ``answers`` maps codes to yes or no; a code that is missing was not asked. A yes of the short
    form stands itself, with its higher tier, until all questions it opens are answered; from then
    on their answers count. Raises ``KeyError`` for a code that is no question.
    """
    standing = [
        question
        for question in (BY_CODE[code] for code, yes in answers.items() if yes)
        if not question.opens or not all(code in answers for code in question.opens)
    ]
    return tuple(sorted(standing, key=lambda q: (URGENCY.index(q.tier), q.code)))


def tier(*, answers: Mapping[str, bool]) -> Tier | None:
    """The most urgent tier of all that stands as yes, or None.

    >>> tier(answers={"calf": True, "giving_way": True}).value
    'today'
    """
    return next((question.tier for question in flags(answers=answers)), None)
