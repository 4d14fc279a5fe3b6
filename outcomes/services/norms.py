"""The percentiles that a lead enters: a version each time, the old ones stay. None is shipped."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any, Final
from uuid import UUID

from django.db.models import Max
from django.urls import reverse

from clinic import audit, clock, words
from clinic.http import Conflict
from clinic.models.places import Site
from clinic.permissions import Actor
from clinic.services import acts
from clinic.services.rules import Refused
from outcomes.catalogue.fields import SeedError
from outcomes.catalogue.seeds import canonical_json, fingerprint
from outcomes.models.versions import NormVersion
from outcomes.protocols.norms import IKDC_15, PERCENTILE, SCORE, norm_from
from outcomes.services.catalogue import once_each

MEANWHILE: Final = "Somebody entered other values meanwhile. Load the page again and compare them."
Cell = tuple[str, int, int]
"""Sex, from which age, below which age."""


def enter(
    *, actor: Actor, key: UUID, seen: int, values: Mapping[Cell, Decimal], source: str
) -> str:
    """Keep the scores that are the 15th percentile, by sex and age, as the next version.

    ``seen`` is the version that the page showed, 0 for none: another one is a ``Conflict``. A cell
    that is left out speaks of nobody. Raises ``Refused`` for no value, and for a score that the
    questionnaire does not have.
    """

    def do() -> str:
        newest = NormVersion.objects.filter(code=IKDC_15).aggregate(newest=Max("version"))["newest"]
        if (newest or 0) != seen:
            raise Conflict(MEANWHILE)
        on = clock.today(Site.objects.get(pk=actor.site_id))
        mapping = {
            "code": IKDC_15,
            "version": seen + 1,
            "score": SCORE,
            "percentile": PERCENTILE,
            "entered_on": words.day(on),
            "source": source,
            "bands": _bands(values),
        }
        with once_each():
            row = _insert(actor, mapping)
        audit.write(
            actor=actor, act="enter_percentiles", subject="norm", subject_ids=[row.pk],
            note=str(row),
        )  # fmt: skip
        return reverse("published_sets")

    typed = [[*cell, str(value)] for cell, value in sorted(values.items())]
    body = {"act": "enter_percentiles", "seen": seen, "values": typed, "source": source}
    return acts.once(actor=actor, key=key, body=body, patient_id=None, do=do)


def _bands(values: Mapping[Cell, Decimal]) -> Sequence[Mapping[str, Any]]:
    return [
        {"value": format(value, "f"), "sex": sex, "from_age": lowest, "below_age": below}
        for (sex, lowest, below), value in sorted(values.items())
    ]


def _insert(actor: Actor, mapping: Mapping[str, Any]) -> NormVersion:
    try:
        norm_from(mapping, where="")
    except SeedError as error:
        raise Refused({"": f"This {str(error).rpartition(': ')[2]}."}) from error
    body = canonical_json(mapping)
    return NormVersion.objects.create(
        code=mapping["code"],
        version=mapping["version"],
        origin="clinic",
        body=body,
        sha256=fingerprint(body),
        created_at=clock.now(),
        created_by_id=actor.staff_id,
    )
