"""What must be on record at a level of a progression, and the named sources it rests on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Final

from outcomes.catalogue.fields import Fields, source_from
from outcomes.core.progressions import Requirement
from outcomes.core.quantities import TypedError
from outcomes.core.readings import condition_value, conditions_of
from outcomes.core.values import Criterion, Form, Measure, Source
from outcomes.protocols.criteria import GRAFTS, criterion_from
from outcomes.protocols.reading import LATER

UNITS: Final = {Form.SYMMETRY: "%", Form.PER_BODY_MASS: "N.m/kg"}
NEVER_OLD: Final = 36_500
"""Days for a measure that names no maximum age of its own."""

Named = Mapping[str, Source]
Catalogue = Mapping[str, Measure]


def named_from(fields: Fields) -> Named:
    """The sources of a progression by the names that its levels call them by."""
    found = {}
    for name, mapping in fields.table("named").items():
        found[name] = source_from(Fields(mapping=mapping, where=f"{fields.where}: named.{name}"))
    return found


def sources_of(fields: Fields, named: Named) -> tuple[Source, ...]:
    """At least one of the named sources: no number without one."""
    names = some_of(fields, "sources", tuple(named))
    if not names:
        raise fields.refuse("sources", "is missing")
    return tuple(named[name] for name in names)


def some_of(fields: Fields, key: str, known: tuple[str, ...]) -> tuple[str, ...]:
    """Some of the codes that are known, none twice; empty where the key is left out."""
    found = fields.texts(key)
    for code in found:
        if code not in known:
            raise fields.refuse(key, f"{code!r} is none of {', '.join(known)}")
    return found


def weeks_of(fields: Fields, key: str, *, above: int) -> tuple[tuple[str, int], ...]:
    """Weeks by the code of a graft, kind or age, each above a number."""
    found = fields.table(key)
    for code, weeks in found.items():
        if code not in LATER:
            raise fields.refuse(f"{key}.{code}", "is not known")
        if not isinstance(weeks, int) or isinstance(weeks, bool) or weeks <= above:
            raise fields.refuse(f"{key}.{code}", f"must be whole weeks above {above}")
    return tuple(sorted(found.items()))


def requirements_from(
    fields: Fields, key: str, catalogue: Catalogue, named: Named
) -> tuple[Requirement, ...]:
    """The requirements under one key, none twice."""
    found = tuple(_requirement(part, catalogue, named) for part in fields.parts(key))
    codes = [one.code for one in found]
    if len(set(codes)) != len(codes):
        raise fields.refuse(key, "names one twice")
    return found


def _requirement(fields: Fields, catalogue: Catalogue, named: Named) -> Requirement:
    code, label = fields.code("code"), fields.text("label")
    hard, at_step = fields.truth("hard", default=True), fields.truth("at_step", default=False)
    sources = sources_of(fields, named)
    common: dict[str, Any] = {"code": code, "label": label, "hard": hard, "sources": sources}
    found = Requirement(
        **common,
        criteria=tuple(
            _criterion(part, catalogue, common) for part in fields.parts("any", needed=True)
        ),
        grafts=some_of(fields, "grafts", GRAFTS),
        at_step=at_step,
    )
    fields.done()
    lsi = any(one.form is Form.SYMMETRY for one in found.criteria)
    if lsi is not code.endswith("_lsi"):
        raise fields.refuse("code", "ends in _lsi for a symmetry, and only for one")
    return found


def _criterion(fields: Fields, catalogue: Catalogue, common: Mapping[str, Any]) -> Criterion:
    """A criterion in short: its unit and maximum age are those of the measure."""
    name, form = fields.code("measure"), fields.one_of("form", Form)
    if name not in catalogue:
        raise fields.refuse("measure", f"{name!r} is not in the catalogue")
    measure = catalogue[name]
    written = {
        **{key: common[key] for key in ("code", "label", "hard")},
        "measure": name,
        "form": form.value,
        "threshold": {
            "operator": fields.text("operator"),
            "value": fields.text("value"),
            "unit": UNITS.get(form, measure.unit),
        },
        "maximum_age_days": measure.maximum_age_days or NEVER_OLD,
        "sources": [{"text": one.text, "mark": one.mark.value} for one in common["sources"]],
    }
    if "alike_to" in fields:
        written["alike_to"] = fields.text("alike_to")
    key = _key(fields, measure)
    fields.done()
    found = criterion_from(Fields(mapping=written, where=fields.where), catalogue, earlier={})
    return replace(found, key=key, sources=common["sources"])


def _key(fields: Fields, measure: Measure) -> str:
    """Conditions that a test must have had, not necessarily all of them, in one order."""
    key = fields.text("key", default="")
    known = {condition.code: condition for condition in measure.conditions}
    made = []
    for code, typed in sorted(conditions_of(key=key).items()):
        if code not in known:
            raise fields.refuse("key", f"{measure.code} has no condition {code!r}")
        try:
            made.append(f"{code}={condition_value(condition=known[code], typed=typed)}")
        except TypedError as error:
            raise fields.refuse("key", error.message) from error
    if ";".join(made) != key:
        raise fields.refuse("key", f"is written {';'.join(made)!r}")
    return key
