"""Where the milestones stop for each goal, and what a visit asks for in which weeks."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from copy import deepcopy
from typing import Any, Final

from django import forms
from django.forms.boundfield import BoundWidget

from clinic.models.care import GOALS
from outcomes.catalogue.fields import Fields, sources_from
from outcomes.catalogue.order import LABELS
from outcomes.core.values import Measure
from outcomes.forms.protocol_drafts import BodyForm, Data, mark_field, source_field
from outcomes.forms.protocol_mapping import SETTING, Json, own_source
from outcomes.protocols.reading import protocol_from
from outcomes.queries.opened import OWN_SETTING, source_lines

MOST_WEEKS: Final = 520
ABOVE: Final = "the set above begins in that one."
SET_SOURCE: Final = "Blank: this clinic’s setting, with what it was before."


class GoalsForm(BodyForm):
    """The last milestone of each goal."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows = [(one["code"], one["label"]) for one in self.body["milestones"]]
        for goal, said in self._goals:
            self.fields[goal] = forms.ChoiceField(label=f"Goal: {said}", choices=rows)
            self.initial[goal] = self.body["last_by_goal"][goal]

    @property
    def _goals(self) -> list[tuple[str, str]]:
        """The goals of the table with their words; one that is not stated stops nowhere."""
        return [pair for pair in GOALS if pair[0] in self.body["last_by_goal"]]

    @property
    def goals(self) -> list[forms.BoundField]:
        """One choice for each goal."""
        return [self[goal] for goal, _ in self._goals]

    def clean(self) -> Data:
        """The whole mapping with the goals as they were chosen."""
        data: Data = super().clean() or {}
        if not self.errors:
            last = {goal: data[goal] for goal, _ in self._goals}
            self.take({**self.body, "last_by_goal": last})
        return data


def sets_of(*, body: Json, measures: Mapping[str, Measure]) -> list[Data]:
    """The sets of a draft; where it has none of its own, those that are in use for it."""
    if "sets" in body:
        return deepcopy(list(body["sets"]))
    return [
        {
            "label": one.label,
            **({"before_surgery": True} if one.first is None else {"from_week": one.first}),
            **({} if one.last is None else {"to_week": one.last}),
            "measures": list(one.measures),
            "sources": own_source("", SETTING),
        }
        for one in protocol_from(body, measures, where="").sets
    ]


class WeeksForm(BodyForm):
    """In which week each set begins. It ends where the next one begins, so no week is left out.

    ``step`` takes a set away, and the one before it goes on; ``add`` begins another one.
    """

    step = forms.RegexField(r"remove:[0-9]+", required=False, widget=forms.HiddenInput)
    add = forms.IntegerField(
        label="Begin another set in week", min_value=1, max_value=MOST_WEEKS, required=False,
        help_text="It asks for what is asked in that week now; then edit it.",
    )  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.sets = sets_of(body=self.body, measures=self.measures)
        for place, row in enumerate(self.sets):
            if row.get("from_week"):
                name, week = f"from_{place}", row["from_week"]
                self.fields[name] = forms.IntegerField(
                    label="From week", min_value=1, max_value=MOST_WEEKS
                )
                self.initial[name] = week

    @property
    def rows(self) -> list[dict[str, Any]]:
        """Each set for the page; the first of all and that before surgery have no week to type."""
        return [
            {
                "place": place,
                "label": row["label"],
                "from": self[f"from_{place}"] if f"from_{place}" in self.fields else None,
                "before": row.get("before_surgery", False),
                "last": row.get("to_week"),
                "asked": [self.measures[code].label for code in row["measures"]],
            }
            for place, row in enumerate(self.sets)
        ]

    def clean(self) -> Data:
        """The whole mapping, with every set ending where the next one begins."""
        data: Data = super().clean() or {}
        if self.errors:
            return data
        sets, latest = deepcopy(self.sets), 0
        for place, row in enumerate(sets):
            if f"from_{place}" in self.fields:
                row["from_week"] = data[f"from_{place}"]
                if row["from_week"] <= latest:
                    self.add_error(f"from_{place}", f"Type a week after week {latest}: {ABOVE}")
                latest = row["from_week"]
        way = re.fullmatch(r"remove:(\d+)", data.get("step", ""))
        if way and f"from_{way[1]}" in self.fields:
            del sets[int(way[1])]
        weeks = [row for row in sets if not row.get("before_surgery")]
        if data["add"] is not None:
            self._begin(weeks, data["add"])
        if self.errors:
            return data
        _end(weeks)
        before = [row for row in sets if row.get("before_surgery")]
        self.take({**self.body, "sets": [*before, *weeks]})
        return data

    def _begin(self, weeks: list[Data], week: int) -> None:
        """Another set from a week on, as a copy of what is asked then."""
        if any(row["from_week"] == week for row in weeks):
            self.add_error("add", f"A set begins in week {week} already: edit that one.")
            return
        place = sum(row["from_week"] < week for row in weeks)
        copied = {**deepcopy(weeks[place - 1]), "label": f"From week {week}", "from_week": week}
        weeks.insert(place, copied)


