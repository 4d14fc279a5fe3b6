"""The forms of a protocol of the clinic's own: copy, name and order, one milestone, publish."""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from dataclasses import dataclass
from typing import Any, Final

from django import forms

from clinic.forms.base import ActForm, EditForm
from outcomes.catalogue.fields import Fields, SeedError, sources_from
from outcomes.core.values import Mark, Measure, Protocol
from outcomes.forms.own_measures import ExactField
from outcomes.forms.protocol_errors import said_of
from outcomes.forms.protocol_mapping import (
    CHOICE,
    NUMBER,
    SETTING,
    Json,
    Setting,
    gate_settings,
    is_own,
    kept_text,
    own_source,
    part_of,
    place_of,
    relabelled,
    settings_of,
    sources_of,
    stepped,
    typed_source,
)
from outcomes.forms.protocol_rarer import rarer_of
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


class BodyForm(EditForm):
    """A form over a draft's mapping, as it is now and as it was where it was copied from."""

    step = forms.RegexField(STEP, required=False, widget=forms.HiddenInput)

    def __init__(
        self, *args: Any, body: Json, base: Json, measures: Mapping[str, Measure], **kwargs: Any
    ) -> None:
        self.body, self.base, self.measures = body, base, measures
        self.made: Data = {}
        super().__init__(*args, **kwargs)

    def take(self, made: Data, *, milestone: str = "", part: str = "") -> Protocol | None:
        """Keep the mapping for the service once the strict reader takes it.

        A refusal goes to the field that it speaks of; ``part`` is the criterion whose fields have
        no code in front.
        """
        self.made = made
        try:
            return protocol_from(made, self.measures, where="")
        except SeedError as error:
            code, field, sentence = said_of(error, body=made, before=self.body)
            field = field.removeprefix(f"{part}-") if part else field
            mine = next((name for name in self.fields if field and name.startswith(field)), None)
            self.add_error(mine if code == milestone else None, sentence)
        return None


class DraftForm(BodyForm):
    """The name of a draft, and the order of its milestones."""

    label = forms.CharField(label="Name of the protocol", max_length=80)

    def clean(self) -> Data:
        """The mapping with the name, and with one milestone moved or taken out."""
        data: Data = super().clean() or {}
        if not self.errors:
            rows = stepped(self.body["milestones"], step=data.get("step", ""))
            self.take({**self.body, "label": data["label"], "milestones": rows})
        return data


@dataclass(frozen=True, kw_only=True, slots=True)
class Part:
    """The gate (no code) or a criterion: as it is, as it was, and what may be set.

    ``fresh``: it is not where the draft was copied from.
    """

    code: str
    row: Json
    was: Json
    settings: list[Setting]
    rarer: list[Setting]
    fresh: bool

    @property
    def every(self) -> list[Setting]:
        """What may be set, what is set less often last."""
        return [*self.settings, *self.rarer]


