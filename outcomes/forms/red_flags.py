"""Red-flag questions as they are asked at a visit. Nothing here blocks saving or signing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from outcomes.core.redflags import (
    BY_CODE,
    QUESTIONS,
    SHORT_FORM,
    Question,
    flags,
    questions_for,
    tier,
)
from outcomes.core.values import Tier
from outcomes.forms.ledger_fields import Field, Option
from outcomes.queries.visit import VisitSheet

YES_NO: Final = (Option(code="no", label="no"), Option(code="yes", label="yes"))
NONE: Final = "f:none"


@dataclass(frozen=True, kw_only=True, slots=True)
class Asked:
    """One question with its field, and the questions that its yes opens."""

    question: Question
    field: Field
    opens: tuple[Asked, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Instruction:
    """What a tier asks for; it defers to the clinic's local pathway."""

    tier: str
    title: str
    text: str


class RedFlagForm:
    """The questions of a visit: all eight, or after week 13 the short four."""

    def __init__(self, *, texts: Mapping[str, str], week: int | None, emergency_line: str) -> None:
        self.texts = texts
        self.emergency_line = emergency_line
        self.short = questions_for(week=week) == SHORT_FORM
        self.asked = tuple(self._asked(question) for question in questions_for(week=week))

    def _asked(self, question: Question) -> Asked:
        name = f"f:{question.code}"
        return Asked(
            question=question,
            field=Field(
                name=name,
                label=question.text,
                kind="chips",
                value=self.texts.get(name, ""),
                options=YES_NO,
            ),
            opens=tuple(self._asked(BY_CODE[code]) for code in question.opens),
        )

    @property
    def form(self) -> str:
        """Which form was asked: ``eight`` or ``four``."""
        return "four" if self.short else "eight"

    @property
    def none(self) -> Field:
        """The one explicit tap: all were asked, none was answered yes."""
        count = "four" if self.short else "eight"
        return Field(
            name=NONE,
            label=f"I asked all {count}: none",
            kind="tick",
            value=self.texts.get(NONE, ""),
        )

    @property
    def action(self) -> Field:
        """What was done; it may come later."""
        name = "f:action"
        return Field(name=name, label="What was done", kind="text", value=self.texts.get(name, ""))

    @property
    def contacted(self) -> Field:
        """Who was told; it may come later."""
        name = "f:contacted"
        return Field(name=name, label="Who was told", kind="text", value=self.texts.get(name, ""))

    @property
    def fields(self) -> tuple[Field, ...]:
        """Every field, the opened questions included."""
        questions = [one for asked in self.asked for one in (asked, *asked.opens)]
        return (*(one.field for one in questions), self.none, self.action, self.contacted)

    @property
    def answers(self) -> dict[str, bool]:
        """Yes and no by question. A question without an answer was not asked and is missing.

        With the one tap every question of the form that has no answer of its own is a no.
        """
        codes = [question.code for question in (*QUESTIONS, *SHORT_FORM)]
        found = {
            code: text == "yes"
            for code in codes
            if (text := self.texts.get(f"f:{code}", "")) in ("yes", "no")
        }
        if self.texts.get(NONE):
            found = {**{asked.question.code: False for asked in self.asked}, **found}
        return found

    @property
    def tier(self) -> Tier | None:
        """The most urgent tier that stands."""
        return tier(answers=self.answers)

    @property
    def found(self) -> str:
        """The questions that stand as yes, the most urgent first."""
        return "; ".join(question.text for question in flags(answers=self.answers))

    @property
    def summary(self) -> str:
        """One line for the foot of the page: "8 asked, none", "2 of 8 asked", "not asked"."""
        mine = [asked.question.code for asked in self.asked]
        answers = self.answers
        asked = [code for code in mine if code in answers]
        yes = sum(answers.values())
        if not asked and not yes:
            return "not asked"
        count = (
            f"{len(asked)} asked"
            if len(asked) == len(mine)
            else f"{len(asked)} of {len(mine)} asked"
        )
        return f"{count}, {f'{yes} yes' if yes else 'none'}"

    @property
    def instruction(self) -> Instruction | None:
        """What to do now, first of all; None without a yes."""
        found = self.tier
        return None if found is None else instruction_of(tier=found, line=self.emergency_line)


def red_flag_form(
    *, sheet: VisitSheet, texts: Mapping[str, str], weeks: Sequence[int | None]
) -> RedFlagForm:
    """The questions of a visit: the short four only when every followed knee is past week 13."""
    known = [week for week in weeks if week is not None]
    week = min(known) if known and len(known) == len(weeks) else None
    return RedFlagForm(texts=texts, week=week, emergency_line=sheet.visit.site.emergency_line)


def instruction_of(*, tier: Tier, line: str) -> Instruction:
    """The words of a tier. ``line`` is the site's emergency line."""
    if tier is Tier.NOW:
        call = line or "the emergency number"
        return Instruction(
            tier=tier.value,
            title=f"Call now: {call}",
            text="Stop testing and stay with the patient. Follow your local emergency pathway, "
            "then tell the surgeon's team. Notes can wait.",
        )
    if tier is Tier.TODAY:
        return Instruction(
            tier=tier.value,
            title="Medical assessment today",
            text="Stop testing this leg. Follow your local urgent pathway and tell the surgeon's "
            "team today. When unsure, treat it as an emergency.",
        )
    return Instruction(
        tier=tier.value,
        title="Tell the surgeon's team this week",
        text="No new load on this knee until it has been looked at. Follow your local pathway. "
        "When unsure, treat it as more urgent.",
    )
