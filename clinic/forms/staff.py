"""Invitations, roles, sites and tablets: what the clinic lead fills in."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.validators import RegexValidator

from clinic.forms.lock import DescribeForm, password_field, same
from clinic.models.places import MAJORITY, PAPERS, ROLES, UNITS, Site, StaffMember

_NAME = RegexValidator(
    r"^[a-z0-9][a-z0-9._-]{1,59}$",
    "Use 2 to 60 small letters, digits, dots, dashes or underscores.",
)


@cache
def zones() -> list[tuple[str, str]]:
    """Every time zone with a place's name, and UTC."""
    return [(name, name) for name in sorted(available_timezones()) if "/" in name or name == "UTC"]


class _AtSites(forms.Form):
    """A form with a choice among the sites that the person leads."""

    site = forms.ChoiceField(label="Site")

    def __init__(self, *args: Any, sites: Sequence[Site], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._sites = {site.code: site for site in sites}
        field = self.fields["site"]
        _choose_from(field, [(site.code, site.name) for site in sites])

    def clean_site(self) -> Site:
        """The site itself."""
        return self._sites[self.cleaned_data["site"]]


def _choose_from(field: forms.Field, choices: list[tuple[str, str]]) -> None:
    """Give a choice field its choices."""
    field.choices = choices  # type: ignore[attr-defined]


class InviteForm(_AtSites):
    """Whom to invite, to what, where."""

    key = forms.UUIDField(widget=forms.HiddenInput)
    full_name = forms.CharField(label="Full name", max_length=120)
    role = forms.ChoiceField(label="Role", choices=ROLES)
    field_order = ["full_name", "role", "site", "key"]


class RoleForm(_AtSites):
    """One more role for a colleague."""

    staff = forms.ChoiceField(label="Colleague")
    role = forms.ChoiceField(label="Role", choices=ROLES)
    field_order = ["staff", "role", "site"]

    def __init__(self, *args: Any, people: Sequence[StaffMember], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _choose_from(self.fields["staff"], [(str(p.pk), p.full_name) for p in people])


class TabletForm(_AtSites):
    """The tablet at hand: what it is called, and where it lies."""

    key = forms.UUIDField(widget=forms.HiddenInput)
    label = forms.CharField(label="What people call it", max_length=60)
    field_order = ["label", "site", "key"]


class RenewForm(forms.Form):
    """A new link for a colleague who forgot the password."""

    key = forms.UUIDField(widget=forms.HiddenInput)


class OpenForm(forms.Form):
    """What a new clinic begins with."""

    organisation = forms.CharField(max_length=120)
    site = forms.CharField(max_length=80)
    zone = forms.ChoiceField(choices=zones)
    lead = forms.CharField(max_length=120)


class NewSiteForm(forms.Form):
    """One more site."""

    key = forms.UUIDField(widget=forms.HiddenInput)
    name = forms.CharField(label="Name", max_length=80)
    zone = forms.ChoiceField(label="Time zone", choices=zones)


class SiteForm(forms.Form):
    """What a site sets."""

    name = forms.CharField(label="Name", max_length=80)
    zone = forms.ChoiceField(label="Time zone", choices=zones)
    units = forms.ChoiceField(label="Units people type", choices=UNITS)
    paper = forms.ChoiceField(label="Paper", choices=PAPERS)
    emergency_line = forms.CharField(
        label="Emergency line, shown with urgent red flags", max_length=120, required=False
    )
    letterhead = forms.CharField(
        label="Letterhead, the address lines on letters",
        max_length=600,
        required=False,
        widget=forms.Textarea(attrs={"rows": 4}),
    )
    proposals = forms.BooleanField(label="Propose the next step of each exercise", required=False)
    pictures = forms.BooleanField(label="Angle from a picture", required=False)
    keep_pictures = forms.BooleanField(
        label="Keep such a picture in the record once the patient agreed", required=False
    )
    majority = forms.IntegerField(
        label="Age of majority, years",
        min_value=MAJORITY[0],
        max_value=MAJORITY[1],
        help_text="This clinic’s setting, no source: laws differ, set it to your local law. "
        "Younger patients and a parent or guardian agree together to a kept picture.",
    )

    def clean(self) -> dict[str, Any]:
        """Pictures are kept only where angles are read off them."""
        cleaned = super().clean() or {}
        if cleaned.get("keep_pictures") and not cleaned.get("pictures"):
            self.add_error("keep_pictures", "Switch on the angle from a picture first.")
        return cleaned


class RenewPasswordForm(forms.Form):
    """A new password for someone whose sign-in name exists."""

    password = password_field("Password, at least 15 characters", "new-password")
    password_again = password_field("The same password again", "new-password")

    def __init__(self, *args: Any, person: StaffMember, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._person = person

    def clean(self) -> dict[str, Any]:
        """Both passwords are the same, and the rules accept it for this person."""
        cleaned = super().clean() or {}
        same(self, cleaned, "password", "Type the same password in both fields.")
        if "password" in cleaned:
            self._person.username = cleaned.get("username", self._person.username)
            try:
                validate_password(cleaned["password"], self._person)
            except ValidationError as error:
                self.add_error("password", error)
        return cleaned


class AcceptForm(RenewPasswordForm, DescribeForm):
    """How a new person signs in, and what letters print under their name."""

    username = forms.CharField(
        label="Username",
        max_length=60,
        validators=[_NAME],
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none"}),
    )
    field_order = ["username", "password", "password_again", "credential", "contact"]
