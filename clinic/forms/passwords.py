"""A password made of the clinic's own words is guessed first, so it is refused."""

from __future__ import annotations

import re

from django.core.exceptions import ValidationError

from clinic.models.places import Organisation, Site, StaffMember

_TRADE = ("kneeledger", "physiotherapy", "physio", "clinic", "rehab", "knee", "password")
_REST = 8


class OwnWords:
    """Refuses a password of which fewer than eight letters remain without the clinic's words."""

    def validate(self, password: str, user: StaffMember | None = None) -> None:
        """Raise ``ValidationError`` when the password is little more than those words."""
        names = [*Organisation.objects.values_list("name", flat=True)]
        names += Site.objects.values_list("name", flat=True)
        if user is not None:
            names += [user.full_name, user.username]
        words = {word for name in names for word in re.findall(r"\w{3,}", name.casefold())}
        rest = password.casefold()
        for word in sorted(words | set(_TRADE), key=len, reverse=True):
            rest = rest.replace(word, "")
        if len(re.findall(r"[^\W\d_]", rest)) < _REST:
            raise ValidationError(
                "Mostly the clinic's own words, names or digits: use four words of another kind."
            )

    def get_help_text(self) -> str:
        """What the rule asks for."""
        return "Not the clinic's own words or names."
