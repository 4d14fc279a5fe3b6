"""The shipped protocols, and the published sets of criteria beside them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from importlib.resources import files
from typing import Any

from outcomes.catalogue.fields import SeedError
from outcomes.catalogue.seeds import read_seeds
from outcomes.core.values import Measure, Protocol
from outcomes.protocols.reading import battery_from, protocol_from


def protocol_seeds() -> Iterator[tuple[str, dict[str, Any]]]:
    """File name and mapping of every shipped protocol, with what its visits ask for by week.

    The sets of a protocol stand in a file of the same name beside it: they grow with the catalogue.
    The milestones of a long one stand in a folder of that name, one file each, in order.
    """
    room = files("outcomes.protocols")
    asked = dict(read_seeds(folder=room / "asked"))
    for name, mapping in read_seeds(folder=room / "shipped"):
        yield name, {**mapping, **_milestones(name), **asked.get(name, {})}


def _milestones(name: str) -> dict[str, Any]:
    folder = files("outcomes.protocols") / "milestones" / name.removesuffix(".toml")
    if not folder.is_dir():
        return {}
    return {"milestones": [mapping for _, mapping in read_seeds(folder=folder)]}


def load_protocols(catalogue: Mapping[str, Measure]) -> dict[str, Protocol]:
    """All shipped protocols by code and version (``starter@1``), checked against the catalogue.

    Raises ``SeedError`` naming file and key.
    """
    protocols: dict[str, Protocol] = {}
    for name, mapping in protocol_seeds():
        protocol = protocol_from(mapping, catalogue, where=name)
        _check_name(name, protocol)
        protocols[protocol.code] = protocol
    return protocols


def load_batteries(catalogue: Mapping[str, Measure]) -> dict[str, Protocol]:
    """All published sets of criteria by code and version (``grindem_2016@1``), one milestone each.

    Raises ``SeedError`` naming file and key.
    """
    batteries: dict[str, Protocol] = {}
    for name, mapping in read_seeds(folder=files("outcomes.protocols") / "batteries"):
        battery = battery_from(mapping, catalogue, where=name)
        _check_name(name, battery)
        batteries[battery.code] = battery
    return batteries


def _check_name(name: str, protocol: Protocol) -> None:
    if name != f"{protocol.code.replace('@', '-')}.toml":
        raise SeedError(f"{name}: code: the file is named after its code and version")
