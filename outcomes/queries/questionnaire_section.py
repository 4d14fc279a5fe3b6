"""The questionnaires of the patient page: each newest score with its changes and its state."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Final
from uuid import UUID

from clinic import words
from clinic.models import care
from clinic.queries.care import index_date, week_words
from clinic.queries.people import age
from outcomes.charts.marks import LimbMark
from outcomes.core.instruments import Direction, ScoreForm
from outcomes.core.values import Event, Limb
from outcomes.queries.beams import marks_of
from outcomes.queries.events import on_charts
from outcomes.queries.keying import what_words
from outcomes.queries.opened import Opened
from outcomes.queries.questionnaire_opened import open_score
from outcomes.queries.questionnaire_words import (
    BEFORE_INJURY,
    InUse,
    change_says,
    change_words,
    in_use_of,
    left_out_says,
    level_says,
    mark_words,
    score_words,
    state_says,
)
from outcomes.queries.questionnaires import Completed

NOT_FORMED: Final = "not formed"


@dataclass(frozen=True, kw_only=True, slots=True)
class ChangeLine:
    """One change of a score: since when, how much, and what it is called."""

    since: str
    size: str
    says: str


@dataclass(frozen=True, kw_only=True, slots=True)
class ScoreLine:
    """One score of the newest form; ``reason`` says why there is none."""

    label: str
    value: str
    of: str
    reason: str
    changes: Sequence[ChangeLine]
    state: str
    marks: str
    opened: Opened


@dataclass(frozen=True, kw_only=True, slots=True)
class FormCard:
    """A questionnaire for one knee or the person: its newest form."""

    uid: UUID
    what: str
    when: str
    count: int
    scores: Sequence[ScoreLine]


@dataclass(frozen=True, kw_only=True, slots=True)
class Person:
    """What the cards must know of the patient: the shown episode of each knee, sex, birth date."""

    episodes: Mapping[Limb, care.Episode]
    sex: str
    birth_date: date
    today: date
    events: Mapping[int, Sequence[Event]]

    def episode(self, limb: Limb) -> care.Episode | None:
        """The episode that a score's weeks are told by; for the person the first to start."""
        if limb is not Limb.NONE:
            return self.episodes.get(limb)
        started = [
            (day, one.pk, one) for one in self.episodes.values() if (day := index_date(episode=one))
        ]
        return min(started)[2] if started else next(iter(self.episodes.values()), None)

    def start(self, limb: Limb) -> date | None:
        """The day that the weeks count from."""
        found = self.episode(limb)
        return index_date(episode=found) if found else None

    def mark(self, limb: Limb) -> LimbMark | None:
        """The mark of a limb; a score of the person has none."""
        marks = marks_of(knees=frozenset(self.episodes))
        return dict(zip((Limb.LEFT, Limb.RIGHT), marks, strict=True)).get(limb)

    def when(self, limb: Limb, on: date) -> str:
        """A day with its week; the day alone for a knee that is not shown."""
        found = self.episode(limb)
        return f"{words.day(on)}, {week_words(episode=found, on=on)}" if found else words.day(on)

    def happened(self, limb: Limb, *, since: date) -> list[tuple[date, str]]:
        """What happened to a knee, or to all where the person is asked, in order.

        The day that weeks count from is among them where it is not before ``since``.
        """
        own = self.episodes.get(limb)
        found = [own] if own else list(self.episodes.values()) if limb is Limb.NONE else []
        return sorted(event for one in found for event in self._happened(one, since))

    def _happened(self, episode: care.Episode, since: date) -> list[tuple[date, str]]:
        start = index_date(episode=episode)
        first = [(start, _starts_with(episode).removeprefix("the "))] if start else []
        later = on_charts(events=self.events[episode.pk], on=self.today)
        return [*(one for one in first if since <= one[0] <= self.today), *later]


def _starts_with(episode: care.Episode) -> str:
    """What the weeks count from."""
    return "the injury" if episode.kind == "without_surgery" else "surgery"


def person_of(
    *, shown: Sequence[care.Episode], events: Mapping[int, Sequence[Event]], on: date
) -> Person:
    """From the shown episodes of one patient."""
    patient = shown[0].patient
    return Person(
        episodes={Limb(one.knee): one for one in shown},
        sex=patient.sex,
        birth_date=patient.birth_date,
        today=on,
        events=events,
    )


