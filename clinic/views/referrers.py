"""The address book of surgeons and referrers."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpResponse
from django.views.decorators.http import require_POST

from clinic import access
from clinic.forms.referrers import AddReferrerForm, ReferrerForm, RetireForm
from clinic.http import StaffRequest, page
from clinic.permissions import Action
from clinic.queries.referrers import address_book
from clinic.services import referrers
from clinic.services.referrers import ReferrerDetails
from clinic.views.acting import attempt, form_page

_FIELDS = ("name", "kind", "practice", "address")


def referrer_list(request: StaffRequest) -> HttpResponse:
    """Everybody letters go to, those to choose from first."""
    access.site(request, Action.MANAGE_REFERRERS)
    rows = address_book()
    access.listed(request, Action.MANAGE_REFERRERS, "referrer", [row.pk for row in rows])
    return page(request, "clinic/referrers.html", {"rows": rows})


def add_referrer(request: StaffRequest) -> HttpResponse:
    """A new entry."""
    access.site(request, Action.MANAGE_REFERRERS)
    form = AddReferrerForm(request.POST or None)
    answer = attempt(
        form,
        lambda: referrers.add(
            actor=request.actor,
            key=form.cleaned_data["key"],
            details=ReferrerDetails(**form.typed(_FIELDS)),
        ),
    )
    return answer or form_page(request, "clinic/referrer.html", form, {})


def edit_referrer(request: StaffRequest, uid: UUID) -> HttpResponse:
    """Change an entry; letters that were signed keep what they say."""
    referrer = access.referrer(request, uid, Action.MANAGE_REFERRERS)
    now = {name: getattr(referrer, name) for name in _FIELDS}
    form = ReferrerForm(request.POST or None, initial={**now, "seen": referrer.version})
    answer = attempt(
        form,
        lambda: referrers.edit(
            actor=request.actor,
            key=form.cleaned_data["key"],
            referrer_id=referrer.pk,
            seen=form.cleaned_data["seen"],
            details=ReferrerDetails(**form.typed(_FIELDS)),
        ),
    )
    return answer or form_page(request, "clinic/referrer.html", form, {"referrer": referrer})


@require_POST
def retire_referrer(request: StaffRequest, uid: UUID) -> HttpResponse:
    """Take an entry off the lists to choose from, or put it back."""
    referrer = access.referrer(request, uid, Action.MANAGE_REFERRERS)
    form = RetireForm(request.POST, initial={"seen": referrer.version})
    answer = attempt(
        form,
        lambda: referrers.retire(
            actor=request.actor, referrer_id=referrer.pk, **form.typed(("key", "seen", "retired"))
        ),
    )
    return answer or form_page(request, "clinic/retire_referrer.html", form, {"referrer": referrer})
