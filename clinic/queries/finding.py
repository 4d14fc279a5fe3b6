"""Finding a patient by name, record number or birth date, and noticing one registered twice."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from difflib import SequenceMatcher

from django.db.models import Q, QuerySet

from clinic import words
from clinic.models.care import OPEN_CARE_STATES, Episode
from clinic.models.people import Patient, RecordNumber

AT_MOST = 50
"""How many people a search shows; more than that asks for more letters."""
OLDEST = 115
"""The most years that a two-digit year is read back."""
_MONTHS = "|".join(month.lower() for month in words.MONTHS if month)
_YEAR_FIRST = re.compile(r"\b(\d{4})[-./ ](\d{1,2})[-./ ](\d{1,2})\b")
_YEAR_LAST = re.compile(r"\b(\d{1,2})[-./ ]+(\d{1,2})[-./ ]+(\d{4}|\d{2})\b")
_DAY_WORD = re.compile(rf"\b(\d{{1,2}})\.? ?({_MONTHS})[a-z]*\.?,? ?(\d{{4}}|\d{{2}})\b", re.I)
_WORD_DAY = re.compile(rf"\b({_MONTHS})[a-z]*\.? ?(\d{{1,2}}),? ?(\d{{4}}|\d{{2}})\b", re.I)
_RUN = re.compile(r"\b(\d{2})(\d{2})(\d{4})\b")


@dataclass(frozen=True, kw_only=True, slots=True)
class Asked:
    """What a search asks for: what was typed, its words, and the birth dates it can be read as."""

    text: str
    rest: str
    dates: tuple[date, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Found:
    """One person in a list: who, and which knee; never a measurement."""

    patient: Patient
    born: str
    numbers: str
    knees: Sequence[str]
    sites: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Hits:
    """The people found, and whether there are more than are shown."""

    rows: Sequence[Found]
    more: bool


def asked(*, text: str, today: date) -> Asked:
    """Read what was typed: a birth date in any usual order, and the words around it.

    Where day and month can be either, both dates are meant, and the page says so.
    """
    for pattern in (_YEAR_FIRST, _YEAR_LAST, _DAY_WORD, _WORD_DAY, _RUN):
        match = pattern.search(text)
        dates = tuple(sorted(set(_dates(pattern, match, today)))) if match else ()
        if match and dates:
            rest = f"{text[: match.start()]} {text[match.end() :]}"
            return Asked(text=text, rest=words.fold(rest), dates=dates)
    return Asked(text=text, rest=words.fold(text), dates=())


def _dates(pattern: re.Pattern[str], match: re.Match[str], today: date) -> Iterator[date]:
    parts = [_number(part) for part in match.groups()]
    if pattern is _YEAR_FIRST:
        orders = [(parts[0], parts[1], parts[2])]
    elif pattern is _WORD_DAY:
        orders = [(parts[2], parts[0], parts[1])]
    elif pattern is _DAY_WORD:
        orders = [(parts[2], parts[1], parts[0])]
    else:
        orders = [(parts[2], parts[1], parts[0]), (parts[2], parts[0], parts[1])]
    for year, month, day in orders:
        for full in [year] if year > 99 else [1900 + year, 2000 + year]:
            found = _date(full, month, day)
            if found and today.year - OLDEST <= full and found <= today:
                yield found


def _number(part: str) -> int:
    """A number, or the month that a word begins."""
    return int(part) if part.isdigit() else _MONTHS.split("|").index(part.lower()) + 1


def _date(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def find(*, patients: QuerySet[Patient], asked: Asked) -> Hits:
    """The patients among those that may be seen, by name. Four statements.

    A name matches when each typed word begins one of its words, in any order. What was typed is
    tried as a record number too, and with a birth date the other words narrow it.
    """
    number = RecordNumber.objects.filter(number__istartswith=asked.text.strip())
    match = Q(pk__in=number.values("patient"))
    if asked.dates:
        match |= Q(birth_date__in=asked.dates) & _named(asked.rest)
    elif asked.rest:
        match |= _named(asked.rest)
    rows = list(_listed(patients.filter(match))[: AT_MOST + 1])
    return Hits(rows=[_found(row) for row in rows[:AT_MOST]], more=len(rows) > AT_MOST)


def _named(text: str) -> Q:
    condition = Q()
    for word in text.split():
        condition &= Q(name_folded__startswith=word) | Q(name_folded__contains=f" {word}")
    return condition


def _listed(patients: QuerySet[Patient]) -> QuerySet[Patient]:
    return patients.prefetch_related("record_numbers", "episodes__site").order_by(
        "name_folded", "pk"
    )


def _found(patient: Patient) -> Found:
    episodes = sorted(patient.episodes.all(), key=_followed_first)
    numbers = sorted(row.number for row in patient.record_numbers.all())
    return Found(
        patient=patient,
        born=words.day(patient.birth_date),
        numbers=", ".join(numbers),
        knees=[_knee(episode) for episode in episodes],
        sites=", ".join(sorted({episode.site.name for episode in episodes})),
    )


def _followed_first(episode: Episode) -> tuple[bool, str, int]:
    return (episode.care_state not in OPEN_CARE_STATES, episode.knee, episode.pk)


def _knee(episode: Episode) -> str:
    followed = episode.care_state in OPEN_CARE_STATES
    return episode.knee if followed else f"{episode.knee} ({episode.get_care_state_display()})"


def alike(
    *, patients: QuerySet[Patient], name: str, birth_date: date, number: str
) -> Sequence[Found]:
    """People who may be the same: same birth date and a similar name, or the same number."""
    numbered = RecordNumber.objects.filter(number__iexact=number).values_list("patient", flat=True)
    holders = set(numbered) if number else set()
    same = _listed(patients.filter(Q(birth_date=birth_date) | Q(pk__in=holders)))
    folded = words.fold(name)
    return [
        _found(patient)
        for patient in same
        if patient.pk in holders or _similar(folded, patient.name_folded)
    ]


def _similar(one: str, other: str) -> bool:
    """A word in common, or nearly the same letters."""
    shared = {word for word in one.split() if len(word) > 1} & set(other.split())
    return bool(shared) or SequenceMatcher(None, one, other).ratio() >= 0.8
