"""The forms of a protocol of the clinic's own: copy, name and order, one milestone, publish."""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from typing import Any, Final

from django import forms

from clinic.forms.base import ActForm, EditForm
from outcomes.catalogue.fields import Fields, SeedError, sources_from
from outcomes.core.values import Mark, Measure
from outcomes.forms.own_measures import ExactField
from outcomes.forms.protocol_errors import said_of
from outcomes.forms.protocol_mapping import (
    CHOICE,
    NUMBER,
    SETTING,
    Json,
    Setting,
    gate_settings,
    kept_text,
    part_of,
    place_of,
    relabelled,
    settings_of,
    sources_of,
    stepped,
    typed_source,
)
from outcomes.protocols.reading import protocol_from
from outcomes.queries.opened import MARK, source_lines

Data = dict[str, Any]
STEP: Final = r"(up|down|remove):[a-z][a-z0-9_]*"
COUNTS: Final = (("hard", "counts"), ("advisory", "advisory, shown beside"))
MARKS: Final = tuple(
    (mark.value, MARK[mark]) for mark in (Mark.CLINIC_SETTING, Mark.SEEN, Mark.COMMON_PRACTICE)
)
NAMES: Final = ("value", "within_days")
"""Settings whose number stands in the name of a criterion too."""
RENAME: Final = "The threshold changed: write in the name what is asked now."
SOURCE_HELP: Final = "Blank: this clinic’s setting, with what it was before."


class CopyForm(ActForm):
    """A draft from a version that is kept. ``next`` makes it the next version of an own one."""

    label = forms.CharField(label="Name of the copy", max_length=80, required=False)
    next = forms.BooleanField(required=False, widget=forms.HiddenInput)

    def clean(self) -> Data:
        """A copy has a name of its own."""
        data: Data = super().clean() or {}
        if not data.get("next") and not data.get("label"):
            self.add_error("label", "Type a name for the copy.")
        return data


class PublishForm(ActForm):
    """What changed, in a line; ``seen`` is the draft that the person looked at."""

    note = forms.CharField(
        label="What changed, in a line",
        max_length=200,
        error_messages={"required": "Write in a line what changed, and why."},
    )
    seen = forms.IntegerField(min_value=1, widget=forms.HiddenInput)


class DiscardForm(ActForm):
    """Ends a draft; what was published stays."""

    seen = forms.IntegerField(min_value=1, widget=forms.HiddenInput)


class NewEpisodesForm(ActForm):
    """Which site, and what its new episodes took when the page was shown."""

    site = forms.SlugField()
    seen = forms.CharField(required=False)


class _DraftForm(EditForm):
    """A form over a draft's mapping, as it is now and as it was where it was copied from."""

    step = forms.RegexField(STEP, required=False, widget=forms.HiddenInput)

    def __init__(
        self, *args: Any, body: Json, base: Json, measures: Mapping[str, Measure], **kwargs: Any
    ) -> None:
        self.body, self.base, self.measures = body, base, measures
        self.made: Data = {}
        super().__init__(*args, **kwargs)

    def _take(self, made: Data, *, milestone: str) -> None:
        """Keep the mapping for the service once the strict reader takes it."""
        self.made = made
        try:
            protocol_from(made, self.measures, where="")
        except SeedError as error:
            code, field, sentence = said_of(error, body=made, before=self.body)
            mine = code == milestone and field in self.fields
            self.add_error(field if mine else None, sentence)


class DraftForm(_DraftForm):
    """The name of a draft, and the order of its milestones."""

    label = forms.CharField(label="Name of the protocol", max_length=80)

    def clean(self) -> Data:
        """The mapping with the name, and with one milestone moved."""
        data: Data = super().clean() or {}
        if not self.errors:
            rows = stepped(self.body["milestones"], step=data.get("step", ""))
            self._take({**self.body, "label": data["label"], "milestones": rows}, milestone="")
        return data


