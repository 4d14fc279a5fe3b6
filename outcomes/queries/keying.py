"""What is keyed from a paper form: which questionnaires are in use, for which knee, at which visit.

Nothing here says an answer or a score: whoever keys may be somebody who sees neither.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from clinic import words
from clinic.models.care import CAME_STATES, OPEN_CARE_STATES, Episode, Visit
from clinic.queries.people import ADULT, age
from outcomes.core.instruments import Audience, Instrument, Layout
from outcomes.core.quantities import plain
from outcomes.core.questionnaires import answers_in_words
from outcomes.core.values import Limb
from outcomes.models.questionnaires import CompletedQuestionnaire
from outcomes.queries.catalogue import InForce


@dataclass(frozen=True, kw_only=True, slots=True)
class Sheet:
    """One form as it was keyed: answers as they count, and what was marked where that differs."""

    instrument: Instrument
    version_id: int
    limb: Limb
    layout: str
    answers: Mapping[str, str | None]
    typed: Mapping[str, str]
    keyed_twice: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Offer:
    """A questionnaire that can be keyed for a knee or the person, and whether it is kept already.

    ``kept`` says when and by whom, ``uid`` names the kept one; both are empty otherwise.
    """

    instrument: Instrument
    limb: Limb
    note: str
    kept: str
    uid: str

    @property
    def what(self) -> str:
        """The questionnaire and whom or which knee it asks about."""
        return what_words(instrument=self.instrument, limb=self.limb)


def what_words(*, instrument: Instrument, limb: Limb) -> str:
    """The questionnaire with its knee: "IKDC, right knee"."""
    return instrument.short_label + ("" if limb is Limb.NONE else f", {limb} knee")


def in_use(*, rules: InForce) -> list[Instrument]:
    """The questionnaires that are switched on, by name: a clinic's switch wins."""
    found = [one for one in rules.instruments.values() if rules.offers(code=one.code)]
    return sorted(found, key=lambda one: (not one.on_by_default, one.short_label, one.code))


def offers(*, visit: Visit, rules: InForce) -> list[Offer]:
    """What can be keyed at a visit, each knee by itself. Two statements."""
    knees = followed_knees(patient_id=visit.patient_id)
    years = age(birth_date=visit.patient.birth_date, on=visit.date)
    kept = {
        (row.instrument, row.limb): row
        for row in CompletedQuestionnaire.objects.filter(
            visit_id=visit.pk, superseded_by__isnull=True
        )
        .exclude(kind="withdrawn")
        .select_related("recorded_by")
    }
    return [
        _offer(
            instrument=one,
            limb=limb,
            years=years,
            row=kept.get((one.code, limb.value)),
            zone=visit.site.zone,
        )
        for one in in_use(rules=rules)
        for limb in (knees if one.per_knee else [Limb.NONE])
    ]


def _offer(
    *,
    instrument: Instrument,
    limb: Limb,
    years: int,
    row: CompletedQuestionnaire | None,
    zone: str,
) -> Offer:
    kept = ""
    if row is not None:
        at = words.moment(row.recorded_at, zone=zone)
        twice = ", keyed twice" if row.keyed_twice else ""
        kept = f"{at}, {row.recorded_by.full_name}{twice}"
    return Offer(
        instrument=instrument,
        limb=limb,
        note=audience_words(instrument=instrument, years=years),
        kept=kept,
        uid=str(row.uid) if row else "",
    )


def audience_words(*, instrument: Instrument, years: int) -> str:
    """A warning where a form was made for another age; empty where it fits or no bound is known."""
    child = years < ADULT
    wrong = {Audience.ADULT: child, Audience.CHILD: not child, Audience.ANY: False}
    made = {Audience.ADULT: "adults", Audience.CHILD: "children and young people"}
    if not wrong[instrument.audience]:
        return ""
    return f"Made for {made[instrument.audience]}; this person is {years}."


def followed_knees(*, patient_id: int) -> list[Limb]:
    """The knees that are followed now, left first; all that ever were where none is."""
    rows = list(Episode.objects.filter(patient_id=patient_id).values_list("knee", "care_state"))
    followed = {knee for knee, state in rows if state in OPEN_CARE_STATES}
    return [Limb(knee) for knee in ("left", "right") if knee in (followed or dict(rows))]


def not_keyable(*, visit: Visit, today: date, sees_record: bool) -> str:
    """Why nothing can be keyed at a visit, as a sentence; empty where it can.

    Whoever does not see the record keys on the day of the visit alone.
    """
    if visit.state not in CAME_STATES:
        return "Questionnaires are keyed once the patient has arrived. Mark the visit as arrived."
    if not sees_record and visit.date != today:
        return "The front desk keys on the day of the visit. Ask a clinician to key this one."
    return ""


def layout_words(*, instrument: Instrument, layout: Layout) -> list[str]:
    """How the marks of one print of the form become what counts, in numbers."""
    said = []
    if layout.answers:
        said.append(f"Marks are {answers_in_words(answers=layout.answers)}.")
    if layout.factor != 1:
        said.append(f"Each mark counts {plain(value=layout.factor)} times.")
    if layout.reversed:
        said.append(f"{_turned_items(instrument=instrument, codes=layout.reversed)}.")
    if layout.turned:
        labels = [instrument.score(code=code).label for code in layout.turned]
        said.append(f"Published the other way round: {words.listed(labels)}.")
    return said or ["Every mark counts as it is."]


def _turned_items(*, instrument: Instrument, codes: Sequence[str]) -> str:
    """Which items run the other way, and what their ends count.

    They are turned within the answers that they take.
    """
    item = instrument.by_code[codes[0]]
    low, high = plain(value=item.lowest), plain(value=item.highest)
    which = words.listed(list(codes))
    noun = "item" if len(codes) == 1 else "items"
    return f"On this form {noun} {which} run the other way: {low} counts as {high}, {high} as {low}"
