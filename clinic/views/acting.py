"""How a posted form becomes an act: one verb, then an answer, or the form again with reasons."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.http import HttpResponse, HttpResponseRedirect

from clinic import access
from clinic.forms.base import ActForm, EditForm
from clinic.http import Conflict, StaffRequest, Unprocessable, page
from clinic.permissions import Action, may
from clinic.services.rules import Refused


def key_of(request: StaffRequest) -> UUID:
    """The key of an act that has no other field. Raises ``Unprocessable`` without one."""
    form = ActForm(request.POST)
    if not form.is_valid():
        raise Unprocessable("Open the page afresh and enter it again.")
    key: UUID = form.cleaned_data["key"]
    return key


def attempt(form: ActForm, act: Callable[[], str]) -> HttpResponse | None:
    """Go where the act answers; or None, with the reasons on the form and nothing lost."""
    if not form.is_valid():
        return None
    try:
        return HttpResponseRedirect(act())
    except Refused as refused:
        form.refuse(refused.errors)
    except Conflict as conflict:
        if not isinstance(form, EditForm):
            raise
        form.meet(conflict.what_to_do)
    return None


def form_page(
    request: StaffRequest, template: str, form: ActForm, context: dict[str, Any]
) -> HttpResponse:
    """The page of a form: 200 when it is fresh, 422 or 409 when it came back."""
    status = 422 if form.is_bound else 200
    if isinstance(form, EditForm) and form.conflict:
        status = 409
    return page(request, template, {"form": form, **context}, status=status)


def rights(request: StaffRequest, patient: Any, *actions: Action) -> dict[str, bool]:
    """Which of the actions the person may do for this patient, by code: for a page's buttons."""
    roles = access.roles_for(request, patient)
    return {action.value: may(roles=roles, action=action) for action in actions}