def grouped(*, forms: Sequence[Completed]) -> list[list[Completed]]:
    """The forms of each questionnaire, family and knee, oldest first; the one keyed last first."""
    found: dict[tuple[str, str, Limb], list[Completed]] = {}
    for one in forms:
        key = (one.instrument.code, one.instrument.family, one.limb)
        found.setdefault(key, []).append(one)
    return sorted(found.values(), key=lambda own: (own[-1].on, own[-1].ref), reverse=True)


def cards_of(*, forms: Sequence[Completed], person: Person) -> list[FormCard]:
    """A card for each questionnaire and knee, the one keyed last first."""
    return [_card(forms=own, person=person) for own in grouped(forms=forms)]


def _card(*, forms: Sequence[Completed], person: Person) -> FormCard:
    last = forms[-1]
    return FormCard(
        uid=last.uid,
        what=what_words(instrument=last.instrument, limb=last.limb),
        when=person.when(last.limb, last.on),
        count=len(forms),
        scores=[
            score_line(forms=forms, form=form, person=person) for form in last.instrument.scores
        ],
    )


def score_line(*, forms: Sequence[Completed], form: ScoreForm, person: Person) -> ScoreLine:
    """One score of the last of ``forms``, against the earlier ones of its own line."""
    last = forms[-1]
    found, uses = last.scores[form.code], in_use_of(instrument=last.instrument, score=form.code)
    value = found.value
    return ScoreLine(
        label=form.label,
        value=NOT_FORMED
        if value is None
        else score_words(form=form, value=value, state=uses.state),
        of=f"of {form.highest:f}",
        reason=found.reason,
        changes=()
        if value is None
        else list(_changes(forms=forms, form=form, uses=uses, person=person)),
        state="" if value is None else _state(forms, form, value, uses),
        marks=mark_words(instrument=last.instrument, uses=uses),
        opened=open_score(
            one=last,
            form=form,
            uses=uses,
            age=age(birth_date=person.birth_date, on=last.on),
            sex=person.sex,
        ),
    )


def _changes(
    *, forms: Sequence[Completed], form: ScoreForm, uses: InUse, person: Person
) -> Iterator[ChangeLine]:
    """Since the one before and since the last one before surgery, each once."""
    last, earlier = forms[-1], earlier_of(forms=forms, form=form)
    start = person.start(last.limb)
    before = [one for one in earlier if start is not None and one.on < start]
    told = {one.ref: one for one in (*earlier[-1:], *before[-1:])}
    for one in told.values():
        what = person.episode(last.limb)
        surgery = f", before {_starts_with(what)}" if what and one in before else ""
        size, says = change_between(form=form, first=one, last=last, uses=uses)
        yield ChangeLine(
            since=f"since {words.short_day(one.on, today=person.today)}{surgery}",
            size=size,
            says="; ".join(says),
        )


def change_between(
    *, form: ScoreForm, first: Completed, last: Completed, uses: InUse
) -> tuple[str, list[str]]:
    """The size of a change between two forms of one line, and what it is called."""
    found = last.compared(form.code, since=first)
    left_out = left_out_says(found=found)
    if found.before is None or found.after is None:
        return "not compared", left_out
    before, after = found.before, found.after
    direction = last.instrument.direction(score=form.code, layout=last.layout)
    says = change_says(form=form, direction=direction, before=before, after=after, uses=uses)
    return change_words(before=before, after=after, uses=uses), [*says, *left_out]


def earlier_of(*, forms: Sequence[Completed], form: ScoreForm) -> list[Completed]:
    """The earlier forms whose score is on the line of the newest one and was formed."""
    last = forms[-1]
    return [
        one
        for one in forms[:-1]
        if form.code in one.scores
        and one.line(form.code) == last.line(form.code)
        and one.scores[form.code].value is not None
        and one.on < last.on
    ]


def _state(forms: Sequence[Completed], form: ScoreForm, value: Fraction, uses: InUse) -> str:
    if form.direction is not Direction.LEVEL:
        return state_says(value=value, uses=uses)
    first = [*earlier_of(forms=forms, form=form), forms[-1]][0]
    if BEFORE_INJURY in first.instrument.by_code:
        answers = [one.answers.get(BEFORE_INJURY) for one in forms]
        levels = [Fraction(answer) for answer in answers if answer is not None]
        return level_says(value=value, before_injury=levels[0] if levels else None)
    was = first.scores[form.code].value
    told = None if was is None or first is forms[-1] else was
    return level_says(value=value, before_injury=told)
