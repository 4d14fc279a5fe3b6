"""A caseload line as the cells of a table: values as they are kept, codes instead of words."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from outcomes.core.values import Result
from outcomes.core.wording import DECISION_OPEN
from outcomes.interchange.table import Cell
from outcomes.queries.caseload import Line

MEASURED = "measured"


def cells(*, line: Line, site: str, on: date) -> dict[str, Cell]:
    """The cells of one line on a day, by the name of their column."""
    weeks = None if line.index_date is None else (on - line.index_date).days // 7
    return {
        "as_of": on,
        "site": site,
        "record_number": line.record_number,
        "patient": line.patient,
        "knee": line.knee,
        "kind": line.kind,
        "care_state": line.care_state,
        "clinician": line.clinician,
        "graft": line.graft,
        "graft_from": line.graft_from,
        "index_date": line.index_date,
        "weeks_since_index": weeks if weeks is None or weeks >= 0 else None,
        "last_visit": line.last_visit,
        "protocol": line.protocol,
        "next_milestone": line.next_milestone,
        "criteria_recorded_as_met": line.criteria_met,
        "criteria_not_tested": line.criteria_untested,
        "criteria_out_of_date": line.criteria_out_of_date,
        "criteria_not_assessable": line.criteria_not_assessable,
        "criteria_in_all": line.criteria_all,
        "decision": DECISION_OPEN if line.next_milestone else "",
        "quadriceps_lsi": line.quadriceps_lsi,
        "quadriceps_tested_on": line.quadriceps_on,
        "quadriceps_counts_until": line.quadriceps_until,
        "quadriceps_result": result(
            lsi=line.quadriceps_lsi, until=line.quadriceps_until, why=line.quadriceps_why, on=on
        ),
        "hop_lsi": line.hop_lsi,
        "hop_tested_on": line.hop_on,
        "hop_counts_until": line.hop_until,
        "hop_result": result(lsi=line.hop_lsi, until=line.hop_until, why=line.hop_why, on=on),
        "reasons_to_look": line.looks,
        "first_reason_to_look": line.look_sentence,
        "rules_version": line.rules_version,
    }


def result(*, lsi: Decimal | None, until: date | None, why: str | None, on: date) -> str:
    """What became of a symmetry: measured, out_of_date, not_tested or not_assessable with why."""
    if lsi is None:
        return f"{Result.NOT_ASSESSABLE}: {why}" if why else Result.NOT_TESTED.value
    return Result.OUT_OF_DATE.value if until is not None and until < on else MEASURED
