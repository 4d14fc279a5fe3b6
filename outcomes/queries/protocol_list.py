"""The protocols as a list: every version that is kept, who made it, how many follow it; drafts."""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any, Final

from django.db.models import Count
from django.utils.text import slugify

from clinic import words
from clinic.models.care import OPEN_CARE_STATES, Episode
from clinic.models.places import Site
from outcomes.core.measures import OWN
from outcomes.models.versions import ProtocolDraft, ProtocolVersion
from outcomes.queries.catalogue import DEFAULT, InForce

LONGEST: Final = 26
"""Letters of a code after ``own_``: an episode keeps it with its version."""


@dataclass(frozen=True, kw_only=True, slots=True)
class ListedProtocol:
    """One version of the list. ``follow`` counts open episodes; ``note`` says what changed."""

    ident: int
    code: str
    version: int
    label: str
    own: bool
    published: str
    note: str
    follow: int

    @property
    def name(self) -> str:
        """Code and version, as an episode keeps them."""
        return f"{self.code}@{self.version}"


@dataclass(frozen=True, kw_only=True, slots=True)
class ListedDraft:
    """A draft that somebody has begun."""

    code: str
    label: str
    base: str
    by: str


@dataclass(frozen=True, kw_only=True, slots=True)
class NewAt:
    """What the new episodes of a site follow. ``seen`` is what the site itself chose."""

    code: str
    name: str
    protocol: str
    seen: str


def protocol_list(*, rules: InForce, zone: str) -> list[ListedProtocol]:
    """Every version kept, shipped ones first, the newest of each first. Two statements."""
    open_ones = Episode.objects.filter(care_state__in=OPEN_CARE_STATES).order_by()
    follow = dict(open_ones.values_list("protocol").annotate(Count("pk")))
    rows = ProtocolVersion.objects.order_by("-origin", "code", "-version", "pk").values(
        "pk", "code", "version", "origin", "created_at", "created_by__full_name", "note"
    )
    return [_listed(row, rules=rules, follow=follow, zone=zone) for row in rows]


def _listed(
    row: Mapping[str, Any], *, rules: InForce, follow: Mapping[str, int], zone: str
) -> ListedProtocol:
    name, own = f"{row['code']}@{row['version']}", row["origin"] == "clinic"
    by, at = row["created_by__full_name"], words.moment(row["created_at"], zone=zone)
    return ListedProtocol(
        ident=row["pk"],
        code=row["code"],
        version=row["version"],
        label=rules.protocols[name].label,
        own=own,
        published=f"{by}, {at}" if own else "",
        note=row["note"],
        follow=follow.get(name, 0),
    )


def draft_list() -> list[ListedDraft]:
    """Every draft by code. One statement."""
    rows = ProtocolDraft.objects.select_related("author").order_by("code")
    return [
        ListedDraft(code=row.code, label=row.body["label"], base=row.base, by=row.author.full_name)
        for row in rows
    ]


def new_at(*, site_ids: Collection[int]) -> list[NewAt]:
    """What new episodes follow at each of the sites, by name. One statement."""
    rows = Site.objects.filter(pk__in=site_ids).order_by("name", "pk")
    return [
        NewAt(code=row.code, name=row.name, protocol=row.protocol or DEFAULT, seen=row.protocol)
        for row in rows
    ]


def body_of(*, code: str) -> dict[str, Any] | None:
    """The mapping of a version like ``composite@1``, None for one that is not kept."""
    name, _, version = code.partition("@")
    row = ProtocolVersion.objects.filter(code=name, version=int(version)).first()
    found: dict[str, Any] | None = json.loads(row.body) if row else None
    return found


def draft_of(*, code: str) -> ProtocolDraft | None:
    """The draft with a code."""
    return ProtocolDraft.objects.select_related("author").filter(code=code).first()


def code_for(*, label: str) -> str:
    """The code that a name gives.

    >>> code_for(label="Lantern Quay, adults"), code_for(label="第")
    ('own_lantern_quay_adults', 'own_protocol')
    """
    return OWN + (slugify(label).replace("-", "_")[:LONGEST].strip("_") or "protocol")
