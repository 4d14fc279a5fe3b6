"""The lock: it hides the patient, keeps the drafts, and opens by PIN, password or passkey."""

from __future__ import annotations

from typing import Any, cast

from allauth.account.adapter import get_adapter
from allauth.mfa.models import Authenticator
from allauth.mfa.utils import is_mfa_enabled
from allauth.mfa.webauthn.forms import ReauthenticateWebAuthnForm
from allauth.mfa.webauthn.internal.auth import begin_authentication
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme, urlencode
from django.views.decorators.http import require_POST

from clinic import audit, clock
from clinic.forms.lock import UnlockForm
from clinic.http import StaffRequest, page
from clinic.middleware import lock_session, open_to_all, shift_is_over
from clinic.services import own
from clinic.services.own import PinAnswer
from clinic.views import device
from clinic.views.adapters import password_is_right, request_id


@require_POST
def lock_now(request: StaffRequest) -> HttpResponse:
    """Hide the patient at once; the way back is kept."""
    lock_session(request)
    back = _inside(request, request.POST.get("next", ""))
    return HttpResponseRedirect(f"{reverse('lock')}?{urlencode({'next': back})}")


@open_to_all
def lock(request: HttpRequest) -> HttpResponse:
    """The lock's page, which locks whoever opens it, and what was typed on it."""
    back = _inside(request, request.POST.get("next") or request.GET.get("next", ""))
    if not request.user.is_authenticated:
        return HttpResponseRedirect(f"{reverse('account_login')}?{urlencode({'next': back})}")
    if shift_is_over(request):
        return _full_sign_in(request)
    locked = request.session.get("locked")
    if request.method == "POST":
        return _try(request, back) if locked else HttpResponseRedirect(back)
    if not locked:
        lock_session(request)
    return _show(request, _form(request, initial={"next": back}))


def _who(request: HttpRequest) -> int:
    return cast(int, request.user.pk)


def _inside(request: HttpRequest, address: str) -> str:
    """The address if it is one of ours and no verb, else home."""
    ours = url_has_allowed_host_and_scheme(address, allowed_hosts={request.get_host()})
    return address if ours and address != reverse("lock") else reverse("home")


def _form(request: HttpRequest, data: Any = None, **kwargs: Any) -> UnlockForm:
    staff_id = _who(request)
    pin_works = own.pin_works(staff_id=staff_id) and device.label_of(request, staff_id=staff_id)
    return UnlockForm(data, pin_works=bool(pin_works), **kwargs)


def _show(request: HttpRequest, form: UnlockForm, status: int = 200) -> HttpResponse:
    context: dict[str, Any] = {"form": form, "locked_for": request.user, "next": _next(form)}
    if is_mfa_enabled(request.user, [Authenticator.Type.WEBAUTHN]):
        context["js_data"] = {"request_options": begin_authentication(request.user)}
    return page(request, "clinic/lock.html", context, status=status)


def _next(form: UnlockForm) -> str:
    value = form.data.get("next") if form.is_bound else form.initial.get("next")
    return str(value or "")


def _try(request: HttpRequest, back: str) -> HttpResponse:
    """One try to unlock; each is a row."""
    form = _form(request, request.POST)
    if "credential" in request.POST:
        by_key = ReauthenticateWebAuthnForm(request.POST, user=request.user)
        return _opened(request, back) if by_key.is_valid() else _missed(request, form)
    if not form.is_valid():
        return _show(request, form, status=422)
    if "pin" in form.cleaned_data:
        answer = own.try_pin(staff_id=_who(request), pin=form.cleaned_data["pin"])
        if answer is PinAnswer.SPENT:
            _missed(request, form)
            return _full_sign_in(request)
        if answer is PinAnswer.RIGHT:
            response = _opened(request, back)
            device.remember(response, device.key_of(request))
            return response
        form.add_error("pin", "That is not your PIN: type it again.")
        return _missed(request, form)
    try:
        if password_is_right(request, form.cleaned_data["password"]):
            return _opened(request, back)
        form.add_error("password", "That is not your password: type it again.")
    except ValidationError as error:
        form.add_error("password", error)
    return _missed(request, form)


def _missed(request: HttpRequest, form: UnlockForm) -> HttpResponse:
    audit.sign_in(
        staff_id=request.user.pk, request_id=request_id(request), act="unlock", outcome="failed"
    )
    if not form.errors:
        form.add_error(None, "That key was not accepted: try again, or type your password.")
    return _show(request, form, status=422)


def _full_sign_in(request: HttpRequest) -> HttpResponse:
    """End the session: only name and password, or a passkey, begin another."""
    get_adapter().logout(request)
    return HttpResponseRedirect(reverse("account_login"))


def _opened(request: HttpRequest, back: str) -> HttpResponse:
    """Unlocked: a new session key; a form that was sent to the lock is offered again."""
    audit.sign_in(staff_id=request.user.pk, request_id=request_id(request), act="unlock")
    request.session.cycle_key()
    request.session.pop("locked", None)
    request.session["last_activity"] = clock.now().timestamp()
    kept = request.session.pop("kept", None)
    if kept:
        return page(request, "clinic/lock_kept.html", {"kept": kept})
    return HttpResponseRedirect(back)
