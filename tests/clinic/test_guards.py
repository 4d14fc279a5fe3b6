"""Insert-only tables on both engines: nothing is changed, and nothing deleted without a pass."""

from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.db import DatabaseError, connection, transaction
from django.db.models import Model

from clinic.models.audit import AuditEntry
from clinic.models.care import EpisodeChange, Restriction
from clinic.models.guards import GUARDS, install_guards, remove_guards
from clinic.models.intents import ErasurePass
from outcomes.models.agreement import LineRound
from outcomes.models.events import Event
from outcomes.models.letters import Document, Letter
from outcomes.models.pictures import PictureAgreement, PictureErasure
from outcomes.models.questionnaires import CompletedQuestionnaire
from outcomes.models.record import Decision, LookAnswer, RedFlagCheck
from outcomes.models.versions import (
    InstrumentVersion,
    MeasureVersion,
    NormVersion,
    ProgressionVersion,
    ProtocolVersion,
)
from tests.cast import MOMENT, TODAY, Cast
from tests.factories.agreement import AgreementFactory, FigureSetFactory, finished_round
from tests.factories.outcomes import PictureFactory, PlanStepFactory, ReadingFactory, signed_visit


def _letter(cast: Cast, **state: Any) -> Letter:
    return Letter.objects.create(
        episode=cast.episode,
        recipient=cast.surgeon,
        bottom_line="Extension 6° short.",
        drafted_at=MOMENT,
        drafted_by=cast.clinician,
        **state,
    )


def _document() -> Document:
    return Document.objects.create(content=b"%PDF", sha256="0" * 64, created_at=MOMENT)


def _signed(cast: Cast) -> Letter:
    by = {"signed_by": cast.clinician, "signed_at": MOMENT, "document": _document()}
    return _letter(cast, state="signed", **by)


def _visit(cast: Cast) -> Any:
    return signed_visit(patient=cast.ines, site=cast.harbour, by=cast.clinician, on=TODAY)


def _instrument() -> InstrumentVersion:
    return InstrumentVersion.objects.create(
        code="own_form", version=1, origin="clinic", body="{}", sha256="0" * 64, created_at=MOMENT
    )


def _questionnaire(cast: Cast) -> CompletedQuestionnaire:
    visit = _visit(cast)
    return CompletedQuestionnaire.objects.create(
        visit=visit, patient=cast.ines, date=visit.date, instrument_version=_instrument(),
        instrument="own_form", limb="right", recorded_at=MOMENT, recorded_by=cast.clinician,
    )  # fmt: skip


ROWS: dict[str, Callable[[Cast], Model]] = {
    "clinic_auditentry": lambda cast: AuditEntry.objects.create(
        at=MOMENT, staff=cast.lead, request_id=cast.ines.uid, act="see_record", subject="patient"
    ),
    "clinic_restriction": lambda cast: Restriction.objects.create(
        episode=cast.episode,
        kind="range",
        limit="no bend beyond 90°",
        since=TODAY,
        origin="surgeon",
        told_by="operation note",
        recorded_by=cast.clinician,
        recorded_at=MOMENT,
    ),
    "clinic_episodechange": lambda cast: EpisodeChange.objects.create(
        episode=cast.episode,
        part="kind",
        before="waiting",
        after="reconstruction",
        on=TODAY,
        made_by=cast.clinician,
        made_at=MOMENT,
    ),
    "outcomes_measureversion": lambda cast: MeasureVersion.objects.latest("pk"),
    "outcomes_protocolversion": lambda cast: ProtocolVersion.objects.latest("pk"),
    "outcomes_instrumentversion": lambda cast: _instrument(),
    "outcomes_progressionversion": lambda cast: ProgressionVersion.objects.latest("pk"),
    "outcomes_normversion": lambda cast: NormVersion.objects.create(
        code="own_ikdc_total_p15",
        version=1,
        origin="clinic",
        body="{}",
        sha256="0" * 64,
        created_at=MOMENT,
        created_by=cast.lead,
    ),
    "outcomes_completedquestionnaire": _questionnaire,
    "outcomes_event": lambda cast: Event.objects.create(
        episode=cast.episode,
        event="giving_way",
        limb="right",
        date=TODAY,
        recorded_at=MOMENT,
        recorded_by=cast.clinician,
    ),
    "outcomes_reading": lambda cast: ReadingFactory(visit=_visit(cast)),
    "outcomes_redflagcheck": lambda cast: RedFlagCheck.objects.create(
        visit=_visit(cast), form="eight", recorded_at=MOMENT, recorded_by=cast.clinician
    ),
    "outcomes_lookanswer": lambda cast: LookAnswer.objects.create(
        episode=cast.episode,
        code="extension",
        size=6,
        plan="prone hangs",
        look_again_on=TODAY,
        answered_at=MOMENT,
        answered_by=cast.clinician,
    ),
    "outcomes_decision": lambda cast: Decision.objects.create(
        episode=cast.episode,
        milestone="running",
        protocol_version=ProtocolVersion.objects.latest("pk"),
        agreed="run and walk intervals",
        evidence_sha256="0" * 64,
        decided_at=MOMENT,
        decided_by=cast.clinician,
    ),
    "outcomes_planstep": lambda cast: PlanStepFactory(episode=cast.episode),
    "outcomes_figureset": lambda cast: FigureSetFactory(),
    "outcomes_lineround": lambda cast: LineRound.objects.create(
        figure_set=FigureSetFactory(), staff=cast.clinician, order=[0], started_at=MOMENT
    ),
    "outcomes_linegrades": lambda cast: finished_round(staff=cast.clinician).given,
    "outcomes_agreement": lambda cast: AgreementFactory(
        visit=_visit(cast), recorded_by=cast.colleague
    ),
    "outcomes_document": lambda cast: _document(),
    "outcomes_picture": lambda cast: PictureFactory(visit=_visit(cast)),
    "outcomes_pictureagreement": lambda cast: PictureAgreement.objects.create(
        patient=cast.ines,
        kind="given",
        agreed_by="patient",
        recorded_at=MOMENT,
        recorded_by=cast.clinician,
    ),
    "outcomes_pictureerasure": lambda cast: PictureErasure.objects.create(
        uid=uuid4(), visit=_visit(cast), limb="right", view="back", reason="another person is seen",
        erased_at=MOMENT, erased_by=cast.clinician,
    ),
    "outcomes_letter": _signed,
}  # fmt: skip


