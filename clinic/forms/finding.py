"""The search box."""

from django import forms


class FindForm(forms.Form):
    """One box; what was typed is read as a name, a record number or a birth date."""

    text = forms.CharField(
        label="Name, record number or birth date",
        max_length=160,
        error_messages={"required": "Type a name, a record number or a birth date."},
        widget=forms.TextInput(attrs={"type": "search", "autocomplete": "off", "autofocus": True}),
    )
