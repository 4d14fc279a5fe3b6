"""The calculations that may be asked for, each by its name: keys in, exact numbers out."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from decimal import Decimal
from fractions import Fraction
from functools import cache
from typing import Any, Final

from outcomes.catalogue.instruments import load_instruments
from outcomes.catalogue.seeds import load_catalogue
from outcomes.core import angles, dates, errors, jumps, questionnaires, reach, strength
from outcomes.core.compare import judge_value
from outcomes.core.errors import margin, mdc
from outcomes.core.instruments import Instrument
from outcomes.core.kinds import View
from outcomes.core.quantities import TypedError, converted
from outcomes.core.symmetry import pre_injury_capacity, ratio_index
from outcomes.core.values import Better, Limb, Operator
from outcomes.queries.compute_asked import Asked, Refused, decimal_from, shortened
from outcomes.queries.compute_milestones import milestones
from outcomes.queries.compute_steps import next_step

Given = dict[str, Any]

BETTER: Final = {"higher": Better.HIGHER, "lower": Better.LOWER}
LIMBS: Final = {"left": Limb.LEFT, "right": Limb.RIGHT}
VIEWS: Final = {view.value: view for view in View}
OPERATORS: Final = {operator.value: operator for operator in Operator}
FORCES: Final = {"N": "N", "kgf": "kgf", "lbf": "[lbf_av]"}
LENGTHS: Final = {"m": "m", "cm": "cm", "in": "[in_i]"}
MASSES: Final = {"kg": "kg", "lb": "[lb_av]"}
UNITS: Final = {
    code: code
    for code in (
        "N", "kgf", "[lbf_av]", "N.m", "kg", "[lb_av]", "cm", "m", "[in_i]", "deg", "s",
    )
}  # fmt: skip
CONFIDENCE: Final = {Decimal("0.90"): 90, Decimal("0.95"): 95}
NO_INDEX: Final = {
    Better.HIGHER: "there is no index: the value divided by is 0",
    Better.LOWER: "there is no index: lower is better and one of the two is 0",
}


def weeks_since(asked: Asked) -> Given:
    """Days and completed weeks from the index date."""
    start, on = asked.day("index_date"), asked.day("on")
    weeks = dates.weeks_since(index_date=start, on=on)
    found: Given = {"days": (on - start).days, "weeks": weeks}
    return found | ({"before": True} if weeks is None else {})


def symmetry(asked: Asked) -> Given:
    """Limb symmetry index in per cent."""
    involved, other = asked.number("involved", least=0), asked.number("other", least=0)
    better: Better = asked.one_of("better", BETTER)
    return _index(ratio_index(involved=involved, other=other, better=better), better=better)


def capacity(asked: Asked) -> Given:
    """The involved limb now against the other limb before surgery, in per cent."""
    now = asked.number("involved_now", least=0)
    before = asked.number("other_before_surgery", least=0)
    better: Better = asked.one_of("better", BETTER)
    found = pre_injury_capacity(involved_now=now, reference_before=before, better=better)
    return _index(found, better=better)


def _index(value: Fraction | None, *, better: Better) -> Given:
    return {"value": value} if value is not None else {"value": None, "reason": NO_INDEX[better]}


def torque(asked: Asked) -> Given:
    """Torque in N·m, and for each kg where a body mass is sent."""
    force = _in(asked, "force", "N", FORCES, above=0)
    lever = _in(asked, "lever_arm", "m", LENGTHS, above=0)
    found = strength.torque(force=force, lever_arm=lever)
    each = None
    if "body_mass" in asked:
        mass = _in(asked, "body_mass", "kg", MASSES, above=0)
        each = strength.per_body_mass(value=found, body_mass=mass)
    return {"newton_metres": found, "newton_metres_per_kg": each}


def percent_body_weight(asked: Asked) -> Given:
    """A force as per cent of body weight."""
    force = _in(asked, "force", "N", FORCES, least=0)
    mass = _in(asked, "body_mass", "kg", MASSES, above=0)
    return {"value": strength.percent_body_weight(force=force, body_mass=mass)}


def _in(asked: Asked, key: str, unit: str, units: Mapping[str, str], **bounds: int) -> Fraction:
    """A number with the unit beside it, in ours."""
    value = asked.number(key, **bounds)
    return converted(value=value, source=asked.one_of(f"{key}_unit", units), target=unit)


def hamstring_quadriceps_ratio(asked: Asked) -> Given:
    """Hamstrings over quadriceps, as a ratio."""
    hamstrings = asked.number("hamstrings", least=0)
    quadriceps = asked.number("quadriceps", least=0)
    value = strength.hamstring_quadriceps_ratio(hamstrings=hamstrings, quadriceps=quadriceps)
    return {"value": value} | ({"reason": "quadriceps is 0"} if value is None else {})


def heel_height_to_degrees(asked: Asked) -> Given:
    """Extension that is lacking, from the prone heel-height difference."""
    height, lever = asked.number("height_cm"), asked.number("lever_cm", above=0)
    return {"degrees": angles.heel_height_degrees(height=height, lever=lever)}


def balance_reach(asked: Asked) -> Given:
    """Three reaches by leg length, and together."""
    names = ("anterior", "posteromedial", "posterolateral")
    reaches = {name: asked.number(name, least=0) for name in names}
    length = asked.number("leg_length", above=0)
    return {
        **{
            f"{name}_percent": reach.reach_percent(reach=one, leg_length=length)
            for name, one in reaches.items()
        },
        "composite_percent": reach.reach_composite(**reaches, leg_length=length),
    }


def pelvic_drop(asked: Asked) -> Given:
    """Pelvic drop of the free side from two points of a picture."""
    stance, swing = asked.point("stance"), asked.point("swing")
    line = asked.line("level_line") if "level_line" in asked else None
    return {"degrees": angles.pelvic_drop(stance=stance, swing=swing, level_line=line)}


def knee_projection_angle(asked: Asked) -> Given:
    """How far the knee points inward, from three points of a picture."""
    points = {key: asked.point(key) for key in ("thigh", "knee", "ankle")}
    limb, view = asked.one_of("limb", LIMBS), asked.one_of("view", VIEWS)
    return {"degrees": angles.knee_projection_angle(**points, limb=limb, view=view)}


def jump_height(asked: Asked) -> Given:
    """Height of a jump from the time in the air."""
    time = asked.number("flight_time_s", least=0)
    return {"centimetres": jumps.jump_height(flight_time=time)}


def standard_error_of_measurement(asked: Asked) -> Given:
    """SEM from an SD and an ICC."""
    sd, icc = asked.number("sd", least=0), asked.number("icc", least=0, most=1)
    return {"value": errors.sem(sd=sd, icc=icc)}


def minimal_detectable_change(asked: Asked) -> Given:
    """MDC90 or MDC95 from a SEM."""
    sem, level = asked.number("sem", least=0), asked.number("confidence")
    if level not in CONFIDENCE:
        raise Refused(f'"confidence" cannot be {shortened(level)}: send 0.90 or 0.95.')
    return {"value": mdc(sem=sem, confidence=CONFIDENCE[level])}


def reliable_change(asked: Asked) -> Given:
    """The reliable change index and whether it is beyond 1.96."""
    found = errors.reliable_change(
        before=asked.number("before"),
        after=asked.number("after"),
        sd=asked.number("sd", above=0),
        reliability=asked.number("reliability", least=0, below=1),
    )
    return {"value": found.value, "reliable": found.reliable}


def symmetry_error(asked: Asked) -> Given:
    """A symmetry index with its SEM and MDC95 by propagation."""
    involved, other = asked.number("involved", least=0), asked.number("other", least=0)
    cvs = {key: asked.number(key, least=0, most=1) for key in ("cv_involved", "cv_other")}
    better: Better = asked.one_of("better", BETTER)
    index = _index(ratio_index(involved=involved, other=other, better=better), better=better)
    sem = errors.symmetry_error(involved=involved, other=other, **cvs, better=better)
    return {**index, "sem": sem, "mdc95": None if sem is None else mdc(sem=sem, confidence=95)}


def compare(asked: Asked) -> Given:
    """A value, or the symmetry of two, against a threshold."""
    value: Fraction | None
    better = Better.HIGHER
    if "value" in asked or "involved" not in asked:
        value = Fraction(asked.number("value"))
    else:
        involved, other = asked.number("involved", least=0), asked.number("other", least=0)
        better = asked.one_of("better", BETTER)
        value = ratio_index(involved=involved, other=other, better=better)
    operator, threshold = asked.one_of("operator", OPERATORS), asked.number("threshold")
    sem = asked.number("sem", least=0) if "sem" in asked else None
    if value is None:
        return {"result": None, "reason": NO_INDEX[better]}
    edge = margin(sem=sem) if sem else None
    result = judge_value(value=value, operator=operator, threshold=threshold, margin=edge)
    return {"result": result.value}


def convert(asked: Asked) -> Given:
    """A value in another unit."""
    value = asked.number("value")
    source, target = asked.one_of("from", UNITS), asked.one_of("to", UNITS)
    return {"value": converted(value=value, source=source, target=target)}


@cache
def _instruments() -> Mapping[str, Instrument]:
    """The shipped questionnaires, read once."""
    return load_instruments()


def instrument(asked: Asked) -> Given:
    """The scores of a questionnaire from its numbered answers."""
    form: Instrument = asked.one_of("instrument", _instruments())
    what = 'the numbered answers, such as {"1": 2, "2": null}'
    answers = {
        item: None if mark is None else decimal_from(mark, key=item[:20], what="a number or null")
        for item, mark in asked.table("answers", what=what).items()
    }
    layout = asked.text("layout", default="")
    found = questionnaires.score(instrument=form, answers=answers, layout=layout)
    return {
        "scores": {name: one.value for name, one in found.items()},
        "answered": {name: one.answered for name, one in found.items()},
        "reasons": {name: one.reason for name, one in found.items() if one.reason},
    }


def catalogue(asked: Asked) -> Given:
    """Every measure and questionnaire that is shipped, with all fields, numbers as numbers."""
    return {
        "measures": [_fields(measure) for measure in load_catalogue().values()],
        "instruments": [_fields(form) for form in _instruments().values()],
    }


def _fields(value: Any) -> Any:
    """A noun of the catalogue and all it holds, as plain values; what it works out is left out."""
    if is_dataclass(value):
        return {one.name: _fields(getattr(value, one.name)) for one in fields(value) if one.init}
    if isinstance(value, Mapping):
        return {str(key): _fields(one) for key, one in value.items()}
    if isinstance(value, tuple | list):
        return [_fields(one) for one in value]
    return value


def _in_a_sentence(call: Callable[[Asked], Given]) -> Callable[[Asked], Given]:
    """The call; what the core refuses is refused here, in the core's own words."""

    def asking(asked: Asked) -> Given:
        try:
            return call(asked)
        except TypedError as error:
            raise Refused(error.message) from error
        except questionnaires.AnswerError as error:
            raise Refused(error.message) from error

    return asking


CALLS: Final[Mapping[str, Callable[[Asked], Given]]] = {
    name: _in_a_sentence(call)
    for name, call in {
        "weeks_since": weeks_since,
        "symmetry": symmetry,
        "pre_injury_capacity": capacity,
        "torque": torque,
        "percent_body_weight": percent_body_weight,
        "hamstring_quadriceps_ratio": hamstring_quadriceps_ratio,
        "heel_height_to_degrees": heel_height_to_degrees,
        "balance_reach": balance_reach,
        "pelvic_drop": pelvic_drop,
        "knee_projection_angle": knee_projection_angle,
        "jump_height": jump_height,
        "standard_error_of_measurement": standard_error_of_measurement,
        "minimal_detectable_change": minimal_detectable_change,
        "reliable_change": reliable_change,
        "symmetry_error": symmetry_error,
        "compare": compare,
        "convert": convert,
        "instrument": instrument,
        "catalogue": catalogue,
        "milestones": milestones,
        "next_step": next_step,
    }.items()
}
