"""How the sign-in library meets the house: closed sign-up, audited sign-in, secrets at rest."""

from __future__ import annotations

import base64
from hashlib import sha256
from typing import Any

from allauth.account.adapter import DefaultAccountAdapter, get_adapter
from allauth.core.internal.httpkit import get_client_ip
from allauth.mfa.adapter import DefaultMFAAdapter
from cryptography.fernet import Fernet, MultiFernet
from django.conf import settings
from django.http import HttpRequest, HttpResponse

from clinic import audit, clock
from clinic.http import Unprocessable, problem
from clinic.queries import staff
from clinic.services import own
from clinic.views import device

_PLAIN = ("account/messages/logged_in.txt", "account/messages/logged_out.txt")


def request_id(request: HttpRequest) -> Any:
    """The identity that the first middleware gave the request."""
    return request.request_id  # type: ignore[attr-defined]


def client_address(request: HttpRequest) -> str | None:
    """Where a request comes from, behind as many proxies as PROXY_COUNT says."""
    address: str | None = get_client_ip(request)
    return address


def password_is_right(request: HttpRequest, password: str) -> bool:
    """Whether that is the password of who is signed in; wrong tries count toward the lock-out.

    Raises ``ValidationError`` after too many tries.
    """
    return bool(get_adapter().reauthenticate(request.user, password))


class ClosedAdapter(DefaultAccountAdapter):  # type: ignore[misc]
    """Nobody signs up: staff come by invitation. Every sign-in, right or wrong, is a row."""

    error_messages = {
        **DefaultAccountAdapter.error_messages,
        "username_password_mismatch": "This name and password do not belong together: "
        "type both again.",
    }

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        """Always closed."""
        return False

    def login(self, request: HttpRequest, user: Any) -> None:
        """A fresh session key, the start of the shift, PIN misses forgiven, one audit row."""
        super().login(request, user)
        now = clock.now().timestamp()
        request.session["signed_in_at"] = request.session["last_activity"] = now
        request.session["tablet"] = device.label_of(request, staff_id=user.pk)
        own.forgive_misses(staff_id=user.pk)
        audit.sign_in(staff_id=user.pk, request_id=request_id(request), act="sign_in")

    def logout(self, request: HttpRequest) -> None:
        """The session ends on the server."""
        staff_id = request.user.pk
        super().logout(request)
        audit.sign_in(staff_id=staff_id, request_id=request_id(request), act="sign_out")

    def authentication_failed(self, request: HttpRequest, **credentials: Any) -> None:
        """One row for a wrong sign-in, with the person whose name was tried if there is one."""
        if not request.user.is_authenticated:
            audit.sign_in(
                staff_id=staff.id_of(username=credentials.get("username", "")),
                request_id=request_id(request),
                act="sign_in",
                outcome="failed",
            )

    def add_message(
        self,
        request: HttpRequest,
        level: int,
        message_template: Any = None,
        *rest: Any,
        **more: Any,
    ) -> None:
        """Say what went wrong or was set up, but not that someone is now in or out."""
        if message_template not in _PLAIN:
            super().add_message(request, level, message_template, *rest, **more)

    def send_notification_mail(
        self, template_prefix: str, user: Any, *rest: Any, **more: Any
    ) -> None:
        """No mail: a second factor that came or went is a row."""
        audit.sign_in(
            staff_id=user.pk,
            request_id=request_id(self.request),
            act=template_prefix.rsplit("/", 1)[-1],
        )

    def respond_user_inactive(self, request: HttpRequest, user: Any) -> HttpResponse:
        """Someone who was switched off."""
        fault = Unprocessable("Ask the clinic lead.")
        fault.status, fault.title = 403, "This sign-in is switched off"
        return problem(request, fault)


class SealedAdapter(DefaultMFAAdapter):  # type: ignore[misc]
    """Second-factor secrets are encrypted at rest under the secret key, so backups hold none."""

    def generate_authenticator_name(self, user: Any, type: Any) -> str:
        """What a key is called until the person says otherwise."""
        return "My phone or computer"

    def encrypt(self, text: str) -> str:
        """Under the present secret key."""
        return _box().encrypt(text.encode()).decode()

    def decrypt(self, encrypted_text: str) -> str:
        """Under the present secret key or a former one."""
        return _box().decrypt(encrypted_text.encode()).decode()


def _box() -> MultiFernet:
    keys = [settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS]
    digests = (sha256(f"second factor:{key}".encode()).digest() for key in keys)
    return MultiFernet([Fernet(base64.urlsafe_b64encode(digest)) for digest in digests])
