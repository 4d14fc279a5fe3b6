"""The forms of keeping a picture, of erasing one, and of the agreement to it."""

from __future__ import annotations

from django import forms

from clinic.forms.base import ActForm, OneOf
from outcomes.models.pictures import AGREED_BY, AGREEMENTS, VIEWS


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
    """Who agreed, or took the agreement back."""

    kind = forms.ChoiceField(choices=AGREEMENTS, widget=forms.HiddenInput)
    agreed_by = OneOf(
        label="Who said so", choices=AGREED_BY, error_messages={"required": "Say who said so."}
    )
