"""What is shown when no view could answer: not found, refused, a form too old, a failure."""

from __future__ import annotations

import sys

from django.http import HttpRequest, HttpResponse

from clinic.http import Fault, problem
from clinic.middleware import NotThere, as_fault


class Failed(Fault):
    """Something that only a developer can mend."""

    status = 500
    title = "This did not work"


class TooOld(Fault):
    """A form without a valid token: the page was open across a sign-in, or came from elsewhere."""

    status = 403
    title = "This form was open too long"


def refused(request: HttpRequest, exception: Exception) -> HttpResponse:
    """403 and 404, as a page or a fragment; an address that no view knows is not there."""
    return problem(request, as_fault(request, exception) or NotThere("Nothing lies there."))


class Malformed(Fault):
    """A request that no page of ours sends."""

    status = 400
    title = "This request was not understood"


def malformed(request: HttpRequest, exception: Exception) -> HttpResponse:
    """400: a wrong host, or a session that ended while the request ran."""
    return problem(request, Malformed("Nothing was changed. Open Kneeledger's address again."))


def failed(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """A busy database says so, with the form kept; anything else has been logged.

    When the frame itself cannot be drawn the sentence stands alone.
    """
    fault = as_fault(request, sys.exc_info()[1]) or Failed(
        "It has been noted for the people who look after Kneeledger. Go back, check what you see, "
        "and try again."
    )
    try:
        return problem(request, fault)
    except Exception:  # the error page must not fail
        said = f"{fault.title}. {fault.what_to_do}"
        return HttpResponse(said, status=fault.status, content_type="text/plain; charset=utf-8")


def form_too_old(request: HttpRequest, reason: str = "") -> HttpResponse:
    """Nothing was changed; the page has to be opened afresh."""
    return problem(
        request, TooOld("Nothing was changed. Go back, load the page again and send it once more.")
    )
