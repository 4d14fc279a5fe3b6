"""What a lead types about an own measure, as the mapping that a seed would be, and back again."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

from django.utils.text import slugify

from outcomes.core.measures import OWN, OWN_SOURCE
from outcomes.core.quantities import plain
from outcomes.core.values import Condition, EntryKind, Measure, SymmetryForm

CONDITIONS: Final = 4
"""How many conditions an own measure may have."""
NO_YES: Final = ("no", "yes")
TEXTS: Final = ("label", "short_label", "better", "when_to_use", "how_to_do", "how_to_read")
LONGEST_CODE: Final = 50
LONGEST_PART: Final = 20
"""Of a condition's code: four of them and their choices fit into one comparison key."""

Typed = Mapping[str, Any]


def code_for(*, label: str) -> str:
    """The code that a label gives.

    >>> code_for(label="Step hold, seconds")
    'own_step_hold_seconds'
    >>> code_for(label="第")
    'own_measure'
    """
    return OWN + _slug(label, LONGEST_CODE, "measure")


def _slug(text: str, longest: int, otherwise: str) -> str:
    found = slugify(text).replace("-", "_")[:longest].strip("_")
    return found if found and (found[0].isalpha() or otherwise == "measure") else otherwise


def lines_of(text: str) -> tuple[str, ...]:
    """The lines of a text that hold something, without the space around them."""
    return tuple(line.strip() for line in text.splitlines() if line.strip())


def mapping_of(*, typed: Typed, version: int) -> dict[str, Any]:
    """The mapping that ``measure_from`` reads. ``typed`` are the cleaned values of the form."""
    return {
        **{name: typed[name] for name in TEXTS},
        "code": typed["code"],
        "version": version,
        "per_limb": typed["per_limb"] == "yes",
        "symmetry": _symmetry(typed),
        "conditions": _conditions(typed),
        "sources": [{"text": OWN_SOURCE, "mark": "clinic_setting"}],
        **(_number(typed) if typed["kind"] == "number" else _grades(typed)),
    }


def _symmetry(typed: Typed) -> str:
    if typed["symmetry"] != "index":
        return str(typed["symmetry"])
    lower = typed["better"] == "lower"
    return str(SymmetryForm.INVERTED_RATIO if lower else SymmetryForm.RATIO)


def _number(typed: Typed) -> dict[str, Any]:
    hard = [plain(value=typed[name]) for name in ("lowest", "highest")]
    soft = [
        hard[place] if typed[name] is None else plain(value=typed[name])
        for place, name in enumerate(("usual_low", "usual_high"))
    ]
    return {
        "unit": typed["unit"],
        "entry": "number",
        "decimals": typed["decimals"],
        "hard": hard,
        "soft": soft,
        "trials": typed["trials"],
        "summary": typed["summary"],
    }


def _grades(typed: Typed) -> dict[str, Any]:
    grades = NO_YES if typed["kind"] == "yes_no" else lines_of(typed["grades"])
    ranks = ["0", str(len(grades) - 1)]
    return {
        "unit": "{score}",
        "entry": "grade",
        "grades": list(grades),
        "decimals": 0,
        "hard": ranks,
        "soft": ranks,
        "trials": 1,
        "summary": "single",
    }


def _conditions(typed: Typed) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    for number in range(1, CONDITIONS + 1):
        label = typed[f"condition_{number}_label"]
        if not label:
            continue
        taken = {one["code"] for one in found}
        code = _different(_slug(label, LONGEST_PART, f"condition_{number}"), taken)
        one = {"code": code, "label": label}
        words = lines_of(typed[f"condition_{number}_choices"])
        unit = {"unit": typed[f"condition_{number}_unit"]}
        found.append(one | ({"choices": _choices(words)} if words else unit))
    return found


def _choices(words: Iterable[str]) -> list[dict[str, str]]:
    found: list[dict[str, str]] = []
    for number, word in enumerate(words, 1):
        taken = {one["code"] for one in found}
        code = _different(_slug(word, LONGEST_PART, f"choice_{number}"), taken)
        found.append({"code": code, "label": word})
    return found


def _different(code: str, taken: set[str]) -> str:
    tries = (code, *(f"{code[: LONGEST_PART - 3]}_{number}" for number in range(2, 100)))
    return next(one for one in tries if one not in taken)


def typed_of(*, measure: Measure) -> dict[str, Any]:
    """What the form holds for a measure that was made with it: the way back of ``mapping_of``."""
    number = measure.entry is EntryKind.NUMBER
    kind = "number" if number else "yes_no" if measure.yes_or_no else "grades"
    limits = (*measure.hard, *measure.soft) if number else (None,) * 4
    return {
        **{name: getattr(measure, name) for name in TEXTS},
        "code": measure.code,
        "better": measure.better.value,
        "kind": kind,
        "unit": measure.unit if number else "",
        "grades": "\n".join(measure.grades) if kind == "grades" else "",
        "per_limb": "yes" if measure.per_limb else "no",
        "symmetry": "index" if "ratio" in measure.symmetry else measure.symmetry.value,
        **dict(zip(("lowest", "highest", "usual_low", "usual_high"), limits, strict=True)),
        "decimals": measure.decimals,
        "trials": measure.trials,
        "summary": measure.summary.value,
        **_typed_conditions(measure.conditions),
    }


def _typed_conditions(conditions: tuple[Condition, ...]) -> dict[str, str]:
    typed: dict[str, str] = {}
    for place in range(CONDITIONS):
        one = conditions[place] if place < len(conditions) else None
        choices = one.choices if one else ()
        typed |= {
            f"condition_{place + 1}_label": one.label if one else "",
            f"condition_{place + 1}_choices": "\n".join(choice.label for choice in choices),
            f"condition_{place + 1}_unit": one.unit if one else "",
        }
    return typed
