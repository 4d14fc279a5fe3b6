"""The ledger without a patient: which rows for which knees, and a sheet on which nothing stands."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import cached_property
from hashlib import sha256
from typing import Any, Final
from uuid import UUID

from django.core import signing

from clinic.models.care import Episode, Visit
from clinic.models.people import Patient
from clinic.models.places import Site
from outcomes.core.due import Due
from outcomes.core.values import EpisodeFacts, Event, Limb, Protocol, Reading
from outcomes.models.record import VisitDraft
from outcomes.queries.catalogue import InForce
from outcomes.queries.clashes import LateText
from outcomes.queries.visit import Knee, VisitSheet

NOBODY: Final = UUID(int=0)
"""Stands in addresses where the visit would stand."""
NO_DAY: Final = date(2000, 1, 1)
EARLY: Final = 0
LATER: Final = 52
_signer: Final = signing.Signer(salt="kneeledger.shell-2")


@dataclass(frozen=True, kw_only=True, slots=True)
class Shell:
    """Everything that two ledgers have in common which are the same without their patients.

    ``last`` are the measures whose rows stand behind those of the week. ``short``: the short four
    red-flag questions are asked. ``mark`` names the versions of the measures, so that another
    version has another address.
    """

    rows: tuple[str, ...]
    last: tuple[str, ...]
    knees: tuple[Limb, ...]
    short: bool
    mark: str

    @property
    def name(self) -> str:
        """The shell in an address; only this server can write one."""
        parts = [self.rows, self.last, [knee.value for knee in self.knees], self.short, self.mark]
        return _signer.sign_object(parts, compress=True)


def shell_named(name: str) -> Shell:
    """Read a name. Raises ``django.core.signing.BadSignature`` for one not of this server."""
    rows, last, knees, short, mark = _signer.unsign_object(name)
    return Shell(
        rows=tuple(rows),
        last=tuple(last),
        knees=tuple(Limb(knee) for knee in knees),
        short=short,
        mark=mark,
    )


def mark_of(*, rules: InForce) -> str:
    """A short fingerprint of the measures in force and of what is switched."""
    found = [sorted(rules.measure_ids.items()), sorted(rules.switches.items())]
    return sha256(repr(found).encode()).hexdigest()[:12]


class EmptySheet(VisitSheet):
    """A sheet on which nothing of a patient stands: no history, no draft, no limits, no names."""

    def __init__(self, shell: Shell) -> None:
        nobody = Patient(birth_date=NO_DAY)
        super().__init__(Visit(uid=NOBODY, date=NO_DAY, patient=nobody, site=Site(zone="UTC")))
        self.shell = shell

    @cached_property
    def draft(self) -> VisitDraft | None:
        """Nothing is typed."""
        return None

    @cached_property
    def late(self) -> tuple[LateText, ...]:
        """Nothing waits."""
        return ()

    @cached_property
    def history(self) -> list[Reading]:
        """Nothing was measured."""
        return []

    @cached_property
    def events(self) -> dict[int, list[Event]]:
        """Nothing happened."""
        return {}

    @cached_property
    def weeks(self) -> tuple[int | None, ...]:
        """A week of the red-flag form that is asked."""
        return (LATER if self.shell.short else EARLY,)

    @cached_property
    def protocols(self) -> tuple[tuple[Protocol, int | None], ...]:
        """No protocol is followed."""
        return ()

    @property
    def asked(self) -> frozenset[str]:
        """The rows of the shell."""
        return frozenset(self.shell.rows)

    @property
    def last(self) -> tuple[str, ...]:
        """Those that stand behind the others."""
        return self.shell.last

    @cached_property
    def also(self) -> tuple[Due, ...]:
        """Why a row is asked for is the patient's own."""
        return ()

    @cached_property
    def holds(self) -> dict[Limb, dict[str, tuple[str, ...]]]:
        """No limit is known."""
        return {}

    @cached_property
    def knees(self) -> tuple[Knee, ...]:
        """The followed knees, without anything that is known of them."""
        return tuple(_knee(limb) for limb in self.shell.knees)


def _knee(limb: Limb) -> Knee:
    unknown: dict[str, Any] = dict.fromkeys(
        ("kind", "graft", "graft_from", "other_limb", "sex", "goal"), ""
    )
    return Knee(
        episode=Episode(knee=limb.value),
        facts=EpisodeFacts(knee=limb, index_date=None, birth_date=NO_DAY, **unknown),
        limb=limb,
        surgery=None,
        week=None,
        week_words="",
    )
