"""Which episodes are to be moved to a protocol, and why."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final
from uuid import UUID

from django import forms
from django.http import QueryDict

from clinic.forms.base import ActForm
from outcomes.queries.protocol_moves import Movable

NOBODY: Final = "Tick at least one episode, or all of them."


AT_ONCE: Final = 10
"""Episodes whose difference is judged and shown in one answer."""


class _ReasonField(forms.CharField):
    """A reason that is asked for once the difference was shown."""

    needed = True


class MoveForm(ActForm):
    """Ticks and a reason; first the difference is shown, then they are moved.

    ``all`` ticks every episode that does not follow the protocol yet. The difference is shown for
    ``AT_ONCE`` of them at a time: those that wait are sent as ``later``, and what was not shown is
    not moved.
    """

    reason = _ReasonField(label="Why they are moved", max_length=200, required=False)

    def __init__(
        self, data: QueryDict | None = None, *, offered: Sequence[Movable], asked: UUID | None
    ) -> None:
        super().__init__(data)
        self.offered = [one for one in offered if not one.follows]
        self.asked = asked
        self.seen: dict[UUID, int] = {}
        self.waiting: dict[UUID, int] = {}

    @property
    def previewing(self) -> bool:
        """Whether the difference is to be shown, and nothing moved."""
        return any(button in self.data for button in ("preview", "all", "next"))

    @property
    def chosen(self) -> list[Movable]:
        """The next few of the episodes that were ticked, as they are now: to be judged."""
        waiting = [one for one in self.offered if one.uid in self.waiting]
        return waiting[:AT_ONCE]

    @property
    def shown_before(self) -> list[str]:
        """The ticks of those whose difference was shown already."""
        return [f"{uid}:{version}" for uid, version in self.seen.items()]

    @property
    def later(self) -> list[str]:
        """The ticks of those that wait after the next few."""
        waiting = [one for one in self.offered if one.uid in self.waiting]
        return [one.value for one in waiting[AT_ONCE:]]

    @property
    def so_far(self) -> int:
        """How many were shown, with those of this answer."""
        return len(self.seen) + len(self.chosen)

    @property
    def rows(self) -> list[tuple[Movable, bool]]:
        """Every episode that may be moved, and whether it is ticked."""
        ticked: set[UUID | None] = {*self.seen, *self.waiting} or {self.asked}
        return [(one, one.uid in ticked) for one in self.offered]

    def clean(self) -> dict[str, Any]:
        """Who was ticked, and the version of each that the page showed."""
        data: dict[str, Any] = super().clean() or {}
        ticked = dict(filter(None, map(_ticked, self._values("episode"))))
        if "all" in self.data:
            self.waiting = {one.uid: one.version for one in self.offered}
        elif "preview" in self.data:
            self.waiting = ticked
        else:
            self.seen = ticked
            self.waiting = dict(filter(None, map(_ticked, self._values("later"))))
        if not (self.waiting if self.previewing else self.seen):
            self.add_error(None, NOBODY)
        if not self.previewing and not data.get("reason", "").strip():
            self.add_error("reason", "Write why they are moved: it is kept with each episode.")
        return data

    def _values(self, name: str) -> list[str]:
        assert isinstance(self.data, QueryDict)  # noqa: S101  the posted form
        return self.data.getlist(name)

    @property
    def whole(self) -> int:
        """How many were ticked in all."""
        return self.so_far + len(self.later)


def _ticked(value: str) -> tuple[UUID, int] | None:
    """The episode and the version that a tick stands for; None for what is no tick of ours."""
    uid, _, version = value.partition(":")
    try:
        return UUID(uid), int(version)
    except ValueError:
        return None
