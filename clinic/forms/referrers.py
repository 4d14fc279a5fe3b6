"""The address book."""

from __future__ import annotations

from django import forms

from clinic.forms.base import ActForm, EditForm, OneOf
from clinic.models.people import Referrer


class _ReferrerFields(forms.Form):
    """Who refers, and where letters go."""

    name = forms.CharField(label="Name as on letters", max_length=120)
    kind = OneOf(label="Who they are", choices=Referrer.KINDS)
    practice = forms.CharField(label="Hospital or practice", max_length=120, required=False)
    address = forms.CharField(
        label="Address", max_length=400, required=False, widget=forms.Textarea(attrs={"rows": 3})
    )


class AddReferrerForm(_ReferrerFields, ActForm):
    """A new entry."""


class ReferrerForm(_ReferrerFields, EditForm):
    """An entry that exists."""


class RetireForm(EditForm):
    """Off the lists to choose from, or back."""

    retired = forms.BooleanField(required=False)
