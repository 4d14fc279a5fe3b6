"""The lead copies a protocol, edits it field by field, and publishes a version that never changes."""

import json
import re
from uuid import uuid4

import pytest
from django.db import DatabaseError, transaction

from clinic.models.audit import AuditEntry
from clinic.models.people import Patient
from outcomes.catalogue.seeds import canonical_json, fingerprint
from outcomes.models.versions import ProtocolDraft, ProtocolVersion
from outcomes.protocols.seeds import protocol_seeds
from outcomes.queries.catalogue import in_force
from tests.outcomes.own_protocol import CODE, DRAFT, copied, edited, own_version, published, sent
from tests.web import signed_in, words_of

STARTER = dict(protocol_seeds())["starter-2.toml"]
QUADRICEPS = (
    "This clinic’s setting, was 70 % by "
)


def criterion(body, milestone, code):
    rows = next(one for one in body["milestones"] if one["code"] == milestone)["criteria"]
    return next(one for one in rows if one["code"] == code)


def codes(body, milestone):
    return [one["code"] for one in _milestone(body, milestone)["criteria"]]


def _milestone(body, code):
    return next(one for one in body["milestones"] if one["code"] == code)


def test_a_copy_is_a_draft_and_nothing_is_judged_by_it(cast):
    answer = copied(signed_in(cast.lead))
    assert (answer.status_code, answer["Location"]) == (302, DRAFT)
    row = ProtocolDraft.objects.get()
    assert (row.code, row.base, row.version, row.author) == (CODE, "starter@2", 1, cast.lead)
    assert row.body == {**STARTER, "code": CODE, "version": 1, "label": "Harbour"}
    assert CODE not in {code.partition("@")[0] for code in in_force().protocols}


def test_copy_edit_publish_by_the_pages_and_the_row_holds_exactly_what_was_typed(cast):
    client = signed_in(cast.lead)
    copied(client)
    answer = edited(client, "running", quadriceps__value="60,5", gate="14")
    assert (answer.status_code, answer["Location"]) == (302, DRAFT)
    assert "“Quadriceps symmetry at least 60.5 %”: asks at least 60.5 %, was at least 70 %." in (
        words_of(client.get(DRAFT))
    )
    answer = published(client, "A lower threshold, two weeks later.")
    assert answer["Location"] == f"/protocols/{CODE}-1/"
    row = ProtocolVersion.objects.get(code=CODE)
    wanted = json.loads(json.dumps({**STARTER, "code": CODE, "version": 1, "label": "Harbour"}))
    changed, old = criterion(wanted, "running", "quadriceps"), criterion(STARTER, "running", "quadriceps")
    changed["threshold"]["value"] = "60.5"
    changed["label"] = "Quadriceps symmetry at least 60.5 %"
    changed["sources"] = [
        {
            "text": f"This clinic’s setting, was 70 % by {_lines(old['sources'])}",
            "mark": "clinic_setting",
        }
    ]
    gate = _milestone(wanted, "running")["gate"]
    gate["sources"] = [
        {
            "text": f"This clinic’s setting, was week 12 by {_lines(gate['sources'])}",
            "mark": "clinic_setting",
        }
    ]
    gate["weeks"] = 14
    assert json.loads(row.body) == wanted
    assert (row.body, row.sha256) == (canonical_json(wanted), fingerprint(canonical_json(wanted)))
    assert (row.version, row.origin, row.created_by, row.note) == (
        1, "clinic", cast.lead, "A lower threshold, two weeks later.",
    )  # fmt: skip
    assert ProtocolDraft.objects.count() == 0
    acts = AuditEntry.objects.filter(outcome="done", subject__startswith="protocol")
    assert [act for act in acts.order_by("pk").values_list("act", flat=True) if "protocol" in act] == [
        "copy_protocol", "edit_protocol", "publish_protocol",
    ]  # fmt: skip


def _lines(sources):
    words = {"seen": "read in the source", "clinic_setting": "this clinic's setting"}
    return "; ".join(
        one["text"]
        if one["text"].endswith("setting of this house")
        else f"{one['text']}: {words[one['mark']]}" + (f" (doi {one['doi']})" if "doi" in one else "")
        for one in sources
    )
