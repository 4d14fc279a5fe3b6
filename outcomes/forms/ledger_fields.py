"""The fields of the ledger: their names, what was posted, and how each is drawn.

A field's name says what it holds: ``v:knee_flexion:left`` is a value, ``v:single_hop:left:2`` its
second trial. The second part is the row: a measure's code, with ``-2`` for a second test of it.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import time
from typing import Final
from uuid import UUID

from django.http import QueryDict

from clinic.http import Unprocessable
from outcomes.core.values import Limb, Measure

NAME: Final = re.compile(r"note|measured|[acdfrsuvwxy](:[a-z0-9_-]{1,70}){1,3}")
MEASURED: Final = "measured"
"""The time at which it was measured, where that is not when the visit was opened."""
LONG: Final = {"note": 4000, "f:action": 1000}
LONGEST: Final = 300
MOST_FIELDS: Final = 2000


def value_name(row: str, limb: Limb, number: int = 1) -> str:
    """A typed value; ``number`` is the trial, from 1."""
    return f"v:{row}:{limb}" if number == 1 else f"v:{row}:{limb}:{number}"


def cell_name(kind: str, row: str, limb: Limb) -> str:
    """Choice of extension (x), lever arm (a), status (s) or reason (w) of one limb."""
    return f"{kind}:{row}:{limb}"


def detail_name(row: str, limb: Limb, code: str) -> str:
    """Something recorded beside the value of one limb."""
    return f"d:{row}:{limb}:{code}"


def condition_name(row: str, code: str) -> str:
    """A condition of a test, the same for both limbs."""
    return f"c:{row}:{code}"


def html_id(name: str) -> str:
    """The element id of a field."""
    return name.replace(":", "-")


@dataclass(frozen=True, kw_only=True, slots=True)
class Posted:
    """What a page sent: typed texts, the texts it had shown, and what was pressed.

    ``keep`` are clashing fields for which the person chose their own text; those for which they
    chose the other one (``take``) are not among the typed ones. ``row``: only this row was sent,
    and it stays in place on the page. ``added``: a row that was asked for. ``number`` counts what
    the page sent, where it has a script that counts. ``late``: of each field that was asked about
    because a tablet sent it late, the number of the save that was shown.
    """

    typed: Mapping[str, str]
    shown: Mapping[str, str]
    sheet: str
    keep: tuple[str, ...] = ()
    take: tuple[str, ...] = ()
    row: str = ""
    added: str = ""
    number: int | None = None
    late: Mapping[str, int] = field(default_factory=dict)


def posted(data: QueryDict) -> Posted:
    """Read a posted page. The hidden ``was`` of each row names its fields and what they showed.

    Only those fields count: a choice that was taken back is not sent and is empty. Raises
    ``Unprocessable`` for what no page of ours sends.
    """
    shown: dict[str, str] = {}
    for text in data.getlist("was"):
        shown |= shown_of(text)
    if len(shown) > MOST_FIELDS:
        raise Unprocessable("Open the page afresh and enter it again.")
    late = _late(data.get("late", ""))
    take = tuple(name for name in data.getlist("take") if name in shown or name in late)
    typed = {name: cleaned(name, data.get(name, "")) for name in shown if name not in take}
    added = data.get("add", "") if NAME.fullmatch(f"r:{data.get('add', '')}") else ""
    if added:
        typed[f"r:{added}"] = "1"
    keep = tuple(name for name in data.getlist("keep") if name in typed)
    return Posted(
        typed=typed,
        shown=shown,
        sheet=_sheet(data.get("sheet", "")),
        keep=keep,
        take=take,
        row="" if added or keep or take else data.get("row", ""),
        added=added,
        number=number_of(data.get("n", "")),
        late=late,
    )


def number_of(text: str) -> int | None:
    """A number that a page counts with; None for anything else."""
    return int(text) if re.fullmatch(r"[0-9]{1,15}", text, re.ASCII) else None


def _late(text: str) -> dict[str, int]:
    return {name: number_of(save) or 0 for name, save in shown_of(text or "{}").items()}


def shown_of(text: str) -> dict[str, str]:
    try:
        found = json.loads(text)
    except ValueError:
        found = None
    if not isinstance(found, dict) or not all(
        isinstance(value, str) and NAME.fullmatch(name) for name, value in found.items()
    ):
        raise Unprocessable("Open the page afresh and enter it again.")
    return found


def _sheet(text: str) -> str:
    try:
        return str(UUID(text))
    except ValueError:
        raise Unprocessable("Open the page afresh and enter it again.") from None


def cleaned(name: str, text: str) -> str:
    """The text without what no database keeps; longer than any field is cut by refusing it."""
    plain = text.replace("\x00", "").replace("\r\n", "\n")
    longest = LONG.get(name, LONGEST)
    if len(plain) > longest:
        raise Unprocessable(f"One text is longer than {longest} characters. Shorten it.")
    return plain


def was_of(shown: Mapping[str, str]) -> str:
    """The hidden field that names a row's fields and what the page shows in them."""
    return json.dumps(dict(shown), ensure_ascii=False, separators=(",", ":"))


def time_of(text: str) -> time | None:
    """A time of day as it is typed, ``14:30`` or ``14.30``; None for nothing or another text."""
    found = re.fullmatch(r"\s*([01]?\d|2[0-3])[:.]([0-5]\d)\s*", text, re.ASCII)
    return time(int(found[1]), int(found[2])) if found else None


def told(*, sent: Posted, measures: Mapping[str, Measure]) -> list[tuple[str, str]]:
    """What was changed on a page, in words: the test and side, and the text."""
    changed = {
        name: text for name, text in sent.typed.items() if text and text != sent.shown.get(name, "")
    }
    return [(about_field(name, measures), text) for name, text in changed.items()]


def about_field(name: str, measures: Mapping[str, Measure]) -> str:
    """What a field holds, in words: the test and side."""
    parts = name.split(":")
    code = parts[1].partition("-")[0] if len(parts) > 1 else ""
    if code not in measures:
        return {"note": "Note", MEASURED: "Measured at"}.get(name, "Red flags")
    rest = [part.replace("_", " ") for part in parts[2:] if part != Limb.NONE]
    return ", ".join([measures[code].short_label, *rest])


@dataclass(frozen=True, kw_only=True, slots=True)
class Option:
    """One choice of a field; ``drawing`` is a picture of it, ``force`` marks a unit of force.

    ``brief``: the part of the label that is seen, where that is not the whole.
    """

    code: str
    label: str
    brief: str = ""
    drawing: object = None
    force: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Field:
    """One field as it is drawn.

    kind: ``number``, ``text``, ``long``, ``chips`` (a row of choices), ``drawn`` (the same with
    pictures), ``select`` or ``tick``. last: what a condition was last time. wrong: signing was
    tried and this field needs a look. look: a class of the page. named: the label is shown, or
    the part of it that is ``brief``.
    whole: only whole numbers are typed. most, most_in, decimals: the largest number that can be
    meant, its unit, and the digits after the mark: they tell when a typed number is complete.
    """

    name: str
    label: str
    kind: str
    value: str = ""
    unit: str = ""
    options: tuple[Option, ...] = ()
    last: str = ""
    optional: bool = False
    wrong: bool = False
    look: str = ""
    named: bool = False
    brief: str = ""
    whole: bool = False
    most: str = ""
    most_in: str = ""
    decimals: int = 0

    @property
    def id(self) -> str:
        """The element id; of a row of choices the first one's."""
        return html_id(self.name)
