"""The course of one score: one line, never joined with another form, print, family or knee."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from uuid import UUID

from django.urls import reverse

from clinic import words
from outcomes.charts.trend_data import EventMark, ThresholdLine, Trend, TrendPoint, TrendSeries
from outcomes.core.instruments import Direction, ScoreForm
from outcomes.core.values import Limb
from outcomes.queries.keying import what_words
from outcomes.queries.questionnaire_opened import threshold_line
from outcomes.queries.questionnaire_section import Person, change_between
from outcomes.queries.questionnaire_words import (
    asked_words,
    in_use_of,
    score_words,
)
from outcomes.queries.questionnaires import Completed, by_line

BETTER = {
    Direction.HIGHER: "higher is better",
    Direction.LOWER: "lower is better",
    Direction.LEVEL: "how much, not how well",
}
NOT_JOINED = "Other forms, prints and versions of scoring have lines of their own."


@dataclass(frozen=True, kw_only=True, slots=True)
class ScoreChoice:
    """One line that can be shown, and whether it is."""

    code: str
    address: str
    label: str
    shown: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class ScoreCourse:
    """The line that is shown, what belongs under it, and all that could be."""

    code: str
    chart: Trend
    notes: Sequence[str]
    choices: Sequence[ScoreChoice]


@dataclass(frozen=True, kw_only=True, slots=True)
class Line:
    """One line: the forms whose score lies on it, oldest first."""

    key: str
    forms: Sequence[Completed]
    form: ScoreForm

    @property
    def code(self) -> str:
        """The line in an address."""
        return self.key.replace(".", "-").replace("/", "-")

    @property
    def label(self) -> str:
        """The line by name: "KOOS, right knee: Pain"."""
        last = self.forms[-1]
        what = what_words(instrument=last.instrument, limb=last.limb)
        turned = last.instrument.layout(code=last.layout).turned
        print_of = " (print the other way round)" if self.form.code in turned else ""
        alone = len(last.instrument.scores) == 1
        return f"{what}{print_of}" if alone else f"{what}{print_of}: {self.form.label}"


def lines_of(*, forms: Sequence[Completed]) -> list[Line]:
    """The lines with scores on two days or more, the one keyed last first."""
    found = []
    for key, pairs in by_line(forms=forms).items():
        scored = [one for one, code in pairs if one.scores[code].value is not None]
        if len({one.on for one in scored}) > 1:
            last, code = pairs[-1]
            found.append(Line(key=key, forms=scored, form=last.instrument.score(code=code)))
    return sorted(found, key=lambda line: (line.forms[-1].on, line.forms[-1].ref), reverse=True)


def course_of(
    *, patient: UUID, forms: Sequence[Completed], person: Person, asked: str = ""
) -> ScoreCourse | None:
    """The line asked for, else the first; None where there is none or it is not there."""
    lines = lines_of(forms=forms)
    line = next((one for one in lines if asked in ("", one.code)), None)
    if line is None:
        return None
    return ScoreCourse(
        code=line.code,
        chart=_chart(line=line, person=person),
        notes=_notes(line=line),
        choices=[
            ScoreChoice(
                code=one.code,
                address=reverse("score_course", args=[patient, one.code]),
                label=one.label,
                shown=one is line,
            )
            for one in lines
        ],
    )


def _chart(*, line: Line, person: Person) -> Trend:
    last = line.forms[-1]
    start = person.start(last.limb)
    direction = last.instrument.direction(score=line.form.code, layout=last.layout)
    series = TrendSeries(name=line.label, points=_points(line, person), mark=person.mark(last.limb))
    state = in_use_of(instrument=last.instrument, score=line.form.code).state
    asked = f"acceptable state: {asked_words(threshold=state)}" if state else ""
    return Trend(
        title=_title(line),
        left=series if last.limb is Limb.LEFT else None,
        right=None if last.limb is Limb.LEFT else series,
        limbs_axis=f"{line.form.lowest:f} to {line.form.highest:f}, {BETTER[direction]}",
        time_axis="date" if start is None else "week after surgery or injury",
        events=_events(line, person),
        thresholds=(
            (ThresholdLine(value=state.value, label=asked, panel="limbs"),) if state else ()
        ),
    )


def _points(line: Line, person: Person) -> tuple[TrendPoint, ...]:
    """The newest form of each day."""
    newest = {one.on: one for one in line.forms}
    found = []
    for day, one in newest.items():
        value = one.scores[line.form.code].value
        if value is None:
            continue
        state = in_use_of(instrument=one.instrument, score=line.form.code).state
        found.append(
            TrendPoint(
                at=_at(person.start(one.limb), day),
                when=person.when(one.limb, day),
                value=Decimal(value.numerator) / Decimal(value.denominator),
                shown=score_words(form=line.form, value=value, state=state),
                opens=reverse("questionnaire", args=[one.uid]),
            )
        )
    return tuple(found)


def _events(line: Line, person: Person) -> tuple[EventMark, ...]:
    """What happened to the knee, or to both where the person is asked."""
    limb, first = line.forms[-1].limb, line.forms[0].on
    return tuple(
        EventMark(at=_at(person.start(limb), day), when=person.when(limb, day), label=label)
        for day, label in person.happened(limb, since=first)
    )


def _at(start: date | None, day: date) -> Decimal | date:
    if start is None:
        return day
    return (Decimal((day - start).days) / 7).quantize(Decimal("0.01"))


def _title(line: Line) -> str:
    """The finding as a sentence, from the first to the newest score."""
    first, last = line.forms[0], line.forms[-1]
    uses = in_use_of(instrument=last.instrument, score=line.form.code)
    size, says = change_between(form=line.form, first=first, last=last, uses=uses)
    return f"{line.label} {size} since {words.day(first.on)}: {'; '.join(says)}"


def _notes(*, line: Line) -> list[str]:
    uses = in_use_of(instrument=line.forms[-1].instrument, score=line.form.code)
    return [*(threshold_line(one) for one in uses.all()), NOT_JOINED]
