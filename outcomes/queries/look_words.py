"""Reasons to look in words: the sentence, what it rests on, and what was answered before."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from clinic import words
from outcomes.core.looks import MOST
from outcomes.core.looks_at_events import PREFIX as EVENT
from outcomes.core.looks_at_events import told_for
from outcomes.core.sentences import sentence_of
from outcomes.core.values import Measure, Reading, Reason
from outcomes.core.wording import conditions_words, reading_words
from outcomes.models.record import Reading as ReadingRow
from outcomes.queries.catalogue import catalogue
from outcomes.queries.looks import Answer, newest_answers, silencing
from outcomes.queries.visit import as_reading

RED_FLAG: Final = "red_flag_"
STRENGTH: Final = ("quadriceps_setback", "quadriceps_fall")
TESTER: Final = (
    "Same device and conditions; who tested is not compared: see whether it was the same."
)
RAW: Final = "Judged on the value as it was measured; measurement error does not quiet it."


@dataclass(frozen=True, kw_only=True, slots=True)
class Look:
    """One reason in words. ``size`` is what the answer is remembered with."""

    id: str
    code: str
    size: str
    sentence: str
    alarm: bool
    facts: tuple[str, ...]
    earlier: str
    answered: bool


def look_id(*, episode_id: int, code: str) -> str:
    """The id of a reason's region: two knees of one patient may share a page and a code."""
    return f"look-{episode_id}-{code.replace('_', '-')}"


def looks_of(
    *,
    episode_id: int,
    reasons: Sequence[Reason],
    on: date,
    zone: str,
    measures: Mapping[str, Measure] | None = None,
    readings: Iterable[Reading] | None = None,
) -> tuple[Look, ...]:
    """The reasons of an episode, those without an answer first, at most seven of them.

    Three statements: the answers, the readings they rest on, the catalogue; one where the page
    has ``measures`` and ``readings`` already, none where there is no reason.
    """
    if not reasons:
        return ()
    answers = newest_answers(episode_ids=[episode_id])[episode_id]
    refs = {ref for reason in reasons for ref in _readings(reason)}
    seen = _read(refs=refs) if readings is None else [r for r in readings if r.ref in refs]
    known = catalogue() if measures is None and seen else measures or {}
    facts = {reading.ref: _fact(reading, known[reading.measure]) for reading in seen}
    looks = [
        _look(
            id=look_id(episode_id=episode_id, code=reason.code),
            reason=reason,
            answers=answers,
            facts=facts,
            on=on,
            zone=zone,
        )
        for reason in reasons
    ]
    return tuple(sorted(looks, key=lambda look: look.answered)[:MOST])


def _readings(reason: Reason) -> tuple[int, ...]:
    """The readings a reason rests on; a red flag rests on a check, which its sentence names."""
    return () if reason.code.startswith(RED_FLAG) else reason.refs


def _look(
    *,
    id: str,
    reason: Reason,
    answers: Mapping[str, Answer],
    facts: Mapping[int, str],
    on: date,
    zone: str,
) -> Look:
    answer = answers.get(reason.code)
    read = [facts[ref] for ref in _readings(reason) if ref in facts]
    found = read or [f"Since {words.day(reason.since)}."]
    if reason.code in STRENGTH:
        found = [*found, TESTER]
    if reason.code.startswith(EVENT):
        found = [*found, _told_for(reason.code)]
    return Look(
        id=id,
        code=reason.code,
        size=str(reason.size),
        sentence=sentence_of(reason=reason),
        alarm=reason.alarm,
        facts=tuple([*found, RAW] if reason.alarm and read else found),
        earlier="" if answer is None else answer_words(answer=answer, zone=zone),
        answered=silencing(reason=reason, answers=answers, on=on) is not None,
    )


def _told_for(code: str) -> str:
    weeks = told_for(code=code).days // 7
    return (
        f"Told for {weeks} weeks from that day: this clinic’s setting, to be confirmed by its lead."
    )


def answer_words(*, answer: Answer, zone: str) -> str:
    """An earlier answer in one line."""
    seen = words.day(answer.answered_on(zone=zone))
    again = words.day(answer.look_again_on)
    return f"Seen {seen} by {answer.answered_by}: {answer.plan}. Look again on {again}."


def _read(*, refs: Collection[int]) -> list[Reading]:
    rows = ReadingRow.objects.filter(pk__in=refs)
    return [as_reading(row=row) for row in rows] if refs else []


def _fact(reading: Reading, measure: Measure) -> str:
    value = reading_words(measure=measure, reading=reading)
    limb = f", {reading.limb}" if measure.per_limb else ""
    how = conditions_words(measure=measure, key=reading.key)
    return f"{words.day(reading.on)}: {measure.label}{limb}, {value}{f' ({how})' if how else ''}"
