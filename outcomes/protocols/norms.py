"""The percentiles that a clinic entered: which ages they are for, and one strict reader."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from outcomes.catalogue.fields import Fields
from outcomes.core.norms import Norm
from outcomes.core.values import Mark, Source
from outcomes.protocols.criteria import SEXES, bands_from, score_form

IKDC_15: Final = "own_ikdc_total_p15"
"""The one percentile that a published set asks for: it is always the clinic's own."""
SCORE: Final = "ikdc.total"
PERCENTILE: Final = "15"
AGES: Final = ((18, 25), (25, 35), (35, 51), (51, 66))
"""From, and below, in completed years: the strata that the norms of this score were collected in
(Anderson 2006, Am J Sports Med). Nobody younger or older is judged by them."""


def norm_from(mapping: Mapping[str, Any], *, where: str = "norm") -> Norm:
    """The percentile that a stored version describes.

    Raises ``SeedError`` naming the key for anything missing, unknown or contradictory: a score that
    no questionnaire has, a value outside its range, no value at all, no source.
    """
    fields = Fields(mapping=mapping, where=where)
    fields.code("code")
    version = fields.integer("version", at_least=1)
    score, percentile = fields.text("score"), fields.decimal("percentile")
    entered = f"version {version}, entered on {fields.text('entered_on')}"
    taken_from = fields.text("source")
    bands = bands_from(fields)
    fields.done()
    form = score_form(code=score)
    if form is None:
        raise fields.refuse("score", f"{score!r} is no score of a questionnaire")
    if not all(band.sex in SEXES and not band.graft for band in bands):
        raise fields.refuse("bands", "is by sex and age")
    if not bands:
        raise fields.refuse("bands", "is missing")
    if any(not form.lowest <= band.value <= form.highest for band in bands):
        raise fields.refuse("bands", f"a value is outside {form.lowest} to {form.highest}")
    text = f"This clinic’s setting, {entered}: taken from {taken_from}"
    source = Source(text=text, mark=Mark.CLINIC_SETTING)
    return Norm(score=score, percentile=percentile, bands=bands, source=source)
