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


class _ReasonField(forms.CharField):
    """A reason that is asked for once the difference was shown."""

    needed = True


class MoveForm(ActForm):
    """Ticks and a reason; first the difference is shown, then they are moved.

    ``all`` ticks every episode that does not follow the protocol yet.
    """

    reason = _ReasonField(label="Why they are moved", max_length=200, required=False)

    def __init__(
        self, data: QueryDict | None = None, *, offered: Sequence[Movable], asked: UUID | None
    ) -> None:
        super().__init__(data)
        self.offered = [one for one in offered if not one.follows]
        self.asked = asked
        self.seen: dict[UUID, int] = {}

    @property
    def previewing(self) -> bool:
        """Whether the difference is to be shown, and nothing moved."""
        return "preview" in self.data or "all" in self.data

    @property
    def chosen(self) -> list[Movable]:
        """The episodes that were ticked, as they are now."""
        return [one for one in self.offered if one.uid in self.seen]

    @property
    def rows(self) -> list[tuple[Movable, bool]]:
        """Every episode that may be moved, and whether it is ticked."""
        ticked: set[UUID | None] = {*self.seen} or {self.asked}
        return [(one, one.uid in ticked) for one in self.offered]

    def clean(self) -> dict[str, Any]:
        """Who was ticked, and the version of each that the page showed."""
        data: dict[str, Any] = super().clean() or {}
        if "all" in self.data:
            self.seen = {one.uid: one.version for one in self.offered}
        else:
            self.seen = dict(filter(None, map(_ticked, self._values())))
        if not self.seen:
            self.add_error(None, NOBODY)
        if not self.previewing and not data.get("reason", "").strip():
            self.add_error("reason", "Write why they are moved: it is kept with each episode.")
        return data

    def _values(self) -> list[str]:
        assert isinstance(self.data, QueryDict)  # noqa: S101  the posted form
        return self.data.getlist("episode")


def _ticked(value: str) -> tuple[UUID, int] | None:
    """The episode and the version that a tick stands for; None for what is no tick of ours."""
    uid, _, version = value.partition(":")
    try:
        return UUID(uid), int(version)
    except ValueError:
        return None
