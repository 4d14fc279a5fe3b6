"""The nouns of the catalogue: what can be measured, how it is entered, and with what error."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Final

from outcomes.core.kinds import (
    Basis,
    Better,
    EntryKind,
    Examiner,
    Formula,
    Group,
    Mark,
    Operator,
    Relative,
    Summary,
    SymmetryForm,
)

OWN: Final = "own_"
"""How the code of a measure of the clinic's own begins."""
OWN_SOURCE: Final = "This clinic’s own, no published error"
"""What stands where a published one would show its source."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Source:
    """Where a number comes from: literature with its evidence mark, or the house's own words."""

    text: str
    mark: Mark
    doi: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Choice:
    """One allowed value of a condition or detail, with its word on screen."""

    code: str
    label: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Condition:
    """A condition of a test. All conditions together make the comparison key.

    ``choices`` empty means a number in ``unit`` (for example a step height in cm).
    """

    code: str
    label: str
    choices: tuple[Choice, ...] = ()
    unit: str = ""
    required: bool = True


@dataclass(frozen=True, kw_only=True, slots=True)
class Detail:
    """Something recorded beside the value that does not change what it may be compared with.

    ``spoils`` lists the codes with which the value meets no criterion (a pelvis kept level by
    leaning is not a level pelvis).
    """

    code: str
    label: str
    choices: tuple[Choice, ...]
    spoils: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Item:
    """One item of a score taken item by item: its choices, and the points of each in order."""

    code: str
    label: str
    choices: tuple[Choice, ...]
    points: tuple[int, ...]

    def score(self, *, code: str) -> int | None:
        """The points of a choice, or None for what is not one of them."""
        codes = [choice.code for choice in self.choices]
        return self.points[codes.index(code)] if code in codes else None


@dataclass(frozen=True, kw_only=True, slots=True)
class Derivation:
    """How a value is worked out from other measures of the same limb and day, never typed.

    ``inputs`` come in the order of the formula; ``alike`` are the conditions that must agree
    between them; ``carried`` are inputs that may be older, up to their own maximum age.
    """

    formula: Formula
    inputs: tuple[str, ...]
    alike: tuple[str, ...] = ()
    carried: tuple[str, ...] = ()

    @property
    def fresh(self) -> tuple[str, ...]:
        """The inputs that must be of the day."""
        return tuple(code for code in self.inputs if code not in self.carried)


FITTING: Final[Mapping[Examiner, tuple[Examiner, ...]]] = {
    Examiner.SAME: (Examiner.SAME, Examiner.NOT_STATED, Examiner.DIFFERENT),
    Examiner.DIFFERENT: (Examiner.DIFFERENT, Examiner.NOT_STATED),
    Examiner.NOT_STATED: (Examiner.NOT_STATED,),
}
"""Whose error may stand for a test by the same or another tester, the best first."""


@dataclass(frozen=True, kw_only=True, slots=True)
class MeasurementError:
    """A published standard error of measurement (SEM).

    ``of`` says what it is an error of: ``value`` (unit of the measure), ``symmetry`` (percentage
    points of the index) or ``difference`` (unit of the measure, side to side). ``conditions`` are
    those it was found under (``("device", "handheld")``): it speaks for no other.
    """

    of: Basis
    sem: Decimal
    population: str
    method: str
    source: Source
    tester: Examiner = Examiner.NOT_STATED
    conditions: tuple[tuple[str, str], ...] = ()

    def holds_under(self, *, conditions: Mapping[str, str]) -> bool:
        """Whether a test under these conditions has this error."""
        return all(conditions.get(code) == choice for code, choice in self.conditions)


@dataclass(frozen=True, kw_only=True, slots=True)
class Threshold:
    """A threshold that is in use somewhere, with whom it was used on. It decides nothing here:
    what is asked of a patient stands in the protocol."""

    of: Basis
    operator: Operator
    value: Decimal
    population: str
    source: Source


@dataclass(frozen=True, kw_only=True, slots=True)
class Measure:
    """An entry of the catalogue: what can be measured and what it means.

    ``unit`` is a UCUM code; ``hard`` limits refuse, ``soft`` limits warn and ask for a reason;
    ``grades`` are the words of an ordinal scale from rank 0 upwards; ``cap`` is the most that a
    test can give before it is stopped, at which a symmetry index says nothing.
    """

    code: str
    version: int
    label: str
    short_label: str
    unit: str
    entry: EntryKind
    per_limb: bool
    better: Better
    decimals: int
    hard: tuple[Decimal, Decimal]
    soft: tuple[Decimal, Decimal]
    symmetry: SymmetryForm
    summary: Summary
    trials: int
    sources: tuple[Source, ...]
    when_to_use: str
    how_to_do: str
    how_to_read: str
    group: Group = Group.OTHER
    entry_units: tuple[str, ...] = ()
    grades: tuple[str, ...] = ()
    items: tuple[Item, ...] = ()
    derived: Derivation | None = None
    conditions: tuple[Condition, ...] = ()
    details: tuple[Detail, ...] = ()
    errors: tuple[MeasurementError, ...] = ()
    thresholds: tuple[Threshold, ...] = ()
    cap: Decimal | None = None
    earliest_week: int | None = None
    maximum_age_days: int | None = None
    cautions: Mapping[str, str] = field(default_factory=dict)
    note: str = ""
    standing: bool = False
    other_limb_asked: bool = True
    relative: Relative | None = None

    @property
    def per_body_mass(self) -> bool:
        """Whether a torque is also given for each kg of body mass."""
        return self.relative is Relative.BODY_MASS

    @property
    def timed(self) -> bool:
        """Whether a stopwatch fits it: seconds that something is held, the longer the better."""
        held = self.unit == "s" and self.better is Better.HIGHER
        return held and self.entry is EntryKind.NUMBER and len(self.entry_units) < 2

    @property
    def own(self) -> bool:
        """Whether it is the clinic's own: no published error, no shipped source."""
        return self.code.startswith(OWN)

    @property
    def typed(self) -> bool:
        """Whether it is recorded at a visit at all; a derived value is worked out instead."""
        return self.derived is None

    @property
    def chosen(self) -> tuple[Item | Detail, ...]:
        """What is chosen for a limb: the items that make its value, the details beside it."""
        return (*self.items, *self.details)

    @property
    def yes_or_no(self) -> bool:
        """Whether it is a finding that is there or is not."""
        return self.grades == ("no", "yes")

    def rank(self, *, word: str) -> Decimal:
        """Rank of a grade word, 0 upwards. Raises ``ValueError`` for a word that is not a grade."""
        return Decimal(self.grades.index(word))

    def word(self, *, value: Decimal) -> str:
        """Grade word of a rank. Raises ``IndexError`` outside the scale."""
        return self.grades[int(value)]

    def error_of(
        self, *, of: Basis, conditions: Mapping[str, str], tester: Examiner = Examiner.SAME
    ) -> MeasurementError | None:
        """The error that fits a test under these conditions by the same or another tester.

        The first that was found with that tester, else one whose source does not say who tested;
        for the same tester at last the larger one of two testers. An error of another device, or
        of one tester where the tester changed, is not used instead. None: then nothing is ever
        borderline.
        """
        for wanted in FITTING[tester]:
            for error in self.errors:
                if (
                    error.tester is wanted
                    and error.of is of
                    and error.holds_under(conditions=conditions)
                ):
                    return error
        return None
