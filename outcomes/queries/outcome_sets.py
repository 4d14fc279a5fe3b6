"""The published outcome sets over one knee or many: what is known, counts, and words."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final
from uuid import UUID

from clinic import words
from clinic.models import care
from outcomes.core.history import History
from outcomes.core.outcome_sets import (
    BY_CODE,
    HOUSE,
    LINES,
    LYNCH,
    MEASURES,
    SVANTESSON,
    TITLES,
    Answer,
    Asked,
    Form,
    Found,
    Group,
    Known,
    Line,
    Rule,
    outcomes_of,
)
from outcomes.core.values import Event, Limb, Measure, Operator
from outcomes.core.wording import cut_words
from outcomes.models.questionnaires import CompletedQuestionnaire
from outcomes.models.record import RedFlagCheck
from outcomes.queries import caseload_words
from outcomes.queries.caseload import Line as CaseloadLine
from outcomes.queries.catalogue import InForce
from outcomes.queries.events import events_of
from outcomes.queries.opened import source_lines
from outcomes.queries.patient_lists import address_of
from outcomes.queries.questionnaires import completed
from outcomes.queries.record import OTHER_ACL, episode_facts, measured_of

GIVING_WAY: Final = ("giving_way", "short_pop")
SAID: Final[Mapping[Answer, str]] = {
    Answer.YES: "yes",
    Answer.NO: "no",
    Answer.NONE: "none on record",
    Answer.NOT_ASSESSABLE: "not assessable",
    Answer.UNKNOWN: "not recorded",
    Answer.APART: "with no sport as the goal",
}
ON_RECORD: Final = "on record"
"""What yes is called where a line asks whether there is something on record."""
RECORDS: Final = (Rule.EVENT, Rule.FORM, Rule.RETURN, Rule.READ)
SOURCES: Final = {Group.SIX: LYNCH, Group.CLINICAL: SVANTESSON}
"""What stands under a group; the four of one set say it once, under the last."""


def known_of(*, episodes: Sequence[care.Episode], rules: InForce, days: Mapping[int, date]
             ) -> dict[int, Known]:  # fmt: skip
    """What the lines of each episode are answered from; ``days`` is today at each site.

    At most eight statements, however many there are.
    """
    patients = {episode.patient_id for episode in episodes}
    events = events_of(episodes=episodes)
    facts = episode_facts(episodes=episodes, events=events)
    readings = measured_of(patient_ids=patients, measures=MEASURES)
    asked, forms = _asked(patients), _forms(patients, rules)
    registered = _registered(patients)
    return {
        episode.pk: Known(
            history=History(
                facts=facts[episode.pk],
                catalogue=rules.measures,
                readings=readings[episode.patient_id],
                on=days[episode.site_id],
            ),
            events=[*events[episode.pk], *_injured_again(episode, registered[episode.patient_id])],
            asked=asked[episode.patient_id],
            forms=forms[episode.patient_id],
        )
        for episode in episodes
    }


def _registered(patient_ids: Collection[int]) -> dict[int, list[tuple[str, str, date]]]:
    """Knee, kind and day of injury of every episode of each patient. One statement."""
    found: dict[int, list[tuple[str, str, date]]] = defaultdict(list)
    rows = care.Episode.objects.filter(patient_id__in=patient_ids)
    for patient_id, knee, kind, on in rows.values_list("patient_id", "knee", "kind", "injury_date"):
        if on:
            found[patient_id].append((knee, kind, on))
    return found


def _injured_again(
    episode: care.Episode, registered: Sequence[tuple[str, str, date]]
) -> Iterator[Event]:
    """What was registered as an episode of its own and never as an event of this one.

    An episode of the other knee is an ACL injury of it, a revision of this knee a graft rupture;
    each was hurt after this one was.
    """
    for knee, kind, on in registered:
        if episode.injury_date and on <= episode.injury_date:
            continue
        if knee != episode.knee:
            yield Event(code=OTHER_ACL, limb=Limb(knee), on=on)
        elif kind == "revision":
            yield Event(code="graft_rupture", limb=Limb(knee), on=on)


def _asked(patient_ids: Collection[int]) -> dict[int, list[Asked]]:
    """Giving way as it was asked at each visit. One statement.

    The short form's yes stands for a pop or a giving way, so only its no is an answer.
    """
    found: dict[int, list[Asked]] = defaultdict(list)
    rows = RedFlagCheck.objects.filter(visit__patient_id__in=patient_ids)
    full, short = GIVING_WAY
    for patient_id, on, answers in rows.values_list("visit__patient_id", "visit__date", "answers"):
        if full in answers:
            found[patient_id].append(Asked(on=on, yes=answers[full]))
        elif answers.get(short) is False:
            found[patient_id].append(Asked(on=on, yes=False))
    return found


def _forms(patient_ids: Collection[int], rules: InForce) -> dict[int, list[Form]]:
    """The completed questionnaires that have a score. One statement."""
    found: dict[int, list[Form]] = defaultdict(list)
    rows = CompletedQuestionnaire.objects.filter(
        patient_id__in=patient_ids, superseded_by__isnull=True
    ).exclude(kind="withdrawn")
    for row in rows:
        one = completed(row=row, rules=rules)
        if any(score.value is not None for score in one.scores.values()):
            form = Form(instrument=row.instrument, limb=one.limb, on=one.on)
            found[row.patient_id].append(form)
    return found


@dataclass(frozen=True, kw_only=True, slots=True)
class Count:
    """How many episodes have one answer; ``answer`` is its code in an address."""

    answer: str
    said: str


@dataclass(frozen=True, kw_only=True, slots=True)
class LineCounts:
    """One line over all episodes, with each answer there is."""

    line: Line
    counts: Sequence[Count]


@dataclass(frozen=True, kw_only=True, slots=True)
class GroupCounts:
    """One group with its lines; ``sources`` of the set that ends with it."""

    title: str
    sources: tuple[str, ...]
    lines: Sequence[LineCounts]


def answers_of(*, known: Mapping[int, Known]) -> dict[int, dict[str, Found]]:
    """Every line of each episode, by the episode's id and the line's code."""
    return {
        ident: {found.line.code: found for found in outcomes_of(known=one)}
        for ident, one in known.items()
    }


def group_counts(*, answers: Mapping[int, Mapping[str, Found]]) -> list[GroupCounts]:
    """The groups with their counts, in the order of the page."""
    return [
        GroupCounts(
            title=TITLES[group],
            sources=source_lines(sources=(SOURCES[group],) if group in SOURCES else ()),
            lines=[_counts(line, answers) for line in LINES if line.group is group],
        )
        for group in Group
    ]


def house_source() -> str:
    """What of the page is this clinic's own reading of the sets."""
    return "; ".join(source_lines(sources=(HOUSE,)))


