"""Completed questionnaires of a patient: scored by the version each was keyed under."""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import lru_cache
from uuid import UUID

from django.db.models import QuerySet

from outcomes.catalogue.instruments import instrument_from
from outcomes.core.instruments import Instrument, line_key
from outcomes.core.questionnaires import Compared, ScoreResult, compare_forms, score_counted
from outcomes.core.values import Limb, Score
from outcomes.models.questionnaires import CompletedQuestionnaire
from outcomes.models.versions import InstrumentVersion
from outcomes.queries.catalogue import InForce


@dataclass(frozen=True, kw_only=True, slots=True)
class Completed:
    """One completed form as it counts now: its answers and its scores by code."""

    uid: UUID
    ref: int
    on: date
    instrument: Instrument
    limb: Limb
    layout: str
    answers: Mapping[str, Decimal | None]
    scores: Mapping[str, ScoreResult]

    def line(self, score: str) -> str:
        """The key of the line that one of its scores belongs to."""
        return line_key(instrument=self.instrument, score=score, limb=self.limb, layout=self.layout)

    def score(self, code: str) -> Score:
        """One of its scores as criteria are judged on it."""
        result = self.scores[code]
        return Score(
            code=f"{self.instrument.code}.{code}",
            value=result.value,
            on=self.on,
            line=self.line(code),
            answered=result.answered,
            reason=result.reason,
            ref=self.ref,
        )

    def compared(self, score: str, *, since: Completed) -> Compared:
        """One of its scores against an earlier form of the same line."""
        return compare_forms(
            instrument=self.instrument,
            score=score,
            before=since.answers,
            after=self.answers,
            layout=self.layout,
        )


def completed_of(*, patient_id: int, rules: InForce) -> list[Completed]:
    """Every completed form that counts, oldest first. One statement."""
    rows = _counting().filter(patient_id=patient_id)
    return [completed(row=row, rules=rules) for row in rows.order_by("date", "id")]


def _counting() -> QuerySet[CompletedQuestionnaire]:
    """The forms that were neither corrected nor withdrawn."""
    rows = CompletedQuestionnaire.objects.filter(superseded_by__isnull=True)
    return rows.exclude(kind="withdrawn")


def scores_of(
    *, patient_ids: Collection[int], rules: InForce
) -> dict[int, list[tuple[Limb, Score]]]:
    """Every score that counts with the limb it was asked for, by patient. One statement."""
    found: dict[int, list[tuple[Limb, Score]]] = {ident: [] for ident in patient_ids}
    rows = _counting().filter(patient_id__in=patient_ids)
    for row in rows.order_by("date", "id"):
        form = completed(row=row, rules=rules)
        found[row.patient_id] += [(form.limb, form.score(code)) for code in form.scores]
    return found


def completed(*, row: CompletedQuestionnaire, rules: InForce) -> Completed:
    """A row with its scores, by the version that it was keyed under."""
    instrument = instrument_of(
        code=row.instrument, version_id=row.instrument_version_id, rules=rules
    )
    answers = {
        item.code: None if (text := row.answers.get(item.code)) is None else Decimal(text)
        for item in instrument.items
    }
    return Completed(
        uid=row.uid,
        ref=row.pk,
        on=row.date,
        instrument=instrument,
        limb=Limb(row.limb),
        layout=row.layout,
        answers=answers,
        scores=score_counted(instrument=instrument, answers=answers, layout=row.layout),
    )


def instrument_of(*, code: str, version_id: int, rules: InForce) -> Instrument:
    """The questionnaire of a version; only one that is not in force is asked for."""
    if rules.instrument_ids.get(code) == version_id:
        return rules.instruments[code]
    return _older(version_id)


@lru_cache(maxsize=32)
def _older(version_id: int) -> Instrument:
    """A version that was replaced. Its row is never changed, so it is built once."""
    row = InstrumentVersion.objects.get(pk=version_id)
    return instrument_from(json.loads(row.body), where=str(row))


def by_line(*, forms: Sequence[Completed]) -> dict[str, list[tuple[Completed, str]]]:
    """The forms and score codes of each line, oldest first; what lines share is never mixed."""
    lines: dict[str, list[tuple[Completed, str]]] = {}
    for one in forms:
        for code in one.scores:
            lines.setdefault(one.line(code), []).append((one, code))
    return lines
