"""The shipped measures and the stored form of any version of one."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator, Mapping
from hashlib import sha256
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Any

from outcomes.catalogue.fields import SeedError
from outcomes.catalogue.measure_checks import check_inputs
from outcomes.catalogue.measures import measure_from
from outcomes.core.values import Measure


def read_seeds(*, folder: Traversable) -> Iterator[tuple[str, dict[str, Any]]]:
    """File name and content of every TOML file of a folder, in the order of their names."""
    for entry in sorted(folder.iterdir(), key=lambda found: found.name):
        if entry.name.endswith(".toml"):
            try:
                yield entry.name, tomllib.loads(entry.read_text(encoding="utf-8"))
            except tomllib.TOMLDecodeError as error:
                raise SeedError(f"{entry.name}: {error}") from error


def measure_seeds() -> Iterator[tuple[str, dict[str, Any]]]:
    """File name and mapping of every shipped measure."""
    return read_seeds(folder=files("outcomes.catalogue") / "shipped")


def load_catalogue() -> dict[str, Measure]:
    """All shipped measures by code. Raises ``SeedError`` naming file and key."""
    catalogue: dict[str, Measure] = {}
    for name, mapping in measure_seeds():
        measure = measure_from(mapping, where=name)
        if measure.code in catalogue:
            raise SeedError(f"{name}: code: {measure.code!r} is there already")
        if name != f"{measure.code}.toml":
            raise SeedError(f"{name}: code: the file is named after its code")
        catalogue[measure.code] = measure
    for measure in catalogue.values():
        check_inputs(measure=measure, catalogue=catalogue)
    return catalogue


def canonical_json(mapping: Mapping[str, Any]) -> str:
    """The one stored text of a seed: sorted keys, no spaces, letters as they are."""
    return json.dumps(mapping, sort_keys=True, ensure_ascii=False, separators=(",", ":"))


def fingerprint(text: str) -> str:
    """SHA-256 of a stored text, in hexadecimal."""
    return sha256(text.encode()).hexdigest()
