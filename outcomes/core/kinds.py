"""The closed lists of the core: every code that a value, a test or a result may have."""

from __future__ import annotations

from enum import StrEnum


class Limb(StrEnum):
    """Whose value it is: the patient's left or right limb, or none (body mass, a two-leg task)."""

    LEFT = "left"
    RIGHT = "right"
    NONE = "none"

    @property
    def opposite(self) -> Limb:
        """The other limb; ``none`` has no other and stays itself."""
        if self is Limb.LEFT:
            return Limb.RIGHT
        return Limb.LEFT if self is Limb.RIGHT else self


class View(StrEnum):
    """Which side of a person a picture shows: it decides where the middle of the body lies."""

    FRONT = "front"
    BACK = "back"


class ReadingStatus(StrEnum):
    """What became of a test. Only ``measured`` may be compared with a threshold."""

    MEASURED = "measured"
    STOPPED_BY_PAIN = "stopped_by_pain"
    UNABLE = "unable"
    DECLINED = "declined"
    SURGEONS_LIMIT = "surgeons_limit"


class Better(StrEnum):
    """Which way is better for a measure."""

    HIGHER = "higher"
    LOWER = "lower"
    TOWARD_ZERO = "toward_zero"
    MATCH_OTHER = "match_other"
    NEITHER = "neither"


class SymmetryForm(StrEnum):
    """How two limbs are compared: never a ratio of angles, grades or pain."""

    RATIO = "ratio"
    INVERTED_RATIO = "inverted_ratio"
    DIFFERENCE = "difference"
    NONE = "none"


class Operator(StrEnum):
    """Operators are data: "> 90" and ">= 90" are different rules."""

    GREATER = ">"
    AT_LEAST = ">="
    LESS = "<"
    AT_MOST = "<="


class Mark(StrEnum):
    """How well a number is supported; it travels with the number to the screen."""

    SEEN = "seen"
    SECOND_HAND = "second_hand"
    MEMORY = "memory"
    COMPUTED = "computed"
    COMMON_PRACTICE = "common_practice"
    CLINIC_SETTING = "clinic_setting"


class EntryKind(StrEnum):
    """How a value is typed: a number, a grade word, the three-way extension entry, torque, a jump
    (height or flight time), item by item, or not at all because it is derived from others."""

    NUMBER = "number"
    GRADE = "grade"
    EXTENSION = "extension"
    TORQUE = "torque"
    JUMP = "jump"
    ITEMS = "items"
    DERIVED = "derived"


class Group(StrEnum):
    """The section of a visit that a measure belongs to, in the order of a visit."""

    SYMPTOMS = "symptoms"
    RANGE = "range"
    DAILY = "daily"
    HOLDS = "holds"
    MOVEMENT = "movement"
    BALANCE = "balance"
    STRENGTH = "strength"
    REPETITIONS = "repetitions"
    HOPS = "hops"
    AFTER = "after"
    SIZE = "size"
    BODY = "body"
    OTHER = "other"


class Relative(StrEnum):
    """What a value may also be given relative to: N.m/kg, or per cent of the other three."""

    BODY_MASS = "body_mass"
    BODY_WEIGHT = "body_weight"
    HEIGHT = "height"
    LEG_LENGTH = "leg_length"


class Basis(StrEnum):
    """What an error or a threshold in use speaks of: the value itself, the index of both limbs,
    their difference, or the value relative to the body."""

    VALUE = "value"
    SYMMETRY = "symmetry"
    DIFFERENCE = "difference"
    BODY_MASS = "body_mass"
    BODY_WEIGHT = "body_weight"
    HEIGHT = "height"
    LEG_LENGTH = "leg_length"


class Examiner(StrEnum):
    """Who tested again where an error was found; ``not_stated`` where the source does not say."""

    SAME = "same"
    DIFFERENT = "different"
    NOT_STATED = "not_stated"


class Formula(StrEnum):
    """How a derived measure is worked out from its inputs."""

    RATIO = "ratio"
    REACH_COMPOSITE = "reach_composite"


class Summary(StrEnum):
    """How trials become one value. ``best`` follows the measure's better direction."""

    SINGLE = "single"
    BEST = "best"
    MEAN = "mean"
    MEDIAN = "median"


