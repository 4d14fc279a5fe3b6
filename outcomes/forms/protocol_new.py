"""What a lead adds to a draft: a milestone, or a criterion of a measure, score, event or group."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from copy import deepcopy
from typing import Any, Final

from django import forms

from outcomes.catalogue.order import LABELS
from outcomes.core.events import BY_CODE
from outcomes.core.instruments import Instrument
from outcomes.core.quantities import plain
from outcomes.core.values import Form, Measure, Operator
from outcomes.forms.own_measures import ExactField
from outcomes.forms.protocol_drafts import COUNTS, BodyForm, Data, mark_field, source_field
from outcomes.forms.protocol_mapping import (
    SETTING,
    Json,
    code_from,
    own_source,
    part_of,
    place_of,
    unit_words,
)
from outcomes.protocols.checks import UNITS, fits
from outcomes.protocols.criteria import EVENTS
from outcomes.queries.protocol_words import SIDE, asks
from outcomes.queries.result_words import OPERATOR

NEW_SOURCE: Final = "Blank: this clinic’s setting."
DAYS: Final = 42
"""For how many days a value counts where its measure says nothing."""
LOOKS_AT: Final[Mapping[Form, str]] = {
    Form.GRADE: "its grade",
    Form.INVOLVED: "its value",
    Form.SYMMETRY: "symmetry of both sides (LSI)",
    Form.SHORT_OF_OTHER: "how far it is short of the other side",
    Form.PER_BODY_MASS: "the value for body mass",
    Form.PER_BODY_WEIGHT: "the value for body weight",
    Form.PER_HEIGHT: "the value for height",
    Form.PER_LEG_LENGTH: "the value for leg length",
    Form.PRE_INJURY: "the share of the other side before surgery",
    Form.CHANGE_SINCE_SURGERY: "the change since surgery",
    Form.CHANGE_SINCE_LAST: "the change since the test before",
}
NAMED: Final[Mapping[Form, str]] = {
    Form.SYMMETRY: " symmetry",
    Form.PRE_INJURY: " of the other side before surgery",
    Form.CHANGE_SINCE_SURGERY: " change since surgery",
    Form.CHANGE_SINCE_LAST: " change since the test before",
}
SCORE_FORMS: Final = {
    Form.SCORE: "the score",
    Form.CHANGE_SINCE_SURGERY: "the change since surgery",
    Form.CHANGE_SINCE_LAST: "the change since the time before",
}
OPERATORS: Final = tuple((one.value, OPERATOR[one]) for one in Operator)
EVENT, GROUP = "event:", "group"
FIRST: Final = "0"
"""The place of a milestone before all others: no code of one begins with a digit."""
Subjects = list[tuple[str, list[tuple[str, str]]]]


def subjects(
    *, row: Json, measures: Iterable[Measure], instruments: Iterable[Instrument]
) -> Subjects:
    """What a new criterion of a milestone may speak of: a heading, then code and words of each."""
    there = list(measures)
    found: Subjects = [
        *(
            (said, [(one.code, one.label) for one in there if one.group is group])
            for group, said in LABELS.items()
        ),
        (
            "Scores of questionnaires",
            [
                (f"{one.code}.{score.code}", f"{one.short_label}: {score.label}")
                for one in instruments
                for score in one.scores
            ],
        ),
        ("Events", [(f"{EVENT}{one.code}", one.label) for one in BY_CODE.values()]),
    ]
    if len(members(row)) > 1:
        found.append(("Of this milestone", [(GROUP, "several of its advisory criteria")]))
    return [(said, rows) for said, rows in found if rows]


def members(row: Json) -> list[tuple[str, str]]:
    """The criteria that a group may be made of: those that do not count by themselves."""
    return [(one["code"], one["label"]) for one in row["criteria"] if not one["hard"]]


class NewCriterionForm(BodyForm):
    """One more criterion at the end of a milestone; ``of`` is what it speaks of, ``named`` so."""

    label = forms.CharField(
        label="Name", max_length=160, required=False, help_text="Blank: made from what it asks."
    )

    def __init__(self, *args: Any, milestone: str, of: str, named: str, **kwargs: Any) -> None:
        self.milestone, self.of, self.named = milestone, of, named
        self.now = part_of(kwargs["body"], milestone) or {}
        super().__init__(*args, **kwargs)
        self.measure = self.measures.get(of)
        if of == GROUP:
            self.fields |= _group_fields(self.now)
        elif of.startswith(EVENT):
            self.fields |= _event_fields(of.removeprefix(EVENT))
        else:
            self.fields |= _value_fields(self.measure)
        self.fields["hard"] = _choice("Counts", COUNTS)
        self.fields["source"] = source_field("", NEW_SOURCE)
        self.fields["mark"] = mark_field(SETTING)

    @property
    def shown(self) -> list[forms.BoundField]:
        """The fields of the page, in their order."""
        return [self[name] for name in self.fields if name not in ("key", "seen", "step")]

    @property
    def code(self) -> str:
        """The code of the criterion that was made."""
        return str(self.made["milestones"][self._place]["criteria"][-1]["code"])

    @property
    def _place(self) -> int:
        return place_of(self.body["milestones"], self.milestone)

    def clean(self) -> Data:
        """The whole mapping with the new criterion; a blank name says what is asked."""
        data: Data = super().clean() or {}
        if self.errors:
            return data
        row = self._row(data)
        rows = deepcopy(list(self.body["milestones"]))
        rows[self._place]["criteria"].append(row)
        made = {**self.body, "milestones": rows}
        protocol = self.take(made, milestone=self.milestone, part=row["code"])
        if protocol and not data["label"]:
            criterion = protocol.milestones[self._place].criteria[-1]
            names = {one["code"]: one["label"] for one in self.now["criteria"]}
            asked = asks(criterion=criterion, measures=self.measures, names=names)
            row["label"] = f"{self.named}{NAMED.get(criterion.form, '')}: {asked}"[:160]
            if self.of == GROUP:
                row["label"] = asked[:1].upper() + asked[1:160]
        return data

    def _row(self, data: Data) -> Data:
        """The criterion as a seed would write it."""
        lsi = "_lsi" if data.get("form") == Form.SYMMETRY else ""
        old = part_of(self.base, self.milestone) or {"criteria": ()}
        taken = [one["code"] for one in (*self.now["criteria"], *old["criteria"])]
        stem = self.of.removeprefix(EVENT).replace(".", "_")
        row: Data = {
            "code": code_from(stem, taken=taken, end=lsi),
            "label": data["label"] or self.named,
            "hard": data["hard"] == "hard",
            "sources": own_source(data["source"], data["mark"] or SETTING),
        }
        if self.of == GROUP:
            return row | {"of": data["of"], "needed": data["needed"]}
        if self.of.startswith(EVENT):
            return row | _event(self.of.removeprefix(EVENT), data)
        form, threshold = data["form"], {"operator": data["operator"]}
        if self.measure:
            row["measure"], unit = self.of, UNITS.get(Form(form), self.measure.unit)
        else:
            row["score"], unit = self.of, "{score}"
        number = data["value"]
        threshold |= {
            "value": number if isinstance(number, str) else plain(value=number), "unit": unit,
        }  # fmt: skip
        row |= {"form": form, "threshold": threshold}
        adults = data["adults_only"] or form == Form.PER_BODY_MASS
        row |= {"adults_only": True} if adults else {}
        return row | {"maximum_age_days": data["maximum_age_days"]}


def _value_fields(measure: Measure | None) -> dict[str, forms.Field]:
    """Of a measure or a score: what is looked at, the operator, the number, how long it counts."""
    looks: list[tuple[str, str]] = [(one.value, said) for one, said in SCORE_FORMS.items()]
    if measure:
        looks = [
            (one.value, f"{said}{_unit(UNITS.get(one, measure.unit))}")
            for one, said in LOOKS_AT.items()
            if fits(form=one, measure=measure)
            and not (measure.grades and one is not Form.GRADE)
        ]  # fmt: skip
    value: forms.Field = ExactField(label="The number")
    if measure and measure.grades:
        value = _choice("The grade", [(word, word) for word in measure.grades])
    value.required = True
    days = measure.maximum_age_days if measure else None
    return {
        "form": _choice("What is looked at", looks),
        "operator": forms.ChoiceField(label="It asks", choices=OPERATORS, initial=">="),
        "value": value,
        "maximum_age_days": _days("A value counts for so many days", days or DAYS),
        "adults_only": forms.BooleanField(
            label="Only for adults; a torque for body mass is always", required=False
        ),
    }


def _choice(label: str, choices: Sequence[tuple[str, str]]) -> forms.ChoiceField:
    """A list to choose from, the first of it chosen."""
    return forms.ChoiceField(label=label, choices=choices, initial=choices[0][0])


def _unit(unit: str) -> str:
    sign = unit_words(unit)
    return f", in {sign}" if sign else ""


def _days(label: str, initial: int | None) -> forms.IntegerField:
    return forms.IntegerField(
        label=label, min_value=1, max_value=3660, initial=initial, required=initial is not None
    )


def _event_fields(code: str) -> dict[str, forms.Field]:
    sides = [(one.value, SIDE.get(one.value, one.value)) for one in BY_CODE[code].sides]
    return {
        "operator": forms.ChoiceField(label="It asks", choices=OPERATORS, initial="<="),
        "value": forms.IntegerField(
            label="How many of them", min_value=0, max_value=100, initial=0
        ),
        "side": _choice("Whose side", sides),
        "within_days": _days("Looks back so many days; blank: to the index date", None),
    }


def _event(code: str, data: Data) -> Data:
    row: Data = {
        "event": code,
        "side": data["side"],
        "threshold": {"operator": data["operator"], "value": data["value"], "unit": EVENTS},
    }
    return row | ({"within_days": data["within_days"]} if data["within_days"] else {})


def _group_fields(row: Json) -> dict[str, forms.Field]:
    offered = members(row)
    numbers = [str(number) for number in range(1, len(offered) + 1)]
    return {
        "of": forms.MultipleChoiceField(
            label="Which of them", choices=offered, widget=forms.CheckboxSelectMultiple
        ),
        "needed": _choice(
            "How many of them are asked",
            [("all", "all of them"), ("any", "any of them"), *((n, n) for n in numbers)],
        ),
    }


class NewMilestoneForm(BodyForm):
    """One more milestone: never on time alone, so it begins with the criteria of another one."""

    label = forms.CharField(label="Name of the milestone", max_length=120)
    after = forms.ChoiceField(label="It comes after")
    like = forms.ChoiceField(
        label="It begins with the criteria of",
        help_text="A milestone never rests on time alone. Take away what it does not ask, and add.",
    )
    number = forms.IntegerField(label="Not before", min_value=0, max_value=520)
    unit = forms.ChoiceField(
        label="Counted in", choices=(("weeks", "weeks"), ("months", "months")), initial="weeks"
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows = [(one["code"], one["label"]) for one in self.body["milestones"]]
        for name, choices in (("after", [(FIRST, "none: it is the first"), *rows]), ("like", rows)):
            field = self.fields[name]
            assert isinstance(field, forms.ChoiceField)  # noqa: S101  declared above
            field.choices = choices
        self.fields["source"] = source_field("", NEW_SOURCE)
        self.fields["mark"] = mark_field(SETTING)
        self.code = ""

    def clean(self) -> Data:
        """The whole mapping with the new milestone at its place."""
        data: Data = super().clean() or {}
        if self.errors:
            return data
        rows = deepcopy(list(self.body["milestones"]))
        taken = [one["code"] for one in (*rows, *self.base["milestones"])]
        self.code = code_from(data["label"], taken=taken)
        like = deepcopy(rows[place_of(rows, data["like"])])
        gate = {"sources": own_source(data["source"], data["mark"] or SETTING)}
        gate |= {data["unit"]: data["number"], "waived_for": like["gate"].get("waived_for", [])}
        made = {**like, "code": self.code, "label": data["label"], "gate": gate}
        made.pop("before_surgery", None)
        first = data["after"] == FIRST
        rows.insert(0 if first else place_of(rows, data["after"]) + 1, made)
        self.take({**self.body, "milestones": rows}, milestone=self.code)
        return data
