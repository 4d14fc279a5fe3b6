"""Shipped versions are inserted once and never changed under an old version."""

import json
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from outcomes.catalogue.instruments import instrument_seeds, load_instruments
from outcomes.catalogue.seeds import canonical_json, fingerprint, load_catalogue, measure_seeds
from outcomes.models.versions import (
    InstrumentVersion,
    MeasureVersion,
    ProgressionVersion,
    ProtocolVersion,
)
from outcomes.protocols.progression_seeds import progression_seeds
from outcomes.protocols.seeds import load_protocols, protocol_seeds
from outcomes.queries.catalogue import (
    catalogue,
    in_force,
    measure_version_ids,
    protocol,
)
from outcomes.services import seeds
from tests.cast import MOMENT

pytestmark = pytest.mark.django_db


def version(mapping: dict[str, Any], **more: object) -> MeasureVersion:
    body = canonical_json(mapping)
    return MeasureVersion.objects.create(
        code=mapping["code"], version=mapping["version"], body=body, sha256=fingerprint(body),
        created_at=MOMENT, **more,
    )  # fmt: skip


def test_migrate_has_put_every_shipped_measure_into_its_table():
    kept = {row.code: row for row in MeasureVersion.objects.all()}
    assert kept.keys() == load_catalogue().keys()
    for _, mapping in measure_seeds():
        assert json.loads(kept[mapping["code"]].body) == mapping
        assert kept[mapping["code"]].sha256 == fingerprint(canonical_json(mapping))


def test_migrate_has_put_every_shipped_protocol_into_its_table():
    kept = {str(row): row for row in ProtocolVersion.objects.all()}
    assert kept.keys() == load_protocols(load_catalogue()).keys()
    for _, mapping in protocol_seeds():
        assert json.loads(kept[f"{mapping['code']}@{mapping['version']}"].body) == mapping


def test_seeding_again_changes_nothing_and_asks_little():
    before = list(MeasureVersion.objects.values_list("id", "sha256"))
    with CaptureQueriesContext(
        connection,
    ) as asked:
        seeds.seed_versions()
    assert list(MeasureVersion.objects.values_list("id", "sha256")) == before
    assert not [q for q in asked if "INSERT" in q["sql"]]


def test_a_changed_text_under_an_old_version_is_refused_and_nothing_is_inserted(monkeypatch):
    name, mapping = "body_mass.toml", dict(measure_seeds())["body_mass.toml"]
    new = {**mapping, "code": "brand_new"}
    changed = {**mapping, "label": "Another label"}
    monkeypatch.setattr(seeds, "measure_seeds", lambda: [("new.toml", new), (name, changed)])
    with pytest.raises(seeds.ChangedVersion, match=r"body_mass.toml: body_mass@2 .* version 3"):
        seeds.seed_versions()
    assert not MeasureVersion.objects.filter(code="brand_new").exists()


def test_a_raised_version_is_inserted_beside_the_old_one_and_is_the_one_in_force(monkeypatch):
    mapping = dict(measure_seeds())["body_mass.toml"]
    raised = {**mapping, "version": 3, "label": "Body mass, once more"}
    monkeypatch.setattr(seeds, "measure_seeds", lambda: [("body_mass.toml", raised)])
    seeds.seed_versions()
    rows = MeasureVersion.objects.filter(code="body_mass").order_by("version")
    assert [row.version for row in rows] == [2, 3]
    assert catalogue()["body_mass"].label == "Body mass, once more"
    assert measure_version_ids()["body_mass"] == rows[1].pk


def test_the_catalogue_is_what_is_shipped_and_costs_one_statement(django_assert_num_queries):
    assert catalogue() == load_catalogue()
    with django_assert_num_queries(1):
        catalogue()


def test_a_protocol_is_what_is_shipped_with_the_id_of_its_row():
    shipped = load_protocols(load_catalogue())
    assert {code: protocol(code) for code in in_force().protocols} == shipped
    for version in (1, 2):
        row = ProtocolVersion.objects.get(code="starter", version=version)
        assert in_force().protocol_ids[f"starter@{version}"] == row.pk
    with pytest.raises(KeyError, match="starter@9"):
        protocol("starter@9")


def test_the_version_of_the_rules_moves_with_a_measure_and_with_nothing_else():
    before = in_force().rules["starter@2"]
    assert set(in_force().rules) == {"composite@1", "starter@1", "starter@2", "without_surgery@1"}
    assert in_force().rules["starter@1"] != before
    _, mapping = next(iter(measure_seeds()))
    version({**mapping, "version": 2})
    assert in_force().rules["starter@2"] != before


def test_a_version_of_the_clinic_that_another_process_adds_is_seen_at_once():
    assert "own_wall_sit" not in catalogue()
    _, mapping = next(iter(measure_seeds()))
    version({**mapping, "code": "own_wall_sit", "label": "Wall sit"}, origin="clinic")
    assert catalogue()["own_wall_sit"].label == "Wall sit"


def test_questionnaires_are_what_is_shipped_with_the_ids_of_their_rows():
    kept = {row.code: row for row in InstrumentVersion.objects.all()}
    for _, mapping in instrument_seeds():
        assert kept[mapping["code"]].sha256 == fingerprint(canonical_json(mapping))
    assert in_force().instruments == load_instruments()
    assert in_force().instrument_ids == {code: row.pk for code, row in kept.items()}


def test_a_raised_questionnaire_is_in_force_and_leaves_the_rules_of_judging_alone(monkeypatch):
    before, mapping = in_force().rules, dict(instrument_seeds())["koos.toml"]
    raised = {**mapping, "version": 2, "label": "KOOS, once more"}
    monkeypatch.setattr(seeds, "instrument_seeds", lambda: [("koos.toml", raised)])
    seeds.seed_versions()
    row = InstrumentVersion.objects.get(code="koos", version=2)
    assert in_force().instruments["koos"].label == "KOOS, once more"
    assert in_force().instrument_ids["koos"] == row.pk
    assert in_force().rules == before


def test_progressions_are_kept_and_a_changed_text_under_an_old_version_is_refused(monkeypatch):
    kept = {row.code: (row.version, row.body, row.sha256) for row in _progressions()}
    assert kept == {
        mapping["code"]: (mapping["version"], text, fingerprint(text))
        for _, mapping in progression_seeds()
        for text in [canonical_json(mapping)]
    }
    name, mapping = next(iter(progression_seeds()))
    new, changed = {**mapping, "version": 2}, {**mapping, "aim": "another aim"}
    monkeypatch.setattr(seeds, "progression_seeds", lambda: [(name, new), (name, changed)])
    with pytest.raises(seeds.ChangedVersion, match=rf"{name}: {mapping['code']}@1 .* version 2"):
        seeds.seed_versions()
    assert {str(row) for row in _progressions()} == {f"{code}@1" for code in kept}
    monkeypatch.setattr(seeds, "progression_seeds", lambda: [(name, new)])
    seeds.seed_versions()
    assert {str(row) for row in _progressions()} == {
        *(f"{code}@1" for code in kept), f"{mapping['code']}@2",
    }  # fmt: skip


def _progressions():
    return ProgressionVersion.objects.order_by("code", "version")
