"""One open visit as its page shows it: head, red flags, rows, foot."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from functools import cached_property
from uuid import uuid4

from clinic import words
from outcomes.core.relative import BODY
from outcomes.forms.ledger import LedgerForm
from outcomes.forms.ledger_fields import MEASURED, Field, Posted, was_of
from outcomes.forms.ledger_rows import Row
from outcomes.forms.red_flags import RedFlagForm
from outcomes.forms.visit_head import VisitHead, empty_head, head_of
from outcomes.models.record import VisitDraft
from outcomes.queries.clashes import Clash, asked_of, late_clashes, newest_of
from outcomes.queries.shell import NOBODY, EmptySheet, Shell, mark_of
from outcomes.queries.visit import VisitSheet

RED_FLAGS = "flags"
NOTE = "note"


class VisitPage:
    """Everything that the templates of an open visit ask for.

    ``sent`` is what this page posted last, ``draft``, ``clashes`` and ``elsewhere`` what became
    of it.
    """

    def __init__(
        self,
        *,
        sheet: VisitSheet,
        sent: Posted | None = None,
        draft: VisitDraft | None = None,
        clashes: Sequence[Clash] = (),
        elsewhere: Sequence[str] = (),
        tried: bool = False,
    ) -> None:
        self.sheet, self.sent, self.tried = sheet, sent, tried
        if draft is not None:
            sheet.draft = draft
        answered = sent is None or sent.keep or sent.take  # else the page stays as it is
        asked = asked_of(late=sheet.late, fields=sheet.fields) if answered else {}
        late = {name: one for name, one in asked.items() if name not in {c.name for c in clashes}}
        self.id = sent.sheet if sent else str(uuid4())
        self.form = LedgerForm(
            sheet=sheet,
            shown=self._shown(sent, clashes) | {one.name: one.shown for one in late.values()},
            clashes=(*clashes, *late_clashes(asked=late, fields=sheet.fields)),
            elsewhere=elsewhere,
            tried=tried,
        )

    @staticmethod
    def _shown(sent: Posted | None, clashes: Sequence[Clash]) -> dict[str, str]:
        """What the page shows: of a row that stays in place its own texts, else the draft's."""
        if sent is None:
            return {}
        stays = dict(sent.typed) if sent.row else {}
        return {**stays, **{clash.name: sent.shown[clash.name] for clash in clashes}}

    @property
    def late_until(self) -> int:
        """How far a person has seen what came late."""
        return newest_of(self.sheet.late)

    @cached_property
    def head(self) -> VisitHead:
        """The band above the rows."""
        return head_of(sheet=self.sheet)

    @cached_property
    def shell(self) -> Shell:
        """The same ledger without its patient."""
        return Shell(
            rows=tuple(test.row for test in self.form.leading),
            last=self.sheet.last,
            knees=tuple(knee.limb for knee in self.sheet.knees),
            short=self.flags.short,
            mark=mark_of(rules=self.sheet.in_force),
        )

    @cached_property
    def more(self) -> Shell:
        """A ledger of every measure without a patient: where rows that are added come from."""
        every = tuple(sorted(measure.code for measure in self.sheet.offered))
        return replace(self.shell, rows=every, last=(), short=False)

    @cached_property
    def row(self) -> Row | None:
        """The row that was posted alone."""
        return self.form.row(self.sent.row) if self.sent else None

    @cached_property
    def related(self) -> list[Row]:
        """Other rows whose words depend on the posted one: torque on body mass."""
        if self.row is None or self.row.measure.code not in BODY.values():
            return []
        code = self.row.measure.code
        return [
            row
            for row in self.form.rows
            if row.measure.relative is not None and BODY[row.measure.relative] == code
        ]

    @property
    def flags(self) -> RedFlagForm:
        """The red-flag questions."""
        return self.form.flags

    @property
    def flags_was(self) -> str:
        """What the page shows of them."""
        return self._was(self.flags.fields)

    @property
    def note(self) -> Field:
        """The clinician's note of the visit."""
        return Field(name=NOTE, label="Note", kind="long", value=self.form.texts.get(NOTE, ""))

    @property
    def measured(self) -> Field:
        """When it was measured, for what was written on paper first."""
        return Field(
            name=MEASURED,
            label="Typed from paper? Measured at (14:30)",
            kind="text",
            value=self.form.texts.get(MEASURED, ""),
            optional=True,
            wrong=self.tried and any(one.name == MEASURED for one in self.form.wrongs),
        )

    @property
    def note_was(self) -> str:
        """What the page shows of the note and of that time."""
        return self._was((self.note, self.measured))

    def _was(self, fields: Sequence[Field]) -> str:
        return was_of(
            {field.name: self.form.shown.get(field.name, field.value) for field in fields}
        )

    @property
    def posted_was(self) -> Mapping[str, str]:
        """Of a part that was posted alone: its id and what the page shows in it now."""
        if self.sent is None:
            return {}
        if self.row is not None:
            return {self.row.id: self.row.was}
        return {RED_FLAGS: self.flags_was} if self.sent.row == RED_FLAGS else {NOTE: self.note_was}

    @property
    def other_clashes(self) -> list[Clash]:
        """Clashes outside of the rows: the note, a red flag."""
        rows = (
            {clash for row in self.form.rows for clash in row.clashes}
            if self.form.clashes
            else set()
        )
        return [clash for clash in self.form.clashes if clash not in rows]

    @property
    def draft_version(self) -> int:
        """The version of the draft that was read."""
        return self.sheet.draft.version if self.sheet.draft else 0

    @property
    def saved(self) -> str:
        """When the draft was saved, in the site's time; empty before the first word."""
        draft = self.sheet.draft
        return clock_words(draft.saved_at, zone=self.sheet.visit.site.zone) if draft else ""


class ShellPage(VisitPage):
    """The page of an open visit without its patient: what a tablet keeps to show without network.

    Nothing of it may differ from one visit to the next.
    """

    sheet: EmptySheet

    def __init__(self, *, shell: Shell) -> None:
        super().__init__(sheet=EmptySheet(shell))
        self.id = str(NOBODY)

    @cached_property
    def head(self) -> VisitHead:
        """Nobody; only which knees are followed."""
        return empty_head(knees=frozenset(self.sheet.shell.knees))


def clock_words(moment: datetime, *, zone: str) -> str:
    """A time of day at a site."""
    return words.moment(moment, zone=zone).rpartition(" ")[2]