def _counts(line: Line, answers: Mapping[int, Mapping[str, Found]]) -> LineCounts:
    """Each count out of those that the line applies to."""
    tally = Counter(found[line.code].answer for found in answers.values())
    of = f" of {sum(tally.values()) - tally[Answer.APART]}"
    counts = [
        Count(
            answer=answer.value,
            said=f"{tally[answer]}{'' if answer is Answer.APART else of} "
            f"{said(line=line, answer=answer)}",
        )
        for answer in Answer
        if tally[answer]
    ]
    return LineCounts(line=line, counts=counts)


def said(*, line: Line, answer: Answer) -> str:
    """An answer in words, as the line asks.

    >>> said(line=BY_CODE["clot"], answer=Answer.YES)
    'on record'
    """
    if answer is Answer.YES and line.rule in RECORDS:
        return ON_RECORD
    return SAID[answer]


@dataclass(frozen=True, kw_only=True, slots=True)
class AnswerWords:
    """One line of a patient in words: what the record says, the number, and the day.

    ``opens`` is the address of what stands behind the number.
    """

    code: str
    label: str
    said: str
    number: str
    on: str
    opens: str


def answer_words(*, found: Found, measures: Mapping[str, Measure], episode: UUID) -> AnswerWords:
    """A line answered for one knee, ready to print."""
    return AnswerWords(
        code=found.line.code,
        label=found.line.label,
        said=said(line=found.line, answer=found.answer),
        number=_number(found, measures),
        on=words.day(found.on) if found.on else "",
        opens=f"/episodes/{episode}/numbers/{found.line.of}?on={found.on}",
    )


def _number(found: Found, measures: Mapping[str, Measure]) -> str:
    """The value, cut toward the side of the threshold that it is on."""
    value, line = found.value, found.line
    if value is None:
        return ""
    if line.rule is Rule.SYMMETRY:
        return f"{cut_words(value=value, decimals=0, cuts=[(line.threshold, Operator.GREATER)])} %"
    if line.rule is Rule.SHORT:
        if value <= 0:
            return "as straight as the other side"
        cuts = [(line.threshold, Operator.LESS)]
        return f"{cut_words(value=value, decimals=0, cuts=cuts)}° short"
    measure = measures[line.of]
    if measure.grades:
        return measure.grades[int(value)]
    return f"{cut_words(value=value, decimals=measure.decimals, cuts=())} {measure.unit}"


def six_of(*, episode: care.Episode, rules: InForce, on: date) -> list[AnswerWords]:
    """The six of one episode in words. At most nine statements."""
    known = known_of(episodes=[episode], rules=rules, days={episode.site_id: on})[episode.pk]
    lines = [line for line in LINES if line.group is Group.SIX]
    return [
        answer_words(found=found, measures=rules.measures, episode=episode.uid)
        for found in outcomes_of(known=known, lines=lines)
    ]


def six_sources() -> tuple[str, ...]:
    """Where the six come from, and what of them is this clinic's own reading."""
    return source_lines(sources=(LYNCH, HOUSE))


@dataclass(frozen=True, kw_only=True, slots=True)
class BehindRow:
    """One episode behind a count."""

    episode_id: int
    patient_url: str
    patient: str
    record_number: str
    knee: str
    week: str
    says: AnswerWords


@dataclass(frozen=True, kw_only=True, slots=True)
class Behind:
    """The episodes behind one count: which line, which answer."""

    line: str
    answer: str
    title: str
    rows: Sequence[BehindRow]


def behind(
    *,
    lines: Sequence[CaseloadLine],
    answers: Mapping[int, Mapping[str, Found]],
    line: str,
    answer: str,
    rules: InForce,
    days: Mapping[int, date],
) -> Behind | None:
    """The episodes with that answer to that line, or None where no such count is asked for."""
    if line not in BY_CODE or answer not in set(Answer):
        return None
    asked, wanted = BY_CODE[line], Answer(answer)
    rows = [
        BehindRow(
            episode_id=one.episode_id,
            patient_url=address_of(name="patient", uid=one.patient_uid),
            patient=one.patient,
            record_number=one.record_number or "",
            knee=one.knee,
            week=caseload_words.week(one, on=days[one.site_id]),
            says=answer_words(found=found, measures=rules.measures, episode=one.uid),
        )
        for one in lines
        if (found := answers[one.episode_id][line]).answer is wanted
    ]
    title = f"{asked.label}: {said(line=asked, answer=wanted)}"
    return Behind(line=line, answer=answer, title=title, rows=rows)
