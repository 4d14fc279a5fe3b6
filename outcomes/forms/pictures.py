"""The marked points of a picture as they are posted, and what is said back about them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from functools import cached_property
from typing import Any, Final

from django import forms
from django.http import QueryDict

from clinic.forms.base import ActForm, OneOf
from outcomes.core.angles import Point
from outcomes.core.grades import is_pelvic_drop, pelvis_grade
from outcomes.core.kinds import Limb, View
from outcomes.core.picture import APART_MM, Marked, PictureAngle, picture_angle
from outcomes.core.picture_errors import LANDMARK_MM
from outcomes.core.quantities import TypedError, parse_number
from outcomes.core.values import Measure
from outcomes.core.wording import drop_words
from outcomes.forms.row_names import row_name
from outcomes.queries.visit import VisitSheet

TAP_ON_SCREEN: Final = Decimal(2)
"""Standard error of a tap under the loupe, in pixels of the screen (setting of this house)."""
LONGEST_SIDE: Final = 20_000
VIEWS: Final = [(View.BACK.value, "from behind"), (View.FRONT.value, "from in front")]
POINTS: Final = ("stance", "swing", "hip", "knee", "ankle", "level_a", "level_b")
PAIR: Final = re.compile(r"(\d{1,5}(?:\.\d{1,2})?),(\d{1,5}(?:\.\d{1,2})?)")


class PointField(forms.Field):
    """One marked point, ``x,y`` in pixels of the picture; None where it is not marked."""

    widget = forms.HiddenInput

    def to_python(self, value: Any) -> Point | None:
        """The point as exact numbers."""
        if not value:
            return None
        found = PAIR.fullmatch(str(value))
        if found is None:
            raise forms.ValidationError("Mark the points afresh.")
        return Decimal(found[1]), Decimal(found[2])


class LengthField(forms.CharField):
    """A typed length with comma or point; None where nothing is typed."""

    def __init__(self, *, least: str, most: str, **kwargs: Any) -> None:
        self.least, self.most = Decimal(least), Decimal(most)
        attrs = {"inputmode": "decimal", "autocomplete": "off"}
        super().__init__(
            required=False, max_length=12, widget=forms.TextInput(attrs=attrs), **kwargs
        )

    def clean(self, value: Any) -> Any:
        """The number within its limits."""
        text = super().clean(value)
        if not text:
            return None
        try:
            number = parse_number(text=text, decimals=1, signed=False)
        except TypedError as wrong:
            raise forms.ValidationError(wrong.message) from wrong
        if not self.least <= number <= self.most:
            raise forms.ValidationError(f"Type a number from {self.least} to {self.most}.")
        return number


class PictureForm(ActForm):
    """View, scale and the points of one picture of one standing limb."""

    view = OneOf(
        label="The picture shows the patient",
        choices=VIEWS,
        error_messages={"required": "Choose whether it shows the patient from behind or in front."},
    )
    apart = LengthField(
        label="Distance between the two pelvis points, cm",
        least="4",
        most="45",
        help_text="By tape, where it is known. Left empty, 24 cm is assumed for the front points "
        "and 10 cm for the back points.",
    )
    landmark = LengthField(
        label="How far a marked point may lie from the bone, mm",
        least="1",
        most="30",
        help_text="Left empty, 5 mm. Stickers set by feel before the task make it less.",
    )
    per_pixel = forms.DecimalField(
        min_value=0, max_value=100, max_digits=12, widget=forms.HiddenInput
    )
    width = forms.IntegerField(min_value=1, max_value=LONGEST_SIDE, widget=forms.HiddenInput)
    height = forms.IntegerField(min_value=1, max_value=LONGEST_SIDE, widget=forms.HiddenInput)
    only = forms.ChoiceField(choices=[("grade", "the grade alone")], required=False)

    def __init__(self, data: QueryDict | None = None, *, limb: Limb) -> None:
        super().__init__(data, initial={"view": View.BACK.value})
        self.limb = limb
        for name in POINTS:
            self.fields[name] = PointField(required=name in ("stance", "swing"))
            self.fields[name].error_messages["required"] = "Mark both points of the pelvis."

    def clean(self) -> dict[str, Any]:
        """Every point lies in the picture; the leg and the line are marked whole or not at all."""
        cleaned = super().clean() or {}
        size = (cleaned.get("width") or 0, cleaned.get("height") or 0)
        found = {name: cleaned[name] for name in POINTS if cleaned.get(name)}
        if any(x > size[0] or y > size[1] for x, y in found.values()):
            raise forms.ValidationError("A point lies outside of the picture. Mark it afresh.")
        if 0 < len({"hip", "knee", "ankle"} & found.keys()) < 3:
            raise forms.ValidationError("Mark hip, knee and ankle, or none of them.")
        if len({"level_a", "level_b"} & found.keys()) == 1:
            raise forms.ValidationError("Mark a second point on the level line.")
        return cleaned

    @property
    def sent(self) -> dict[str, str]:
        """What was marked, as it was posted: the same again is the same press."""
        names = [name for name in self.fields if name != "key"]
        return {name: str(self.data.get(name, "")) for name in names}

    @cached_property
    def wrong(self) -> list[str]:
        """What keeps the angle from being worked out, each sentence once."""
        found = [str(one) for errors in self.errors.values() for one in errors]
        if not found:
            try:
                self._measured()
            except TypedError as refused:
                found = [refused.message]
        return list(dict.fromkeys(found))

    @cached_property
    def angle(self) -> PictureAngle | None:
        """What the points say; None where something is missing or contradicts itself."""
        return None if self.wrong else self._measured()

    def _measured(self) -> PictureAngle:
        typed = self.cleaned_data
        apart = typed["apart"]
        return picture_angle(
            marked=self._marked(typed),
            apart=None if apart is None else apart * 10,
            tap=TAP_ON_SCREEN * typed["per_pixel"],
            landmark=LANDMARK_MM if typed["landmark"] is None else typed["landmark"],
        )

    def _marked(self, typed: Mapping[str, Any]) -> Marked:
        line = (typed["level_a"], typed["level_b"])
        leg = (typed["hip"], typed["knee"], typed["ankle"])
        return Marked(
            limb=self.limb,
            view=View(typed["view"]),
            stance=typed["stance"],
            swing=typed["swing"],
            level_line=line if all(line) else None,
            leg=leg if all(leg) else None,
        )


class Said:
    """What the page says about the marked points."""

    def __init__(self, form: PictureForm) -> None:
        self.form = form
        self.found = form.angle

    @property
    def wrong(self) -> list[str]:
        """What to put right first."""
        return self.form.wrong

    @property
    def side(self) -> str:
        """Which side drops, as the house says it."""
        if self.found is None:
            return ""
        limb, degrees = self.form.limb, Fraction(self.found.degrees)
        if pelvis_grade(degrees=-degrees) != "level":
            return f"Standing on the {limb}, the {limb.opposite} side of the pelvis is held higher."
        return drop_words(standing=limb, grade=pelvis_grade(degrees=degrees))

    @property
    def degrees(self) -> str:
        """The angle without a sign, to a tenth of a degree."""
        return "" if self.found is None else f"{abs(self.found.degrees):.1f}°"

    @property
    def lower(self) -> str:
        """Which side is lower."""
        if self.found is None:
            return ""
        limb = self.form.limb
        return str(limb if self.found.degrees < 0 else limb.opposite)

    @property
    def error(self) -> str:
        """One standard error, to a tenth of a degree."""
        return "" if self.found is None else f"{self.found.error:.1f}"

    @property
    def interval(self) -> str:
        """The angle minus and plus its error."""
        if self.found is None:
            return ""
        ends = (self.found.degrees - self.found.error, self.found.degrees + self.found.error)
        return " to ".join(f"{end:.1f}".replace("-", "−") for end in ends)

    @property
    def view(self) -> str:
        """From where the patient is seen."""
        return dict(VIEWS)[self.form.cleaned_data["view"]]

    @property
    def counted(self) -> str:
        """What the error is made of, and what was assumed for it."""
        typed = self.form.cleaned_data
        landmark = LANDMARK_MM if typed["landmark"] is None else typed["landmark"]
        apart = typed["apart"]
        known = APART_MM[View(typed["view"])] / 10 if apart is None else apart
        how = "assumed" if apart is None else "as typed"
        return (
            f"Counted: {landmark} mm from each marked point to the bone, {TAP_ON_SCREEN} pixels of "
            f"the screen for each tap, {known} cm between the pelvis points ({how})."
        )

    @property
    def tilt(self) -> bool:
        """Whether a level line takes the tilt of the camera off."""
        return bool(self.form.cleaned_data.get("level_a"))

    @property
    def spans(self) -> str:
        """The grades that the interval touches, where there are several."""
        grades = () if self.found is None or self.found.proposed else self.found.grades
        return " or ".join([", ".join(grades[:-1]), grades[-1]]) if grades else ""

    @property
    def surer(self) -> str:
        """What would make it surer."""
        stickers = "stickers set by feel before the task"
        if self.form.cleaned_data["view"] == View.FRONT:
            return stickers
        return f"a picture from in front, or {stickers}"

    @property
    def knee(self) -> str:
        """The knee's angle in words; empty where the leg is not marked."""
        if self.found is None or self.found.knee is None:
            return ""
        where = "outward" if self.found.knee < 0 else "inward"
        return f"{abs(self.found.knee):.1f}° {where}, may be off by {self.found.knee_error:.1f}°"


def pictured(*, sheet: VisitSheet, row: str) -> Measure | None:
    """The measure of a row that grades a pelvic drop; None for every other row."""
    name = row_name(row)
    measure = sheet.measures.get(name.code) if name and name.task is None else None
    return measure if measure is not None and is_pelvic_drop(measure=measure) else None