@pytest.fixture(params=[guard.table for guard in GUARDS])
def row(request: pytest.FixtureRequest, cast: Cast) -> Model:
    """A row of each guarded table, the newest of its table."""
    made = ROWS[request.param](cast)
    assert made._meta.db_table == request.param
    return made


def _refused(statement: str, *values: int) -> bool:
    said = ""
    try:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement, values)
    except DatabaseError as error:
        said = str(error)
    return said.startswith("this row is kept as it is")


def _update(row: Model) -> bool:
    column = row._meta.concrete_fields[-1].column
    return _refused(f"UPDATE {row._meta.db_table} SET {column} = {column} WHERE id = %s", row.pk)


def _delete(row: Model) -> bool:
    return _refused(f"DELETE FROM {row._meta.db_table} WHERE id = %s", row.pk)


def test_a_guarded_row_is_neither_changed_nor_deleted(row: Model) -> None:
    assert _update(row)
    assert _delete(row)
    assert type(row)._default_manager.filter(pk=row.pk).count() == 1


def test_a_pass_lets_a_row_go_and_never_lets_it_change(row: Model) -> None:
    ErasurePass.objects.create(granted_at=MOMENT)
    assert _update(row)
    assert not _delete(row)
    assert not type(row)._default_manager.filter(pk=row.pk).exists()


def test_without_the_pass_the_guard_is_back(cast: Cast) -> None:
    given = ErasurePass.objects.create(granted_at=MOMENT)
    given.delete()
    assert _delete(ROWS["outcomes_document"](cast))


def test_a_draft_letter_changes_until_it_is_signed(cast: Cast) -> None:
    draft = _letter(cast, state="draft")
    assert not _update(draft)
    for name, value in {
        "state": "signed",
        "signed_by": cast.clinician,
        "signed_at": MOMENT,
    }.items():
        setattr(draft, name, value)
    draft.document = _document()
    draft.save()
    assert _update(draft)
    assert _delete(draft)


def test_other_tables_are_not_guarded(cast: Cast) -> None:
    assert not _update(cast.ines)


@pytest.mark.postgresql
@pytest.mark.parametrize("table", [guard.table for guard in GUARDS])
def test_no_table_is_emptied_at_once(cast: Cast, table: str) -> None:
    ErasurePass.objects.create(granted_at=MOMENT)
    assert _refused(f"TRUNCATE {table} CASCADE")


def test_guards_can_be_taken_away_and_renewed_for_a_migration(cast: Cast) -> None:
    document = _document()
    with transaction.atomic():
        remove_guards(connection)
        assert not _update(document)
        install_guards(connection)
        install_guards(connection)
    assert _update(document)
