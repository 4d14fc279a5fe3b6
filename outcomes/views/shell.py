"""What a tablet keeps to show an open visit again without network: nothing of a patient."""

from __future__ import annotations

from django.conf import settings
from django.contrib.staticfiles.storage import staticfiles_storage
from django.core import signing
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from clinic.http import page
from clinic.middleware import open_to_all
from outcomes.forms.visit_page import ShellPage
from outcomes.queries.shell import shell_named


def kept_as() -> str:
    """The name of this version's files in the browser's cache; empty where nothing is kept."""
    version = getattr(staticfiles_storage, "manifest_hash", "") or settings.VERSION
    return f"kneeledger-{version}" if settings.RELOAD_WITHOUT_NETWORK else ""


@open_to_all
@require_GET
def shell(request: HttpRequest, name: str) -> HttpResponse:
    """The ledger of one set of rows for the followed knees, without a patient."""
    try:
        found = shell_named(name)
    except signing.BadSignature:
        raise Http404 from None
    return page(request, "outcomes/visit.html", {"shown": ShellPage(shell=found), "shell": True})


@open_to_all
@require_GET
def without_network(request: HttpRequest) -> HttpResponse:
    """What stands in place of a visit that this tablet may not or cannot show."""
    return page(request, "outcomes/without_network.html", {"shell": True})


@open_to_all
@require_GET
def worker(request: HttpRequest) -> HttpResponse:
    """The script that answers without network; switched off, one that clears up and goes."""
    name = "worker.js" if settings.RELOAD_WITHOUT_NETWORK else "worker_off.js"
    context = {"kept_as": kept_as(), "static": settings.STATIC_URL}
    response = render(request, f"outcomes/{name}", context, content_type="text/javascript")
    response["Cache-Control"] = "no-cache"
    return response
