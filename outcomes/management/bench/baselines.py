"""What the product is compared with: bare views behind the same middleware. All of them are here.

They do what no page can do without and nothing more: no frame, no words, no judgement.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any, Final
from uuid import UUID

from django.db import transaction
from django.db.models import OuterRef, Subquery
from django.http import HttpResponse, HttpResponseRedirect
from django.template import engines
from django.urls import include, path

from clinic import audit, clock
from clinic import urls as addresses
from clinic.http import StaffRequest
from clinic.models.care import Episode, Visit
from clinic.models.intents import Intent
from clinic.models.people import Patient, RecordNumber
from outcomes.core.values import Limb
from outcomes.management.bench.samples import entries_of
from outcomes.models.outbox import WaitingSave
from outcomes.models.record import Reading, RedFlagCheck, VisitDraft
from outcomes.models.status import EpisodeStatus
from outcomes.queries.catalogue import measure_version_ids
from outcomes.services import status
from outcomes.services.signing import columns

CELLS: Final = (
    "patient__name", "number", "status__look_sentence", "status__index_date", "knee",
    "status__graft", "status__next_milestone", "status__criteria_met", "status__quadriceps_lsi",
    "status__hop_lsi", "status__last_visit", "responsible__full_name",
)  # fmt: skip
TABLE: Final = """<!doctype html><title>{{ title }}</title><table>
{% for row in rows %}<tr>{% for cell in row %}<td>{{ cell }}</td>{% endfor %}</tr>
{% endfor %}</table>"""


@cache
def _table() -> Any:
    return engines["django"].from_string(TABLE)


def _bare(title: str, rows: list[list[str]]) -> HttpResponse:
    return HttpResponse(_table().render({"title": title, "rows": rows}))


def caseload(request: StaffRequest) -> HttpResponse:
    """One query, one audit row, the same 50 rows."""
    number = RecordNumber.objects.filter(patient=OuterRef("patient"), site=OuterRef("site"))
    found = (
        Episode.objects.filter(site__in=request.sites)
        .annotate(number=Subquery(number.values("number")[:1]))
        .order_by("-status__look_rank", "patient__name_folded", "pk")
        .values_list("pk", *CELLS)[:50]
    )
    rows = [(pk, [str(cell) for cell in cells]) for pk, *cells in found]
    ids = [pk for pk, _ in rows]
    audit.write(actor=request.actor, act="bench", subject="episode", subject_ids=ids)
    return _bare("Caseload", [cells for _, cells in rows])


def patient(request: StaffRequest, uid: UUID) -> HttpResponse:
    """Two queries, the patient and every signed reading, and one audit row."""
    found = Patient.objects.get(uid=uid)
    readings = Reading.objects.filter(patient=found).order_by("date", "pk")
    rows = list(readings.values_list("date", "measure", "limb", "typed_text", "typed_unit"))
    audit.write(actor=request.actor, act="bench", subject="patient", subject_ids=[found.pk])
    return _bare(found.name, [[str(cell) for cell in cells] for cells in rows])


def echo(request: StaffRequest) -> HttpResponse:
    """A drawing of one line, whatever was typed."""
    return HttpResponse('<svg width="96" height="38"><path d="M0 19h96" stroke="#000"/></svg>')


STATUS: Final[dict[UUID, EpisodeStatus]] = {}
"""What signing keeps of the episode, by the visit that is to be signed."""


def sign(request: StaffRequest, uid: UUID) -> HttpResponse:
    """The rows that signing inserts, in one transaction, and nothing judged."""
    visit = Visit.objects.get(uid=uid)
    entries = entries_of(knee=Limb(request.POST["knee"]), share=int(request.POST["share"]))
    now = clock.now()
    with transaction.atomic():
        Reading.objects.bulk_create(
            Reading(
                visit=visit,
                patient_id=visit.patient_id,
                date=visit.date,
                measure_version_id=_versions()[entry.measure],
                measured_at=now,
                recorded_at=now,
                recorded_by_id=request.staff.pk,
                **columns(entry=entry),
            )
            for entry in entries
        )
        RedFlagCheck.objects.create(
            visit=visit, form="eight", answers={}, recorded_at=now, recorded_by_id=request.staff.pk
        )
        Intent.objects.create(
            staff_id=request.staff.pk, key=request.POST["key"], fingerprint="", created_at=now
        )
        EpisodeStatus.objects.bulk_create(
            [STATUS[uid]],
            update_conflicts=True,
            unique_fields=["episode"],
            update_fields=status.COLUMNS,
        )
        audit.write(actor=request.actor, act="bench", subject="visit", subject_ids=[visit.pk])
    return HttpResponseRedirect(f"/visits/{visit.uid}/")


def save(request: StaffRequest, uid: UUID) -> HttpResponse:
    """One text into the draft, with the key and the row that a late save leaves; no merge."""
    visit = Visit.objects.get(uid=uid)
    now, number, text = clock.now(), int(request.POST["n"]), request.POST["text"]
    with transaction.atomic():
        Intent.objects.create(
            staff_id=request.staff.pk, key=request.POST["key"], fingerprint="", created_at=now
        )
        draft = VisitDraft.objects.select_for_update().get(visit=visit)
        draft.fields["v:body_mass:none"] = {"text": text, "by": request.staff.pk}
        draft.version, draft.saved_at = draft.version + 1, now
        draft.save(update_fields=["fields", "version", "saved_at"])
        WaitingSave.objects.create(
            key=request.POST["key"],
            visit=visit,
            typed_by_id=request.staff.pk,
            sheet=request.POST["key"],
            row="body_mass",
            number=number,
            fate="kept",
            saved_on_device_at=now,
            received_at=now,
        )
    return HttpResponse("kept")


@cache
def _versions() -> Mapping[str, int]:
    return measure_version_ids()


handler400, handler403, handler404, handler500 = (
    addresses.handler400, addresses.handler403, addresses.handler404, addresses.handler500,
)  # fmt: skip
urlpatterns = [
    path("bench/caseload/", caseload),
    path("bench/patients/<uuid:uid>/", patient),
    path("bench/visits/<uuid:uid>/sign", sign),
    path("bench/visits/<uuid:uid>/save", save),
    path("bench/echo/", echo),
    path("", include("clinic.urls")),
]
