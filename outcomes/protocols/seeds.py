"""The shipped protocols."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from importlib.resources import files
from typing import Any

from outcomes.catalogue.fields import SeedError
from outcomes.catalogue.seeds import read_seeds
from outcomes.core.values import Measure, Protocol
from outcomes.protocols.reading import protocol_from


def protocol_seeds() -> Iterator[tuple[str, dict[str, Any]]]:
    """File name and mapping of every shipped protocol, with what its visits ask for by week.

    The sets of a protocol stand in a file of the same name beside it: they grow with the catalogue.
    """
    room = files("outcomes.protocols")
    asked = dict(read_seeds(folder=room / "asked"))
    for name, mapping in read_seeds(folder=room / "shipped"):
        yield name, {**mapping, **asked.get(name, {})}


def load_protocols(catalogue: Mapping[str, Measure]) -> dict[str, Protocol]:
    """All shipped protocols by code and version (``starter@1``), checked against the catalogue.

    Raises ``SeedError`` naming file and key.
    """
    protocols: dict[str, Protocol] = {}
    for name, mapping in protocol_seeds():
        protocol = protocol_from(mapping, catalogue, where=name)
        if name != f"{protocol.code.replace('@', '-')}.toml":
            raise SeedError(f"{name}: code: the file is named after its code and version")
        protocols[protocol.code] = protocol
    return protocols
