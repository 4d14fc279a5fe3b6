"""A paper form keyed by numbers: texts to answers, two marks in one item, a second keying."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from itertools import groupby
from typing import Any

from django import forms

from clinic import words
from clinic.forms.base import ActForm
from clinic.services.acts import fingerprint
from outcomes.core.instruments import Instrument, Item, ScoreRule, TwoMarks
from outcomes.core.quantities import plain
from outcomes.core.questionnaires import (
    answers_in_words,
    counted,
    score_counted,
    settle_two_marks,
)
from outcomes.core.values import Limb
from outcomes.queries.keying import Sheet

MARK = re.compile(r"\d{1,3}(\.\d{1,2})?")
BETWEEN = "/"


@dataclass(frozen=True, kw_only=True, slots=True)
class Box:
    """One item's field as it is drawn. ``digits``: its answers where each takes one key."""

    code: str
    text: str
    error: str
    takes: str
    digits: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Group:
    """Items that stand together: the same letters before the number and the same answers."""

    takes: str
    boxes: tuple[Box, ...]


class KeyingForm(ActForm):
    """One sheet of a questionnaire, for one knee or the person, in one layout of the print.

    Posted once it is checked, posted again unchanged it may be kept (``step``).
    """

    def __init__(
        self,
        data: Mapping[str, Any] | None,
        *,
        instrument: Instrument,
        version_id: int,
        limb: Limb,
        layout: str,
        on_record: Mapping[str, str] | None = None,
    ) -> None:
        super().__init__(data)
        self.instrument, self.version_id = instrument, version_id
        self.limb, self.layout = limb, layout
        self.on_record = on_record or {}

    @cached_property
    def texts(self) -> dict[str, str]:
        """What stands in each field; the fields of a second keying begin empty."""
        if not self.is_bound:
            return {item.code: self.on_record.get(item.code, "") for item in self.instrument.items}
        return self._posted("i")

    @cached_property
    def first(self) -> dict[str, str] | None:
        """What was keyed the first time, while a second keying is under way."""
        return self._posted("f") if self.is_bound and "second" in self.data else None

    def _posted(self, letter: str) -> dict[str, str]:
        texts = {
            item.code: str(self.data.get(f"{letter}:{item.code}", "")).strip()[:20]
            for item in self.instrument.items
        }
        return {code: re.sub(r"\s*/\s*", BETWEEN, text) for code, text in texts.items()}

    @cached_property
    def marks(self) -> dict[str, tuple[Decimal, ...]]:
        """The marks of each item that can be taken, none where it was left open."""
        return {code: self._marks(text) for code, text in self.texts.items()}

    def _marks(self, text: str) -> tuple[Decimal, ...]:
        parts = text.split(BETWEEN) if text else []
        if not all(MARK.fullmatch(part) for part in parts):
            return (Decimal(-1),)
        return tuple(dict.fromkeys(Decimal(part) for part in parts))

    @cached_property
    def wrong(self) -> dict[str, str]:
        """A sentence for each item whose text cannot be taken: what to type instead."""
        return {
            code: said
            for code, marks in self.marks.items()
            if (said := self._refusal(code, marks)) is not None
        }

    def _refusal(self, code: str, marks: tuple[Decimal, ...]) -> str | None:
        if len(marks) > 1 and self.instrument.two_marks is TwoMarks.ASK:
            return f"Item {code}: ask which mark counts and type that one, or leave it blank."
        takes = self._takes(self.instrument.by_code[code])
        if any(mark not in takes for mark in marks):
            return f"Item {code} takes {answers_in_words(answers=takes)}, or leave it blank."
        return None

    def _takes(self, item: Item) -> tuple[Decimal, ...]:
        return self.instrument.layout(code=self.layout).answers or item.answers

    @cached_property
    def chosen(self) -> dict[str, Decimal | None]:
        """One mark for each item: of two marks the one that counts. Only while nothing is wrong."""
        return {code: self._chosen(code, marks) for code, marks in self.marks.items()}

    def _chosen(self, code: str, marks: tuple[Decimal, ...]) -> Decimal | None:
        if len(marks) < 2:
            return marks[0] if marks else None
        return settle_two_marks(
            instrument=self.instrument, item=code, marks=marks, layout=self.layout
        )

    @cached_property
    def counts(self) -> dict[str, Decimal | None]:
        """Every answer as it counts. Only while nothing is wrong."""
        return counted(instrument=self.instrument, answers=self.chosen, layout=self.layout)

    @property
    def blank(self) -> bool:
        """Whether no item holds an answer."""
        return not any(self.texts.values())

    @cached_property
    def sheet(self) -> Sheet:
        """What is kept. Ask only after ``is_valid``."""
        answers = {code: _text(value) for code, value in self.counts.items()}
        return Sheet(
            instrument=self.instrument,
            version_id=self.version_id,
            limb=self.limb,
            layout=self.layout,
            answers=answers,
            typed={code: text for code, text in self._as_marked() if text != answers[code]},
            keyed_twice=self.first is not None,
        )

    def _as_marked(self) -> Iterator[tuple[str, str]]:
        for code, marks in self.marks.items():
            if marks:
                yield code, BETWEEN.join(plain(value=mark) for mark in marks)

    def clean(self) -> dict[str, Any]:
        """Refuse an answer that an item does not take, and a sheet without any."""
        if self.wrong:
            self.add_error(None, "Put right what is marked below.")
        if self.blank:
            self.add_error(None, "Nothing is keyed. A sheet without any answer is not kept.")
        return self.cleaned_data

    @property
    def to_put_right(self) -> list[tuple[str, str]]:
        """Each sentence of what is wrong, with the id of the field it is about."""
        found = [(f"i-{code}", sentence) for code, sentence in self.wrong.items()]
        for name, sentences in self.errors.items():
            place = "" if name in ("__all__", "key") else f"id_{name}"
            found += [(place, str(one)) for one in sentences if not (self.wrong and not place)]
        return found

    @property
    def print_of_it(self) -> str:
        """What must be posted again unchanged before it is kept."""
        return fingerprint({"now": self.texts, "first": self.first or {}, "layout": self.layout})

    @property
    def step(self) -> str:
        """Where the sheet stands: key, wrong, again, check or keep."""
        if not self.is_bound:
            return "key"
        if not self.is_valid():
            return "wrong"
        if "again" in self.data and self.first is None:
            return "again"
        return "keep" if self.data.get("checked") == self.print_of_it else "check"

    @property
    def first_focus(self) -> bool:
        """Whether typing begins at the first field: not where something must be put right."""
        return self.step in ("key", "again")

    @property
    def groups(self) -> list[Group]:
        """The fields in the order of the items, those that belong together in one group."""
        fresh = self.step == "again"
        found = []
        for (_, takes), items in groupby(self.instrument.items, key=self._belongs):
            boxes = tuple(self._box(item, takes, fresh=fresh) for item in items)
            found.append(Group(takes=takes, boxes=boxes))
        return found

    def _belongs(self, item: Item) -> tuple[str, str]:
        letters = re.match(r"[A-Za-z_]*", item.code)
        return letters[0] if letters else "", answers_in_words(answers=self._takes(item))

    def _box(self, item: Item, takes: str, *, fresh: bool) -> Box:
        texts = [plain(value=answer) for answer in self._takes(item)]
        one = all(len(text) == 1 for text in texts)
        return Box(
            code=item.code,
            text="" if fresh else self.texts[item.code],
            error=self.wrong.get(item.code, "") if self.is_bound else "",
            takes=takes,
            digits="".join(texts) if one else "",
        )

    @property
    def kept_aside(self) -> list[tuple[str, str]]:
        """The first keying, to be posted with the second one."""
        texts = self.texts if self.step == "again" else self.first
        return list((texts or {}).items())

    @property
    def differing(self) -> list[str]:
        """The items that were keyed differently the second time."""
        return [
            f"Item {code}: first {before or 'blank'}, now {self.texts[code] or 'blank'}"
            for code, before in (self.first or {}).items()
            if self._marks(before) != self.marks[code]
        ]

    @property
    def missing(self) -> str:
        """Which items are blank, in a sentence; empty where none is."""
        codes = [code for code, value in self.counts.items() if value is None]
        if not codes:
            return ""
        noun = "item is" if len(codes) == 1 else "items are"
        return f"{len(codes)} {noun} blank and counted as missing: {words.listed(codes)}."

    @property
    def effects(self) -> list[str]:
        """What blank items do to each score: how many are answered and how many are needed."""
        found = score_counted(instrument=self.instrument, answers=self.counts, layout=self.layout)
        said = []
        for form in self.instrument.scores:
            result, of = found[form.code], len(form.items)
            if result.reason:
                said.append(f"{form.label}: {result.reason}, so it is not formed.")
            elif form.rule is not ScoreRule.MEAN_OF_SCORES and result.answered < of:
                said.append(f"{form.label}: {result.answered} of {of} answered, it is formed.")
        return said

    @property
    def as_it_counts(self) -> list[str]:
        """Each item whose mark counts as another number: two marks, or another print."""
        return [
            f"Item {code}: {text} counts as {self.sheet.answers[code]}"
            for code, text in self.sheet.typed.items()
        ]


class CorrectSheetForm(KeyingForm):
    """A kept sheet once more, with the reason; it is kept at the first post."""

    reason = forms.CharField(
        label="Why it is corrected",
        max_length=200,
        error_messages={"required": "Say in a few words why it is corrected."},
    )

    def clean(self) -> dict[str, Any]:
        """Refuse also a correction that changes nothing."""
        super().clean()
        if not self.errors and self.texts == {**dict.fromkeys(self.texts, ""), **self.on_record}:
            self.add_error(None, "Nothing differs from what is on record.")
        return self.cleaned_data


class WithdrawSheetForm(ActForm):
    """Take a completed form out of every score; it stays visible, with the reason."""

    reason = forms.CharField(
        label="Why it is withdrawn",
        max_length=200,
        error_messages={"required": "Say in a few words why it is withdrawn."},
    )


def _text(value: Decimal | None) -> str | None:
    return None if value is None else plain(value=value)
