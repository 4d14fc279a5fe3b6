"""The nouns of the catalogue: what can be measured, how it is entered, and with what error."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from outcomes.core.kinds import Better, EntryKind, Mark, Summary, SymmetryForm


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
class MeasurementError:
    """A published standard error of measurement (SEM).

    ``of`` says what it is an error of: ``value`` (unit of the measure), ``symmetry`` (percentage
    points of the index) or ``difference`` (unit of the measure, side to side).
    """

    of: str
    sem: Decimal
    population: str
    method: str
    source: Source


@dataclass(frozen=True, kw_only=True, slots=True)
class Measure:
    """An entry of the catalogue: what can be measured and what it means.

    ``unit`` is a UCUM code; ``hard`` limits refuse, ``soft`` limits warn and ask for a reason;
    ``grades`` are the words of an ordinal scale from rank 0 upwards; ``cap`` is the longest value
    that a timed test can give, at which a symmetry index says nothing.
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
    entry_units: tuple[str, ...] = ()
    grades: tuple[str, ...] = ()
    conditions: tuple[Condition, ...] = ()
    details: tuple[Detail, ...] = ()
    errors: tuple[MeasurementError, ...] = ()
    cap: Decimal | None = None
    earliest_week: int | None = None
    maximum_age_days: int | None = None
    cautions: Mapping[str, str] = field(default_factory=dict)
    note: str = ""
    standing: bool = False
    other_limb_asked: bool = True
    per_body_mass: bool = False

    def rank(self, *, word: str) -> Decimal:
        """Rank of a grade word, 0 upwards. Raises ``ValueError`` for a word that is not a grade."""
        return Decimal(self.grades.index(word))

    def word(self, *, value: Decimal) -> str:
        """Grade word of a rank. Raises ``IndexError`` outside the scale."""
        return self.grades[int(value)]

    def error_of(self, *, of: str) -> MeasurementError | None:
        """The first published error of that kind, or None: then nothing is ever borderline."""
        return next((error for error in self.errors if error.of == of), None)
