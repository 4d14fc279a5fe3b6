"""Choices that are drawn: the grade of a pelvic drop, when it drops, how it was kept level."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final, cast

from outcomes.charts import drop_signs, pelvis
from outcomes.core.values import Limb
from outcomes.core.wording import drop_words
from outcomes.forms.ledger_fields import Field, Option

SHORT: Final[Mapping[str, str]] = {
    "first_movement": "from the first",
    "trunk_leans": "trunk leans",
}
"""The part of a long word that is seen under its drawing; the whole word is read out."""


def drawn_grade(*, word: str, limb: Limb) -> pelvis.Pelvis:
    """The drawing of one grade, titled with its finding."""
    return pelvis.Pelvis(
        grade=cast(pelvis.Grade, word),
        standing=cast(pelvis.Side, limb.value),
        title=drop_words(standing=limb, grade=word),
    )


def drawn_detail(*, field: Field, asks: str, limb: Limb) -> Field:
    """A list to choose from as drawings where each of its choices has one; else as it is.

    ``asks`` is the part of its label that is seen.
    """
    options = tuple(_drawn(option, limb) for option in field.options if option.code)
    if any(option.drawing is None for option in options):
        return field
    return replace(field, kind="drawn", options=options, named=True, brief=asks)


def _drawn(option: Option, limb: Limb) -> Option:
    return replace(option, drawing=_sign(option, limb), brief=SHORT.get(option.code, ""))


def _sign(option: Option, limb: Limb) -> drop_signs.Way | drop_signs.Kept | None:
    code, title = option.code, option.label
    if code in drop_signs.SEEN:
        return drop_signs.Way(moment=code, title=title)
    if code in drop_signs.KEEPINGS:
        return drop_signs.Kept(
            by=cast(drop_signs.Keeping, code), standing=cast(pelvis.Side, limb.value), title=title
        )
    return None
