"""Unlocking, and what people set for themselves."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import Any

from allauth.mfa.webauthn.forms import AddWebAuthnForm
from django import forms
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.validators import RegexValidator

from clinic.models.places import StaffMember

Check = Callable[[str], bool]


def pin_field(label: str) -> forms.CharField:
    """Six digits, typed on the tablet's number pad and not shown."""
    return forms.CharField(
        label=label,
        min_length=6,
        max_length=6,
        validators=[RegexValidator(r"^[0-9]{6}$", "Type six digits.")],
        error_messages={"min_length": "Type six digits.", "max_length": "Type six digits."},
        widget=forms.PasswordInput(
            attrs={"inputmode": "numeric", "autocomplete": "off", "pattern": "[0-9]{6}"}
        ),
    )


def password_field(label: str, autocomplete: str) -> forms.CharField:
    """A password as it is typed, spaces and all, that a password manager may fill in."""
    return forms.CharField(
        label=label,
        strip=False,
        max_length=256,
        widget=forms.PasswordInput(attrs={"autocomplete": autocomplete}),
    )


class UnlockForm(forms.Form):
    """A PIN or a password, whichever is typed; ``next`` is checked by the view."""

    pin = pin_field("Your six-digit PIN")
    password = password_field("Your password", "current-password")
    next = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, pin_works: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        by_pin = pin_works and "pin" in self.data
        if self.is_bound:
            del self.fields["password" if by_pin else "pin"]
        elif not pin_works:
            del self.fields["pin"]


class _Confirmed(forms.Form):
    """A form that asks for the present password once more."""

    present_password = password_field("Your present password", "current-password")

    def __init__(self, *args: Any, check: Check, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._check = check

    def clean_present_password(self) -> str:
        """The present password, verified."""
        present: str = self.cleaned_data["present_password"]
        if not self._check(present):
            raise ValidationError("That is not your present password.")
        return present


class PinForm(_Confirmed):
    """A new PIN, twice."""

    pin = pin_field("New six-digit PIN")
    pin_again = pin_field("The same six digits again")
    field_order = ["present_password", "pin", "pin_again"]

    def clean_pin(self) -> str:
        """Six digits that nobody guesses within five tries."""
        pin: str = self.cleaned_data["pin"]
        steps = {(int(b) - int(a)) % 10 for a, b in pairwise(pin)}
        if len(set(pin)) < 3 or steps in ({1}, {9}) or pin[:3] == pin[3:]:
            raise ValidationError("Too easy to guess: use at least three digits, in no sequence.")
        return pin

    def clean(self) -> dict[str, Any]:
        """Both PINs are the same."""
        cleaned = super().clean() or {}
        same(self, cleaned, "pin", "Type the same six digits in both fields.")
        return cleaned


class PasswordForm(_Confirmed):
    """A new password, twice."""

    password = password_field("New password, at least 15 characters", "new-password")
    password_again = password_field("The new password again", "new-password")
    field_order = ["present_password", "password", "password_again"]

    def __init__(self, *args: Any, person: StaffMember, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._person = person

    def clean_password(self) -> str:
        """A password that the rules accept."""
        password: str = self.cleaned_data["password"]
        validate_password(password, self._person)
        return password

    def clean(self) -> dict[str, Any]:
        """Both passwords are the same."""
        cleaned = super().clean() or {}
        same(self, cleaned, "password", "Type the same password in both fields.")
        return cleaned


class DescribeForm(forms.Form):
    """What is printed under a person's name."""

    credential = forms.CharField(
        label="Credential", help_text="Letters print it under your name.", max_length=80,
        required=False,
    )  # fmt: skip
    contact = forms.CharField(
        label="Contact line", help_text="Letters print it under the credential.", max_length=120,
        required=False,
    )  # fmt: skip


class AddKeyForm(AddWebAuthnForm):  # type: ignore[misc]
    """A passkey; unless unticked it signs in without the password."""

    passwordless = forms.BooleanField(
        label="It signs me in without a password",
        required=False,
        initial=True,
        help_text="It then asks for your finger, your face or the device's own PIN.",
    )


def same(form: forms.Form, cleaned: dict[str, Any], name: str, words: str) -> None:
    """Add an error to the second of two fields that must hold the same."""
    again = f"{name}_again"
    if name in cleaned and again in cleaned and cleaned[name] != cleaned[again]:
        form.add_error(again, words)
