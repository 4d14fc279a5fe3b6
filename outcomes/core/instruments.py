"""The nouns of questionnaires: numbered items, scores, layouts of the form and thresholds.

A questionnaire is known by numbers only: which items it has, which answers each one takes and how
they become scores. Its wording is never shipped; a clinic keys from its own licensed form.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from typing import Final

from outcomes.core.kinds import Limb, Mark, Operator
from outcomes.core.measures import Source


class ScoreRule(StrEnum):
    """How answers become a score.

    ``sum`` adds the points; ``mean`` averages the answers; ``share`` is 100 x sum over the most
    that the answered items can give; ``inverted_share`` is 100 less that; ``table`` looks the sum
    up; ``mean_of_scores`` averages scores that were formed before it.
    """

    SUM = "sum"
    MEAN = "mean"
    SHARE = "share"
    INVERTED_SHARE = "inverted_share"
    TABLE = "table"
    MEAN_OF_SCORES = "mean_of_scores"


class Direction(StrEnum):
    """Which way a score is better. ``level`` is how much somebody does, not how well they are."""

    HIGHER = "higher"
    LOWER = "lower"
    LEVEL = "level"

    @property
    def opposite(self) -> Direction:
        """The direction of the score turned round; a level has none and stays itself."""
        turned = {Direction.HIGHER: Direction.LOWER, Direction.LOWER: Direction.HIGHER}
        return turned.get(self, self)


class Audience(StrEnum):
    """Whom a questionnaire was made for. ``any``: no bound of age was seen in a source."""

    ADULT = "adult"
    CHILD = "child"
    ANY = "any"


class TwoMarks(StrEnum):
    """What counts where two answers of one item are marked on paper.

    ``worse``: the more severe one (a published rule of the form). ``ask``: no rule is published,
    so neither counts until the person says which.
    """

    WORSE = "worse"
    ASK = "ask"


class ThresholdKind(StrEnum):
    """What a threshold says. ``mdc`` is a detectable change whose confidence is not stated."""

    MDC90 = "mdc90"
    MDC95 = "mdc95"
    MDC = "mdc"
    MIC = "mic"
    SCB = "scb"
    PASS = "pass"  # noqa: S105  a threshold: the acceptable state
    CRITERION = "criterion"
    NORM = "norm"


ERRORS: Final = (ThresholdKind.MDC95, ThresholdKind.MDC90, ThresholdKind.MDC)
"""The kinds that tell a real change from noise, the strictest first."""
CHANGES: Final = (*ERRORS, ThresholdKind.MIC, ThresholdKind.SCB)
"""The kinds that a change is held against; the others are held against one value."""
EACH_ITEM: Final = "*"
"""Written in place of an item where a threshold holds for any one of them."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Item:
    """A numbered item and the answers it takes, from the lowest to the highest."""

    code: str
    answers: tuple[Decimal, ...]

    @property
    def lowest(self) -> Decimal:
        """The lowest answer."""
        return self.answers[0]

    @property
    def highest(self) -> Decimal:
        """The highest answer."""
        return self.answers[-1]


@dataclass(frozen=True, kw_only=True, slots=True)
class Layout:
    """A printed form of the questionnaire: how what is marked becomes what counts.

    ``answers`` replaces what the items take (empty: as they are); each is multiplied by
    ``factor``; ``reversed`` items then run the other way. ``turned`` scores are published the
    other way round with this layout, so that their direction is the opposite one.
    """

    code: str
    label: str
    source: Source
    answers: tuple[Decimal, ...] = ()
    factor: Decimal = Decimal(1)
    reversed: tuple[str, ...] = ()
    turned: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class ScoreForm:
    """One score of a questionnaire: its rule, range, direction and how many answers it needs.

    ``table`` holds the score of each sum from 0 upwards; ``parts`` are the scores that a
    ``mean_of_scores`` averages, and then ``needed`` counts them.
    """

    code: str
    label: str
    rule: ScoreRule
    direction: Direction
    lowest: Decimal
    highest: Decimal
    needed: int
    items: tuple[str, ...] = ()
    table: tuple[Decimal, ...] = ()
    parts: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class ScoreThreshold:
    """A published value that a score, a change of it or one item is held against.

    ``default``: the one in use unless the clinic chooses another (at most one of a kind for each
    score). ``item`` is set where it holds for one item and not for the score.
    ``error_is_larger`` marks a MIC whose own source says that one person's measurement error is
    larger. ``ages`` (both included) and ``sex`` bound a norm: nothing is said outside them.
    """

    score: str
    kind: ThresholdKind
    operator: Operator
    value: Decimal
    population: str
    time_point: str
    source: Source
    default: bool = False
    item: str = ""
    error_is_larger: bool = False
    ages: tuple[int, int] | None = None
    sex: str = ""
    note: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class MissingRule:
    """What happens to a score when answers are missing, in a sentence, with its source."""

    text: str
    source: Source


@dataclass(frozen=True, kw_only=True, slots=True)
class Instrument:
    """A questionnaire known by numbered answers only.

    ``family`` names form and scoring rule together: scores of two families never share a line.
    The first of ``layouts`` is the one that counts as marked. ``per_knee``: it asks about one
    knee; otherwise about the person. ``mark`` is how well its scoring is supported.
    """

    code: str
    version: int
    label: str
    short_label: str
    family: str
    form: str
    per_knee: bool
    audience: Audience
    on_by_default: bool
    mark: Mark
    two_marks: TwoMarks
    items: tuple[Item, ...]
    scores: tuple[ScoreForm, ...]
    layouts: tuple[Layout, ...]
    missing: MissingRule
    thresholds: tuple[ScoreThreshold, ...]
    sources: tuple[Source, ...]
    how_to_key: str
    how_to_read: str
    not_for: str
    by_code: Mapping[str, Item] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "by_code", {item.code: item for item in self.items})

    def score(self, *, code: str) -> ScoreForm:
        """The score of that code. Raises ``KeyError`` for one that it has not."""
        found = next((form for form in self.scores if form.code == code), None)
        if found is None:
            raise KeyError(code)
        return found

    def layout(self, *, code: str) -> Layout:
        """The layout of that code, the first for an empty one. Raises ``KeyError`` otherwise."""
        if not code:
            return self.layouts[0]
        found = next((layout for layout in self.layouts if layout.code == code), None)
        if found is None:
            raise KeyError(code)
        return found

    def direction(self, *, score: str, layout: str = "") -> Direction:
        """Which way the score is better on a form of that layout."""
        found = self.score(code=score).direction
        return found.opposite if score in self.layout(code=layout).turned else found

    @property
    def unscored(self) -> tuple[str, ...]:
        """Items that are recorded and count in no score."""
        scored = {code for form in self.scores for code in form.items}
        return tuple(item.code for item in self.items if item.code not in scored)


def line_key(*, instrument: Instrument, score: str, limb: Limb, layout: str = "") -> str:
    """What two scores must share before one line may join them.

    It holds the questionnaire, the score, the family of form and rule, the knee (or the person),
    and whether the layout turns the score. So a child's and an adult's questionnaire, a full and
    a short form, or the two knees never meet. Raises ``ValueError`` for a limb that does not go
    with the questionnaire.
    """
    if instrument.per_knee is (limb is Limb.NONE):
        asked = "one knee: give left or right" if instrument.per_knee else "the person, not a limb"
        raise ValueError(f"{instrument.code} asks about {asked}")
    turned = "turned" if score in instrument.layout(code=layout).turned else "as_scored"
    return f"{instrument.code}.{score}/{instrument.family}/{limb}/{turned}"