class MilestoneForm(_DraftForm):
    """One milestone of a draft: its name, its earliest date, and every criterion."""

    label = forms.CharField(label="Name of the milestone", max_length=120)

    def __init__(self, *args: Any, milestone: str, **kwargs: Any) -> None:
        self.milestone = milestone
        self.now = part_of(kwargs["body"], milestone) or {}
        self.was = part_of(kwargs["base"], milestone) or self.now
        super().__init__(*args, **kwargs)
        gate = gate_settings(self.now["gate"])
        self.parts: list[tuple[str, Json, Json, list[Setting]]] = [
            ("", self.now["gate"], self.was["gate"], gate)
        ]
        for row in self.now["criteria"]:
            was = part_of(self.was, row["code"]) or row
            self.parts.append((row["code"], row, was, settings_of(row, measures=self.measures)))
        for code, row, was, settings in self.parts:
            self.fields |= _fields(code, row, was, settings)
        for name, field in self.fields.items():
            self.initial.setdefault(name, field.initial)

    @property
    def gate_fields(self) -> list[forms.BoundField]:
        """The earliest date and its source."""
        return [self[name] for name in _names("", self.parts[0][3])]

    @property
    def gate_sources(self) -> tuple[str, ...]:
        """Where the earliest date is from, as it stands in the draft."""
        return _source_lines(self.now["gate"])

    @property
    def criteria(self) -> list[dict[str, Any]]:
        """Each criterion for the page: its code, name and fields."""
        return [
            {
                "code": code,
                "label": row["label"],
                "name": self[_name(code, "label")],
                "hard": self[_name(code, "hard")],
                "fields": [self[name] for name in _names(code, settings)],
                "sources": _source_lines(row),
                "faults": any(name.startswith(f"{code}-") for name in self.errors),
            }
            for code, row, _, settings in self.parts[1:]
        ]

    def clean(self) -> Data:
        """The whole mapping with this milestone as it was typed."""
        data: Data = super().clean() or {}
        if self.errors:
            return data
        row: Data = {**self.now, "label": data["label"]}
        _, gate, was, settings = self.parts[0]
        row["gate"] = _part("", gate, was, settings, data)
        criteria = [_part(*part, data) for part in self.parts[1:]]
        self._rename(criteria, data)
        row["criteria"] = stepped(criteria, step=data.get("step", ""))
        rows = deepcopy(list(self.body["milestones"]))
        rows[place_of(rows, self.milestone)] = row
        self._take({**self.body, "milestones": rows}, milestone=self.milestone)
        return data

    def _rename(self, criteria: list[Data], data: Data) -> None:
        """Put a new number into the names that carry the old one, or ask for the name."""
        for (code, row, _, settings), new in zip(self.parts[1:], criteria, strict=True):
            for one in settings:
                old, typed = one.of(row), one.of(new)
                if one.name not in NAMES or old == typed:
                    continue
                if data[_name(code, "label")] == row["label"]:
                    self._renamed(code, new, old=old, new=typed)
                for group in criteria:
                    if code in group.get("of", ()):
                        said = relabelled(group["label"], old=old, new=typed)
                        group["label"] = said or group["label"]

    def _renamed(self, code: str, row: Data, *, old: Any, new: Any) -> None:
        said = relabelled(row["label"], old=old, new=new)
        if said is None:
            self.add_error(_name(code, "label"), RENAME)
        else:
            row["label"] = said


def _source_lines(row: Json) -> tuple[str, ...]:
    return source_lines(sources=sources_from(Fields(mapping=row, where="")))


def _name(code: str, name: str) -> str:
    return f"{code}-{name}" if code else name


def _names(code: str, settings: list[Setting]) -> list[str]:
    return [_name(code, name) for name in (*(one.name for one in settings), "source", "mark")]


def _fields(code: str, row: Json, was: Json, settings: list[Setting]) -> dict[str, forms.Field]:
    """The fields of a gate or of a criterion, holding what stands in the draft."""
    found: dict[str, forms.Field] = {}
    if code:
        found[_name(code, "label")] = forms.CharField(
            label="Name", max_length=160, initial=row["label"]
        )
        found[_name(code, "hard")] = forms.ChoiceField(
            label="Counts", choices=COUNTS, initial="hard" if row["hard"] else "advisory"
        )
    for one in settings:
        found[_name(code, one.name)] = _field(one, one.of(row))
    text, mark = typed_source(base=was, now=row, settings=settings)
    found[_name(code, "source")] = forms.CharField(
        label="Source", max_length=400, required=False, initial=text, help_text=SOURCE_HELP
    )
    found[_name(code, "mark")] = forms.ChoiceField(
        label="How well it is supported", choices=MARKS, initial=mark, required=False
    )
    return found


def _field(one: Setting, now: Any) -> forms.Field:
    if one.kind == CHOICE:
        return forms.ChoiceField(label=one.label, choices=one.choices, initial=now)
    if one.kind == NUMBER:
        field = ExactField(label=one.label, initial=now)
        field.required = one.needed
        return field
    return forms.IntegerField(
        label=one.label, initial=now, required=one.needed, min_value=0, max_value=3660
    )


def _part(code: str, row: Json, was: Json, settings: list[Setting], data: Data) -> Data:
    """A gate or criterion as it was typed, with the sources that go with it."""
    made: Data = deepcopy(dict(row))
    for one in settings:
        one.put(made, kept_text(one, data[_name(code, one.name)], one.of(was)))
    if code:
        made["label"] = data[_name(code, "label")]
        made["hard"] = data[_name(code, "hard")] == "hard"
    text, mark = data[_name(code, "source")], data[_name(code, "mark")] or SETTING
    made["sources"] = (
        [{"text": text, "mark": mark}]
        if text
        else sources_of(base=was, new=made, settings=settings)
    )
    return made