class MilestoneForm(BodyForm):
    """One milestone of a draft: its name, its earliest date, and every criterion."""

    label = forms.CharField(label="Name of the milestone", max_length=120)

    def __init__(self, *args: Any, milestone: str, **kwargs: Any) -> None:
        self.milestone = milestone
        self.now = part_of(kwargs["body"], milestone) or {}
        old = part_of(kwargs["base"], milestone)
        super().__init__(*args, **kwargs)
        gate = self.now["gate"]
        was = old["gate"] if old else gate
        settings = gate_settings(gate)
        self.parts = [
            Part(code="", row=gate, was=was, settings=settings, rarer=[], fresh=old is None)
        ]
        self.parts += [self._part(row, old or {"criteria": ()}) for row in self.now["criteria"]]
        for part in self.parts:
            self.fields |= _fields(part)
        for name, field in self.fields.items():
            self.initial.setdefault(name, field.initial)

    def _part(self, row: Json, old: Json) -> Part:
        was = part_of(old, row["code"])
        return Part(
            code=row["code"],
            row=row,
            was=was or row,
            settings=settings_of(row, measures=self.measures),
            rarer=rarer_of(row, measures=self.measures),
            fresh=was is None,
        )

    @property
    def gate_fields(self) -> list[forms.BoundField]:
        """The earliest date and its source."""
        return [self[name] for name in _names("", self.parts[0].settings)]

    @property
    def gate_sources(self) -> tuple[str, ...]:
        """Where the earliest date is from, as it stands in the draft."""
        return _source_lines(self.now["gate"])

    @property
    def criteria(self) -> list[dict[str, Any]]:
        """Each criterion for the page: its code, name and fields."""
        return [
            {
                "code": part.code,
                "label": part.row["label"],
                "name": self[_name(part.code, "label")],
                "hard": self[_name(part.code, "hard")],
                "fields": [self[name] for name in _names(part.code, part.settings)],
                "rarer": [self[_name(part.code, one.name)] for one in part.rarer],
                "sources": _source_lines(part.row),
                "set": any(one.of(part.row) is not None for one in part.rarer),
                "faults": any(name.startswith(f"{part.code}-") for name in self.errors),
            }
            for part in self.parts[1:]
        ]

    def clean(self) -> Data:
        """The whole mapping with this milestone as it was typed."""
        data: Data = super().clean() or {}
        if self.errors:
            return data
        row: Data = {**self.now, "label": data["label"], "gate": _typed(self.parts[0], data)}
        criteria = [_typed(part, data) for part in self.parts[1:]]
        self._rename(criteria, data)
        row["criteria"] = stepped(criteria, step=data.get("step", ""))
        rows = deepcopy(list(self.body["milestones"]))
        rows[place_of(rows, self.milestone)] = row
        self.take({**self.body, "milestones": rows}, milestone=self.milestone)
        return data

    def _rename(self, criteria: list[Data], data: Data) -> None:
        """Put a new number into the names that carry the old one, or ask for the name."""
        for part, new in zip(self.parts[1:], criteria, strict=True):
            self._by_sex(part, new, data)
            for one in part.settings:
                old, typed = one.of(part.row), one.of(new)
                if one.name not in NAMES or old == typed:
                    continue
                if data[_name(part.code, "label")] == part.row["label"]:
                    self._renamed(part.code, new, old=old, new=typed)
                for group in criteria:
                    if part.code in group.get("of", ()):
                        said = relabelled(group["label"], old=old, new=typed)
                        group["label"] = said or group["label"]

    def _by_sex(self, part: Part, new: Data, data: Data) -> None:
        """Ask for the name where it carries one number and there are two now."""
        label, gone = part.row["label"], "value_by_sex"
        number = part.row.get("threshold", {}).get("value")
        carries = number is not None and relabelled(label, old=number, new="") != label
        mine = data[_name(part.code, "label")] == label
        if carries and mine and new.get(gone) and new.get(gone) != part.row.get(gone):
            self.add_error(_name(part.code, "label"), RENAME)

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


def _fields(part: Part) -> dict[str, forms.Field]:
    """The fields of a gate or of a criterion, holding what stands in the draft."""
    found: dict[str, forms.Field] = {}
    code, row = part.code, part.row
    if code:
        found[_name(code, "label")] = forms.CharField(
            label="Name", max_length=160, initial=row["label"]
        )
        found[_name(code, "hard")] = forms.ChoiceField(
            label="Counts", choices=COUNTS, initial="hard" if row["hard"] else "advisory"
        )
    for one in part.every:
        found[_name(code, one.name)] = _field(one, one.of(row))
    text, mark = typed_source(base=part.was, now=row, settings=part.every)
    found[_name(code, "source")] = source_field(text, SOURCE_HELP)
    found[_name(code, "mark")] = mark_field(mark)
    return found


def source_field(text: str, help_text: str) -> forms.CharField:
    """Where a number is from, as a lead types it."""
    return forms.CharField(
        label="Source", max_length=400, required=False, initial=text, help_text=help_text
    )


def mark_field(mark: str) -> forms.ChoiceField:
    """How well a typed source is supported."""
    return forms.ChoiceField(
        label="How well it is supported", choices=MARKS, initial=mark, required=False
    )


def _field(one: Setting, now: Any) -> forms.Field:
    if one.kind == CHOICE:
        return forms.ChoiceField(
            label=one.label, choices=one.choices, initial=now, required=one.needed
        )
    if one.kind == NUMBER:
        field = ExactField(label=one.label, initial=now)
        field.required = one.needed
        return field
    return forms.IntegerField(
        label=one.label, initial=now, required=one.needed, min_value=0, max_value=3660
    )


def _typed(part: Part, data: Data) -> Data:
    """A gate or criterion as it was typed, with the sources that go with it."""
    made: Data = deepcopy(dict(part.row))
    code = part.code
    for one in part.every:
        one.put(made, kept_text(one, data[_name(code, one.name)], one.of(part.was)))
    if code:
        made["label"] = data[_name(code, "label")]
        made["hard"] = data[_name(code, "hard")] == "hard"
    text, mark = data[_name(code, "source")], data[_name(code, "mark")]
    if text:
        made["sources"] = own_source(text, mark or SETTING)
    elif not (part.fresh and is_own(part.row)):
        was = {**part.was, "hard": made["hard"]} if part.fresh and code else part.was
        made["sources"] = sources_of(base=was, new=made, settings=part.every)
    return made
