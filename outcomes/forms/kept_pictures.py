"""The forms of keeping a picture, of erasing one, and of the agreement to it."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import QueryDict

from clinic.forms.base import ActForm, OneOf
from outcomes.models.pictures import AGREED_BY, VIEWS


class KeepForm(ActForm):
    """The file of one picture and from where it shows the patient."""

    view = forms.ChoiceField(choices=VIEWS, widget=forms.HiddenInput)
    picture = forms.FileField(
        widget=forms.FileInput(attrs={"hidden": True}),
        allow_empty_file=True,
        error_messages={"required": "Choose a picture first."},
    )


class EraseForm(ActForm):
    """Why one picture is erased."""

    reason = forms.CharField(
        label="Why it is erased",
        max_length=200,
        help_text="Stays to be read: no name, nothing of what the picture shows.",
        error_messages={"required": "Write why the picture is erased."},
    )


class AgreementForm(ActForm):
    """Who agreed, or took the agreement back; for a child the guardian by name and the child."""

    kind = forms.CharField(widget=forms.HiddenInput)
    agreed_by = OneOf(
        label="Who said so", choices=AGREED_BY, error_messages={"required": "Say who said so."}
    )
    guardian = forms.CharField(
        label="Parent or guardian: name and relation",
        max_length=160,
        error_messages={"required": "Write who agreed: name and relation."},
    )
    assented = OneOf(
        label="The young person agrees too",
        choices=[("yes", "yes"), ("no", "no")],
        error_messages={"required": "Ask the young person, and say what they answered."},
    )

    def __init__(
        self, data: QueryDict | None = None, *, kind: str, child: bool, on_record: str = ""
    ) -> None:
        super().__init__(data, auto_id=f"id_{kind}_%s", initial={"kind": kind})
        gives = kind == "given"
        if gives or not child:
            self.initial["agreed_by"] = "guardian" if child else "patient"
            self.fields["agreed_by"].widget = forms.HiddenInput()
        if not (gives and child):
            del self.fields["assented"]
        if not child:
            del self.fields["guardian"]
            return
        self.fields["guardian"].required = gives
        if on_record:
            self.fields["guardian"].help_text = f"On record: {on_record}."

    @property
    def said(self) -> dict[str, Any]:
        """What was said, as the service keeps it. Ask only after ``is_valid``."""
        assented = self.cleaned_data.get("assented")
        return {
            "agreed_by": self.cleaned_data["agreed_by"],
            "guardian": self.cleaned_data.get("guardian", ""),
            "assented": None if assented is None else assented == "yes",
        }