def _end(weeks: Sequence[Data]) -> None:
    for row, following in zip(weeks, [*weeks[1:], None], strict=True):
        row.pop("to_week", None)
        if following is not None:
            row["to_week"] = following["from_week"] - 1


class SetForm(BodyForm):
    """What a visit asks for in one stretch of weeks."""

    label = forms.CharField(label="Name", max_length=80)

    def __init__(self, *args: Any, place: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.sets, self.place = sets_of(body=self.body, measures=self.measures), place
        row = self.sets[place]
        self.fields["measures"] = forms.MultipleChoiceField(
            label="Measures", choices=by_group(self.measures), widget=forms.CheckboxSelectMultiple
        )
        self.fields["source"] = source_field("", SET_SOURCE)
        self.fields["mark"] = mark_field(SETTING)
        self.initial.update(label=row["label"], measures=row["measures"])
        self.fields["measures"].error_messages["required"] = "Tick at least one measure."

    @property
    def groups(self) -> list[tuple[str, list[BoundWidget]]]:
        """The boxes under the headings of a visit."""
        boxes = {str(box.data["value"]): box for box in self["measures"].subwidgets}
        return [(name, [boxes[code] for code, _ in rows]) for name, rows in by_group(self.measures)]

    @property
    def sources(self) -> tuple[str, ...]:
        """Where the set is from, as it stands in the draft."""
        return _lines(self.sets[self.place])

    def clean(self) -> Data:
        """The whole mapping with this set as it was ticked, its measures in the order they had."""
        data: Data = super().clean() or {}
        if self.errors:
            return data
        row, ticked = self.sets[self.place], set(data["measures"])
        asked = [code for code in row["measures"] if code in ticked]
        asked += [code for code in data["measures"] if code not in asked]
        made = {**row, "label": data["label"], "measures": asked}
        late = {code for one in self.sets for code in one.get("operated", ())}
        operated = [code for code in asked if code in late]
        made |= {"operated": operated} if operated else {}
        if not operated:
            made.pop("operated", None)
        if data["source"]:
            made["sources"] = own_source(data["source"], data["mark"] or SETTING)
        elif ticked != set(row["measures"]):
            made["sources"] = _own_choice(row)
        sets = deepcopy(self.sets)
        sets[self.place] = made
        self.take({**self.body, "sets": sets})
        return data


def _lines(row: Json) -> tuple[str, ...]:
    return source_lines(sources=sources_from(Fields(mapping=row, where="")))


def _own_choice(row: Json) -> list[dict[str, str]]:
    """The source of a changed choice: this clinic's, with where the choice before it is from."""
    first = row["sources"][0]["text"]
    if first.startswith(OWN_SETTING):
        return deepcopy(list(row["sources"]))
    return own_source(f"{OWN_SETTING}, another choice than {'; '.join(_lines(row))}", SETTING)


def by_group(measures: Mapping[str, Measure]) -> list[tuple[str, list[tuple[str, str]]]]:
    """What can be recorded at a visit, under the headings of a visit."""
    typed = [one for one in measures.values() if one.typed]
    found = [
        (said, [(one.code, one.label) for one in typed if one.group is group])
        for group, said in LABELS.items()
    ]
    return [(said, rows) for said, rows in found if rows]
