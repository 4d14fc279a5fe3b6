"""How proposals were answered: counts by site and progression, and why some were declined."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Count

from clinic.models.places import Site
from outcomes.models.plans import ANSWERED, PlanStep
from outcomes.queries.plan import REASON, progressions


@dataclass(frozen=True, kw_only=True, slots=True)
class AnsweredLine:
    """One progression at one site. ``reasons``: how often each reason to decline was given."""

    label: str
    answered: int
    accepted: int
    changed: int
    declined: int
    reasons: Sequence[str]

    @property
    def share(self) -> str:
        """How many of the answered proposals were declined."""
        return f"{self.declined} of {self.answered}"


@dataclass(frozen=True, kw_only=True, slots=True)
class AnsweredPlace:
    """One site with its progressions, all of them last; empty where nothing was answered."""

    name: str
    proposes: bool
    lines: Sequence[AnsweredLine]


def answered_proposals(
    *, sites: Sequence[Site], since: date, until: date
) -> Sequence[AnsweredPlace]:
    """What was answered at these sites from one day to another, both included. One statement."""
    rows = (
        PlanStep.objects.filter(
            episode__site__in=sites, answer__in=ANSWERED, answered_on__range=(since, until)
        )
        .order_by()
        .values_list("episode__site_id", "progression", "answer", "decline_reason")
        .annotate(n=Count("pk"))
    )
    found: dict[int, dict[str, Counter[str]]] = {site.pk: {} for site in sites}
    for site_id, code, answer, reason, n in rows:
        counts = found[site_id].setdefault(code, Counter())
        counts[answer] += n
        if reason:
            counts[f"declined:{reason}"] += n
    return [_place(site, found[site.pk]) for site in sites]


def _place(site: Site, found: dict[str, Counter[str]]) -> AnsweredPlace:
    lines = [_line(one.label, found[code]) for code, one in progressions().items() if code in found]
    if len(lines) > 1:
        lines.append(_line("All together", sum(found.values(), Counter())))
    return AnsweredPlace(name=site.name, proposes=site.proposals, lines=lines)


def _line(label: str, counts: Counter[str]) -> AnsweredLine:
    return AnsweredLine(
        label=label,
        answered=sum(counts[answer] for answer in ANSWERED),
        accepted=counts["accepted"],
        changed=counts["changed"],
        declined=counts["declined"],
        reasons=[
            f"{said}: {n}" for code, said in REASON.items() if (n := counts[f"declined:{code}"])
        ],
    )
