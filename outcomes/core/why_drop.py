"""Why might the pelvis drop: explanations with what supports them, what speaks against, and a test.

A drop of the free side is a sign to follow up, never a diagnosis: a hip that does not hold and a
quadriceps that avoids the load look the same. No explanation is ranked or left out; where nothing
was looked at, it says so. Cuts are settings of this house, sources stand beside each explanation.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Final

from outcomes.core.drop_record import Drop, Finding
from outcomes.core.drop_sources import SOURCES
from outcomes.core.kinds import Better
from outcomes.core.quantities import plain, shown
from outcomes.core.readings import conditions_of
from outcomes.core.symmetry import ratio_index, shortfall
from outcomes.core.values import EpisodeFacts, Limb, Measure, Pair, Reading, Source

EVEN: Final = Decimal(90)
WEAK: Final = Decimal(80)
HOLD_S: Final = Decimal(20)
ANKLE_SHORT: Final = Decimal(5)
LEG_CM: Final = Decimal(1)
STEP_PERCENT: Final = Decimal(12)
LITTLE_PAIN: Final = Decimal(2)
ONE_PLUS: Final = Decimal(2)
LEVEL: Final = Decimal(0)
MODERATE: Final = Decimal(2)
TASKS: Final = {
    "pelvic_drop_lateral_heel_touch": "lateral_heel_touch",
    "pelvic_drop_forward_heel_touch": "forward_heel_touch",
}


@dataclass(frozen=True, kw_only=True, slots=True)
class Explanation:
    """One way to explain a drop, with what was found for it and against it.

    ``not_known`` names measures and questions that would say more and were not looked at; ``test``
    is what would tell it from the others. ``sources`` hold the evidence, also that against it.
    """

    code: str
    supports: tuple[Finding, ...]
    against: tuple[Finding, ...]
    not_known: tuple[str, ...]
    test: str
    sources: tuple[Source, ...]


Found = Iterator[tuple[bool, Finding] | str]
"""What one looked at: true for a finding that supports, or the name of what is not known."""


def why_drop(
    *,
    reading: Reading,
    facts: EpisodeFacts,
    catalogue: Mapping[str, Measure],
    readings: Sequence[Reading],
    on: date,
    lateral_hip_pain: bool | None = None,
) -> tuple[Explanation, ...]:
    """Every explanation of one graded drop, in one fixed order; none is named as the cause.

    ``reading`` is the grade of a heel touch of the limb that is stood on. Empty for a pelvis that
    stays level without a trick, and for a reading that is no grade of a heel touch.
    """
    if reading.measure not in TASKS or reading.value is None:
        return ()
    if reading.value == LEVEL and _kept(reading) in ("", "upright"):
        return ()
    drop = Drop(
        reading=reading,
        facts=facts,
        catalogue=catalogue,
        readings=readings,
        on=on,
        lateral_hip_pain=lateral_hip_pain,
    )
    return tuple(_explained(code, look(drop)) for code, look in LOOKED_AT.items())


def _explained(code: str, found: Found) -> Explanation:
    seen = [*found]
    pairs = [one for one in seen if not isinstance(one, str)]
    return Explanation(
        code=code,
        supports=tuple(finding for supports, finding in pairs if supports),
        against=tuple(finding for supports, finding in pairs if not supports),
        not_known=tuple(one for one in seen if isinstance(one, str)),
        test=TELLS_APART[code],
        sources=SOURCES[code],
    )


def _kept(reading: Reading) -> str:
    return reading.details.get("kept_level_by", "")


def _when(drop: Drop) -> str:
    return drop.reading.details.get("when", "")


def _seen(drop: Drop, code: str, **facts: str) -> Finding:
    """Something seen in the heel touch itself."""
    return Finding(
        code=code, facts={"date": drop.reading.on.isoformat(), **facts}, refs=drop.reading.refs
    )


def _of(code: str, reading: Reading, value: str, **facts: str) -> Finding:
    facts = {"value": value, "date": reading.on.isoformat(), **facts}
    return Finding(code=code, facts=facts, refs=reading.refs)


def _value(reading: Reading | None) -> Decimal:
    if reading is None or reading.value is None:
        raise AssertionError("a reading without a value was let through")
    return reading.value


def _index(drop: Drop, code: str) -> tuple[Fraction, Pair] | None:
    """The standing limb over the other in per cent, where both were measured and are comparable."""
    pair = drop.pair(code=code)
    if pair is None:
        return None
    mine, other = pair.of(limb=drop.standing), pair.of(limb=drop.standing.opposite)
    found = ratio_index(involved=_value(mine), other=_value(other), better=Better.HIGHER)
    return None if found is None else (found, pair)


def _indexed(code: str, index: Fraction, pair: Pair, cut: Decimal) -> Finding:
    refs = tuple(r for one in (pair.left, pair.right) if one is not None for r in one.refs)
    number = Fraction(int(index * 10), 10)
    facts = {"value": shown(value=number, decimals=1), "cut": plain(value=cut)}
    return Finding(code=code, facts={**facts, "date": pair.on.isoformat()}, refs=refs)


def _hip(drop: Drop) -> Found:
    """The hip abductors of the standing side do not hold the pelvis."""
    force = _index(drop, "hip_abduction_force")
    if force is None:
        yield "hip_abduction_force"
    else:
        weaker = force[0] < EVEN
        yield weaker, _indexed("abduction_less" if weaker else "abduction_even", *force, EVEN)
    hold = drop.newest(code="standing_hip_hold", limb=drop.standing)
    if hold is None:
        yield "standing_hip_hold"
    else:
        short = _value(hold) < HOLD_S
        yield short, _of("hold_short" if short else "hold_long", hold, plain(value=_value(hold)))
    if _when(drop) == "first_movement":
        yield True, _seen(drop, "first_movement")
    if _when(drop) == "only_at_depth":
        yield False, _seen(drop, "only_at_depth")
    if _kept(drop.reading) == "trunk_leans":
        yield True, _seen(drop, "trunk_leans")


def _quadriceps(drop: Drop) -> Found:
    """A quadriceps that is weak, or avoids the load, so that hip and trunk take over."""
    found = _index(drop, "quadriceps_torque")
    if found is None:
        yield "quadriceps_torque"
    elif found[0] < WEAK:
        yield True, _indexed("quadriceps_less", *found, WEAK)
    elif found[0] >= EVEN:
        yield False, _indexed("quadriceps_even", *found, EVEN)
    travel = drop.newest(
        code="forward_knee_travel", limb=drop.standing, task=TASKS[drop.reading.measure]
    )
    if travel is None:
        yield "forward_knee_travel"
    else:
        word = drop.catalogue["forward_knee_travel"].word(value=_value(travel))
        yield word != "full", _of("knee_travel", travel, word)
    if _when(drop) in ("only_at_depth", "on_the_way_down"):
        yield True, _seen(drop, _when(drop))
    if _when(drop) == "first_movement":
        yield False, _seen(drop, "first_movement")


def _ankle(drop: Drop) -> Found:
    """An ankle that bends too little, so that the body goes round it."""
    pair = drop.pair(code="ankle_dorsiflexion")
    if pair is None:
        yield "ankle_dorsiflexion"
        return
    mine, other = pair.of(limb=drop.standing), pair.of(limb=drop.standing.opposite)
    short = shortfall(
        measure=drop.catalogue["ankle_dorsiflexion"], involved=_value(mine), other=_value(other)
    )
    stiff = short >= ANKLE_SHORT
    found = plain(value=Decimal(short.numerator) / short.denominator)
    code = "ankle_short" if stiff else "ankle_alike"
    yield (
        stiff,
        Finding(
            code=code,
            facts={"value": found, "date": pair.on.isoformat()},
            refs=(*(mine.refs if mine else ()), *(other.refs if other else ())),
        ),
    )


def _leg_length(drop: Drop) -> Found:
    """Legs of unequal length: the pelvis is not level to begin with."""
    mine = drop.newest(code="leg_length", limb=drop.standing)
    other = drop.newest(code="leg_length", limb=drop.standing.opposite)
    if mine is None or other is None:
        yield "leg_length"
        return
    apart = abs(_value(mine) - _value(other))
    unequal = apart >= LEG_CM
    yield unequal, _of("legs_unequal" if unequal else "legs_alike", mine, plain(value=apart))


def _step(drop: Drop) -> Found:
    """A step too high for this body."""
    height = conditions_of(key=drop.reading.key).get("step_height")
    if height is None:
        yield "step_height"
        return
    body = drop.newest(code="height", limb=Limb.NONE)
    if body is None:
        yield "height"
    elif Fraction(height) * 100 > Fraction(STEP_PERCENT) * Fraction(_value(body)):
        percent = Fraction(height) * 100 / Fraction(_value(body))
        yield True, _of("step_high", body, shown(value=percent, decimals=1), step=height)
    tested = drop.lately(code=drop.reading.measure, limb=drop.standing)
    lower = [one for one in tested if _is_lower(one, Decimal(height))]
    if not lower:
        yield "lower_step"
        return
    word = drop.catalogue[drop.reading.measure].word(value=_value(lower[0]))
    better = _value(lower[0]) < _value(drop.reading)
    yield better, _of("lower_step_better" if better else "lower_step_same", lower[0], word)


def _is_lower(reading: Reading, height: Decimal) -> bool:
    typed = conditions_of(key=reading.key).get("step_height")
    return typed is not None and Decimal(typed) < height


def _lateral_hip_pain(drop: Drop) -> Found:
    """Pain at the side of the hip: the hip is spared."""
    if drop.lateral_hip_pain is None:
        yield "lateral_hip_pain"
        return
    pain = drop.lateral_hip_pain
    yield pain, _seen(drop, "lateral_hip_pain" if pain else "no_lateral_hip_pain")


def _irritated_knee(drop: Drop) -> Found:
    """A knee that is swollen or hurts: the load is dodged."""
    effusion = drop.newest(code="effusion", limb=drop.standing)
    if effusion is None:
        yield "effusion"
    else:
        swollen = _value(effusion) >= ONE_PLUS
        word = drop.catalogue["effusion"].word(value=_value(effusion))
        yield swollen, _of("swollen" if swollen else "not_swollen", effusion, word)
    pains = [
        drop.newest(code="pain_during_test", limb=drop.standing, during=drop.reading.measure),
        drop.newest(code="pain_front_of_knee", limb=drop.standing),
    ]
    known = [one for one in pains if one is not None]
    if drop.reading.details.get("comfort") == "sore":
        yield True, _seen(drop, "sore")
    if not known:
        yield "pain_during_test"
        return
    worst = max(known, key=_value)
    hurts = _value(worst) > LITTLE_PAIN
    yield hurts, _of("hurts" if hurts else "hurts_little", worst, plain(value=_value(worst)))


def _fear(drop: Drop) -> Found:
    """Fear or doubt: the task is done stiffly or dodged."""
    comfort = drop.reading.details.get("comfort", "")
    if comfort in ("afraid", "unsure"):
        yield True, _seen(drop, comfort)
    elif comfort == "at_ease":
        yield False, _seen(drop, "at_ease")
    else:
        yield "comfort"


def _usual(drop: Drop) -> Found:
    """This is how this person stands on either leg."""
    conditions = conditions_of(key=drop.reading.key)
    other = drop.newest(code=drop.reading.measure, limb=drop.standing.opposite, **conditions)
    if not drop.comparable or other is None:
        yield "other_side"
        return
    alike = _value(other) == _value(drop.reading) <= MODERATE
    word = drop.catalogue[drop.reading.measure].word(value=_value(other))
    yield alike, _of("other_side_alike" if alike else "other_side_differs", other, word)


LOOKED_AT: Final[Mapping[str, Callable[[Drop], Found]]] = {
    "hip_abductors": _hip,
    "quadriceps": _quadriceps,
    "ankle": _ankle,
    "leg_length": _leg_length,
    "step_height": _step,
    "lateral_hip_pain": _lateral_hip_pain,
    "irritated_knee": _irritated_knee,
    "fear": _fear,
    "usual_for_this_person": _usual,
}
"""Every explanation in its order, which says nothing about how likely it is."""

TELLS_APART: Final[Mapping[str, str]] = {
    "hip_abductors": "abduction_force_both_sides",
    "quadriceps": "quadriceps_both_sides",
    "ankle": "repeat_with_heel_raised",
    "leg_length": "repeat_with_lift",
    "step_height": "repeat_on_lower_step",
    "lateral_hip_pain": "abduction_against_resistance",
    "irritated_knee": "repeat_when_calm",
    "fear": "repeat_with_a_hand",
    "usual_for_this_person": "other_side_same_conditions",
}
"""What to do next to tell each from the others."""