class Why(StrEnum):
    """Why something is not assessable, or why a result came out as it did."""

    NO_READING = "no_reading"
    NO_PAIR = "no_pair"
    OTHER_LIMB_NOT_FAIR = "other_limb_not_fair"
    OTHER_LIMB_NOT_TESTED = "other_limb_not_tested"
    INVOLVED_NOT_TESTED = "involved_not_tested"
    ZERO_REFERENCE = "zero_reference"
    DIFFERENT_KEY = "different_key"
    BOTH_AT_CAP = "both_at_cap"
    LIMITED_BY_PAIN = "limited_by_pain"
    NOT_DONE = "not_done"
    NO_RATIO = "no_ratio"
    NO_BODY_MASS = "no_body_mass"
    NOT_FOR_CHILDREN = "not_for_children"
    NO_SEX_NORM = "no_sex_norm"
    KEPT_LEVEL_BY = "kept_level_by"
    DETAIL_MISSING = "detail_missing"
    NO_INVOLVED_LIMB = "no_involved_limb"
    INPUT_NOT_TESTED = "input_not_tested"
    INPUTS_DIFFER = "inputs_differ"
    NO_NORM = "no_norm"
    NO_CLINIC_NORM = "no_clinic_norm"
    BEFORE_EARLIEST_WEEK = "before_earliest_week"
    NOT_REPEATED = "not_repeated"
    NO_EARLIER_VALUE = "no_earlier_value"
    NO_VALUE_BEFORE_SURGERY = "no_value_before_surgery"
    NO_BODY_SIZE = "no_body_size"
    TOO_FEW_ANSWERS = "too_few_answers"
    NO_WINDOW = "no_window"


class Subject(StrEnum):
    """What a criterion judges: a measure or finding, a score, events, or other criteria."""

    MEASURE = "measure"
    SCORE = "score"
    EVENT = "event"
    GROUP = "group"


class Form(StrEnum):
    """What a criterion looks at.

    ``pre_injury``: the involved limb now as per cent of the other limb before surgery.
    ``change_since_surgery`` and ``change_since_last``: the newest value less the first one since
    the index date, or less the one before it, under the same key. ``percentile``: a score against
    the clinic's own norm of that percentile. ``count``: events, or the met criteria of a group.
    """

    INVOLVED = "involved"
    SYMMETRY = "symmetry"
    SHORT_OF_OTHER = "short_of_other"
    PER_BODY_MASS = "per_body_mass"
    PER_BODY_WEIGHT = "per_body_weight"
    PER_HEIGHT = "per_height"
    PER_LEG_LENGTH = "per_leg_length"
    PRE_INJURY = "pre_injury"
    CHANGE_SINCE_SURGERY = "change_since_surgery"
    CHANGE_SINCE_LAST = "change_since_last"
    GRADE = "grade"
    SCORE = "score"
    PERCENTILE = "percentile"
    COUNT = "count"

    @property
    def compares_limbs(self) -> bool:
        """Whether it needs a pair of both limbs."""
        return self in (Form.SYMMETRY, Form.SHORT_OF_OTHER)

    @property
    def is_change(self) -> bool:
        """Whether it needs an earlier value."""
        return self in (Form.CHANGE_SINCE_SURGERY, Form.CHANGE_SINCE_LAST)


class Result(StrEnum):
    """The one result of a criterion, everywhere."""

    MET = "met"
    MET_BORDERLINE = "met_borderline"
    NOT_MET_BORDERLINE = "not_met_borderline"
    NOT_MET = "not_met"
    NOT_TESTED = "not_tested"
    OUT_OF_DATE = "out_of_date"
    NOT_ASSESSABLE = "not_assessable"

    @property
    def truth(self) -> bool | None:
        """Kleene value: both kinds of met are true, both kinds of not met false, else unknown."""
        if self in (Result.MET, Result.MET_BORDERLINE):
            return True
        return False if self in (Result.NOT_MET, Result.NOT_MET_BORDERLINE) else None


class MilestoneState(StrEnum):
    """Where a milestone stands. A person decides; no state is a permission."""

    BLOCKED = "blocked"
    BEFORE_EARLIEST_DATE = "before_earliest_date"
    CRITERIA_MISSING = "criteria_missing"
    RECORDED_AS_MET = "recorded_as_met"


class Tier(StrEnum):
    """How soon a red flag must be acted on."""

    NOW = "now"
    TODAY = "today"
    THIS_WEEK = "this_week"


class Reference(StrEnum):
    """What a value is compared with."""

    OTHER_LIMB = "other_limb"
    OWN_BEFORE_INJURY = "own_before_injury"
    OTHER_BEFORE_SURGERY = "other_before_surgery"
    BODY_MASS = "body_mass"
    OWN_HISTORY = "own_history"
    NOTHING = "nothing"
