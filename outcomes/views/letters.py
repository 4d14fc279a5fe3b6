"""Letters: one click drafts, a page edits and previews, signing keeps the bytes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar
from uuid import UUID

from django.http import HttpResponse, HttpResponseRedirect
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from clinic import access as doors
from clinic import clock
from clinic.forms.base import ActForm
from clinic.http import StaffRequest, Unprocessable, page
from clinic.permissions import Action
from clinic.views.acting import attempt, form_page, rights
from outcomes import access
from outcomes.forms.letters import LetterActForm, LetterForm
from outcomes.letters import pdf
from outcomes.letters.printing import reference, sheet_of
from outcomes.queries.letters import letter_head, people_of
from outcomes.services import letters as service

if TYPE_CHECKING:
    from outcomes.models.letters import Letter

Form = TypeVar("Form", bound=ActForm)
TEMPLATE = "outcomes/letter.html"
FRESH = "Open the page afresh and press the button again."


@require_POST
def draft(request: StaffRequest, uid: UUID) -> HttpResponse:
    """One click: a draft to the surgeon or referrer, then its page."""
    episode = doors.episode(request, uid, Action.WRITE_LETTER)
    form = _act(ActForm(request.POST))
    return HttpResponseRedirect(
        service.draft(actor=request.actor, key=form.cleaned_data["key"], episode=episode)
    )


@require_http_methods(["GET", "POST"])
def letter(request: StaffRequest, uid: UUID) -> HttpResponse:
    """The page of a letter; by POST what was typed is kept."""
    if request.method == "GET":
        return _shown(request, access.letter(request, uid, Action.READ_LETTER))
    found = access.letter(request, uid, Action.WRITE_LETTER)
    form = _form(found, request)
    answer = attempt(
        form,
        lambda: service.edit(
            actor=request.actor,
            letter=found,
            edited=form.edited(),
            **form.typed(("key", "seen")),
        ),
    )
    return answer or _shown(request, found, form)


@require_POST
def sign(request: StaffRequest, uid: UUID) -> HttpResponse:
    """Keep what was typed and sign it, in one act."""
    found = access.letter(request, uid, Action.WRITE_LETTER)
    form = _form(found, request)
    answer = attempt(
        form,
        lambda: service.sign(
            actor=request.actor,
            letter=found,
            edited=form.edited(),
            **form.typed(("key", "seen", "as_it_stood")),
        ),
    )
    return answer or _shown(request, found, form)


@require_POST
def refresh(request: StaffRequest, uid: UUID) -> HttpResponse:
    """Take up the record as it is now."""
    found = access.letter(request, uid, Action.WRITE_LETTER)
    form = _act(LetterActForm(request.POST))
    return HttpResponseRedirect(
        service.refresh(actor=request.actor, letter=found, **form.typed(("key", "seen")))
    )


@require_POST
def replace(request: StaffRequest, uid: UUID) -> HttpResponse:
    """A new draft that takes the place of a signed letter."""
    found = access.letter(request, uid, Action.WRITE_LETTER)
    form = _act(ActForm(request.POST))
    return HttpResponseRedirect(
        service.replace_letter(actor=request.actor, key=form.cleaned_data["key"], letter=found)
    )


@require_POST
def discard(request: StaffRequest, uid: UUID) -> HttpResponse:
    """Throw a draft away."""
    found = access.letter(request, uid, Action.WRITE_LETTER)
    form = _act(LetterActForm(request.POST))
    return HttpResponseRedirect(
        service.discard(actor=request.actor, letter=found, **form.typed(("key", "seen")))
    )


@require_GET
def print_letter(request: StaffRequest, uid: UUID) -> HttpResponse:
    """The PDF: a draft with "draft" across it, or the very bytes that were signed."""
    found = access.letter(request, uid, Action.READ_LETTER)
    name = f"letter-{reference(letter=found)}{'' if found.document_id else '-draft'}.pdf"
    return HttpResponse(
        service.printed(actor=request.actor, letter=found),
        content_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}"'},
    )


def _act(form: Form) -> Form:
    """A form of one button; one that does not parse was not made by our page."""
    if not form.is_valid():
        raise Unprocessable(FRESH)
    return form


def _form(found: Letter, request: StaffRequest | None = None) -> LetterForm:
    people, to_spell = people_of(letter=found), sheet_of(letter=found).to_spell
    spellings = {f"spell_{n}": found.spellings.get(word, "") for n, word in enumerate(to_spell)}
    typed = {name: getattr(found, name) for name in LetterForm.OF_THE_ROW}
    return LetterForm(
        request.POST if request else None,
        people=people.all,
        near=people.near,
        words_to_spell=to_spell,
        today=clock.today(found.episode.site),
        initial={**typed, **spellings, "seen": found.version},
    )


def _shown(request: StaffRequest, found: Letter, form: LetterForm | None = None) -> HttpResponse:
    """The page: the form and a preview of a draft, or where the signed letter lies."""
    context: dict[str, Any] = {
        "row": found,
        "head": letter_head(letter=found),
        "reference": reference(letter=found),
        "may_do": rights(request, found.episode.patient, Action.WRITE_LETTER),
        "off": pdf.off(),
    }
    if found.state == "signed":
        return page(request, TEMPLATE, context)
    sheet = sheet_of(letter=found)
    context |= {
        "sheet": sheet,
        "letter": sheet.content,
        "changed": service.record_changed(letter=found),
    }
    return form_page(request, TEMPLATE, form or _form(found), context)
