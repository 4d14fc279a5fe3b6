"""The typed request, pages and named regions, and faults as page and fragment."""

from __future__ import annotations

import json
import logging
from typing import TYPE_CHECKING, Any
from uuid import UUID, uuid4

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.cache import patch_vary_headers
from django_htmx.middleware import HtmxDetails

from clinic.permissions import Action, Actor, Role, may

if TYPE_CHECKING:
    from clinic.models.places import Site, StaffMember


class StaffRequest(HttpRequest):
    """A request of someone who has signed in and holds at least one role."""

    htmx: HtmxDetails
    request_id: UUID
    staff: StaffMember
    site: Site  # type: ignore[assignment]
    sites: list[Site]
    roles_by_site: dict[int, frozenset[Role]]
    roles: frozenset[Role]
    """The roles at the site that is worked at now."""
    actor: Actor


class Fault(Exception):
    """Something that a person can do something about: shown as a page, or as a fragment."""

    status = 422
    title = "That could not be done"

    def __init__(self, what_to_do: str, *, context: dict[str, Any] | None = None) -> None:
        super().__init__(what_to_do)
        self.what_to_do = what_to_do
        self.context = context or {}


class Unprocessable(Fault):
    """The act does not fit the record as it stands."""


class Conflict(Fault):
    """Somebody else changed the same thing meanwhile; nothing was overwritten."""

    status = 409
    title = "Changed by someone else meanwhile"


class KeyReused(Fault):
    """The same form was posted again with other content."""

    status = 409
    title = "This form was already sent with other content"


class NotSaved(Fault):
    """The database did not take it: what was typed is still in the form."""

    status = 503
    title = "NOT saved"


def page(
    request: HttpRequest,
    template: str,
    context: dict[str, Any] | None = None,
    *,
    region: str = "",
    status: int = 200,
) -> HttpResponse:
    """A full page, or its named region when htmx asked for it."""
    htmx: HtmxDetails = request.htmx  # type: ignore[attr-defined]
    name = f"{template}#{region}" if region and htmx else template
    response = render(request, name, context, status=status)
    patch_vary_headers(response, ["HX-Request"])
    return response


def problem(request: HttpRequest, fault: Fault) -> HttpResponse:
    """A fault as a page, or as a fragment for the alert region; a plain form keeps its fields."""
    htmx = getattr(request, "htmx", False)
    kept = posted(request) if fault.status == 503 else []
    context = {"fault": fault, "kept": kept, **fault.context}
    response = render(
        request, "_problem.html" if htmx else "problem.html", context, status=fault.status
    )
    if htmx:
        response["HX-Retarget"] = fault.context.get("target", "#alert")
        response["HX-Reswap"] = "innerHTML"
    patch_vary_headers(response, ["HX-Request"])
    return response


def posted(request: HttpRequest) -> list[tuple[str, str]]:
    """The fields of a posted form that may be offered again: no token, password or PIN."""
    return [
        (name, value)
        for name, values in request.POST.lists()
        for value in values
        if name not in ("csrfmiddlewaretoken", "pin", "pin_again") and "password" not in name
    ]


def new_key() -> str:
    """A fresh key for a form: posting it twice has one effect."""
    return str(uuid4())


_NAV: tuple[tuple[str, str, Action], ...] = (
    ("Today", "today", Action.SEE_DAY),
    ("Patients", "find_patients", Action.FIND_PATIENTS),
    ("Caseload", "caseload", Action.SEE_CASELOAD),
    ("Hand-overs", "handovers", Action.HAND_OVER),
    ("Referrers", "referrers", Action.MANAGE_REFERRERS),
    ("Clinic", "clinic_settings", Action.MANAGE_STAFF),
)


def frame(request: HttpRequest) -> dict[str, Any]:
    """What every page's frame shows: who is signed in, where, and the way around."""
    who = getattr(request, "staff", None)
    values: dict[str, Any] = {
        "who": who,
        "idle_seconds": settings.IDLE_LOCK_SECONDS,
        "nav": [],
        "new_key": new_key,
    }
    if who is None or not isinstance(getattr(request, "actor", None), Actor):
        return values
    staffed: StaffRequest = request  # type: ignore[assignment]
    values["site"] = staffed.site
    values["sites"] = staffed.sites
    values["roles"] = sorted(role.value for role in staffed.roles)
    values["nav"] = [
        (label, address := reverse(name), request.path.startswith(address))
        for label, name, action in _NAV
        if any(may(roles=roles, action=action) for roles in staffed.roles_by_site.values())
    ]
    return values


class JsonLines(logging.Formatter):
    """Log records as JSON lines: the route's name instead of the path, and no values."""

    def format(self, record: logging.LogRecord) -> str:
        """One line: time, level, logger, route, request id and the kind of exception."""
        request = getattr(record, "request", None)
        match = getattr(request, "resolver_match", None)
        line = {
            "at": self.formatTime(record, "%Y-%m-%dT%H:%M:%S%z"),
            "level": record.levelname,
            "logger": record.name,
            "message": record.msg if not record.args else record.name,
            "route": match.view_name if match else "",
            "status": getattr(record, "status_code", None),
            "request_id": str(getattr(request, "request_id", "")),
            "exception": record.exc_info[0].__name__
            if record.exc_info and record.exc_info[0]
            else "",
        }
        if record.exc_info and record.exc_info[2]:
            line["where"] = _where(record.exc_info[2])
        return json.dumps(line)


def _where(trace: Any) -> list[str]:
    """File and line of each frame, without any value."""
    frames = []
    while trace:
        code = trace.tb_frame.f_code
        frames.append(f"{code.co_filename.rsplit('/', 2)[-1]}:{trace.tb_lineno} {code.co_name}")
        trace = trace.tb_next
    return frames[-8:]
