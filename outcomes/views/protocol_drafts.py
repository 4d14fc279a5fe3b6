"""A draft of a protocol: its name and order, one milestone at a time, then publish or discard."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django.http import Http404, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_POST

from clinic import access
from clinic.http import StaffRequest, Unprocessable
from clinic.permissions import Action
from clinic.views.acting import attempt, form_page
from outcomes.forms.protocol_drafts import (
    BodyForm,
    DiscardForm,
    DraftForm,
    MilestoneForm,
    PublishForm,
)
from outcomes.forms.protocol_mapping import part_of
from outcomes.protocols.reading import protocol_from
from outcomes.queries.catalogue import in_force
from outcomes.queries.protocol_list import body_of, draft_of
from outcomes.queries.protocol_words import (
    order_words,
    plan_differs,
    protocol_lines,
    what_differs,
)
from outcomes.services import protocols as service

if TYPE_CHECKING:
    from outcomes.models.versions import ProtocolDraft

MANAGE = Action.MANAGE_CATALOGUE
TEMPLATE = "outcomes/protocol_draft.html"


def draft_for(request: StaffRequest, code: str) -> ProtocolDraft:
    """A draft, for leads; the audit row says that it was opened."""
    access.site(request, MANAGE)
    found = draft_of(code=code)
    if found is None:
        raise Http404(code)
    access.listed(request, MANAGE, "protocol_draft", [found.pk])
    return found


def given(found: ProtocolDraft) -> dict[str, Any]:
    """What the forms of a draft are made of."""
    return {
        "body": found.body,
        "base": body_of(code=found.base) or found.body,
        "measures": in_force().measures,
    }


def draft(request: StaffRequest, code: str) -> HttpResponse:
    """The name of a draft, the order of its milestones, what differs, and how to publish it."""
    found = draft_for(request, code)
    now = {"label": found.body["label"], "seen": found.version}
    form = DraftForm(request.POST or None, initial=now, **given(found))
    answer = attempt(
        form, lambda: save(request, found, form, reverse("protocol_draft", args=[code]))
    )
    return answer or _shown(request, found, form, edit=form)


def save(request: StaffRequest, found: ProtocolDraft, form: BodyForm, answer: str) -> str:
    """Keep what a form made of a draft; returns the address to go to."""
    return service.save(
        actor=request.actor,
        key=form.cleaned_data["key"],
        code=found.code,
        seen=form.cleaned_data["seen"],
        body=form.made,
        answer=answer,
    )


def milestone(request: StaffRequest, code: str, milestone: str) -> HttpResponse:
    """One milestone of a draft: its earliest date and every criterion."""
    found = draft_for(request, code)
    row = part_of(found.body, milestone)
    if row is None:
        raise Http404(milestone)
    now = {"label": row["label"], "seen": found.version}
    form = MilestoneForm(request.POST or None, initial=now, milestone=milestone, **given(found))
    answer = attempt(form, lambda: save(request, found, form, _after(request, code, milestone)))
    context = {"draft": found, "milestone": row}
    return answer or form_page(request, "outcomes/draft_milestone.html", form, context)


def _after(request: StaffRequest, code: str, milestone: str) -> str:
    """Where saving leads: back to a criterion that was moved, else to the draft."""
    way, _, moved = request.POST.get("step", "").partition(":")
    if not way:
        return reverse("protocol_draft", args=[code])
    here = reverse("draft_milestone", args=[code, milestone])
    return here if way == "remove" else f"{here}#c-{moved}"


@require_POST
def publish(request: StaffRequest, code: str) -> HttpResponse:
    """Freeze the draft as the next version of its protocol."""
    access.site(request, MANAGE)
    form = PublishForm(request.POST)
    answer = attempt(
        form,
        lambda: service.publish(
            actor=request.actor, code=code, **form.typed(("key", "seen", "note"))
        ),
    )
    return answer or _shown(request, draft_for(request, code), form, publishing=form)


@require_POST
def discard(request: StaffRequest, code: str) -> HttpResponse:
    """End the draft; what was published stays."""
    access.site(request, MANAGE)
    form = DiscardForm(request.POST)
    answer = attempt(
        form,
        lambda: service.discard(actor=request.actor, code=code, **form.typed(("key", "seen"))),
    )
    if answer is None:
        raise Unprocessable("Open the draft again and press the button once more.")
    return answer


def _shown(
    request: StaffRequest,
    found: ProtocolDraft,
    form: DraftForm | PublishForm,
    *,
    edit: DraftForm | None = None,
    publishing: PublishForm | None = None,
) -> HttpResponse:
    """The page of a draft; ``form`` is the one whose errors it shows."""
    rules = in_force()
    measures, base = rules.measures, rules.protocols[found.base]
    protocol = protocol_from(found.body, measures)
    after = protocol_lines(protocol=protocol, measures=measures)
    before = protocol_lines(protocol=base, measures=measures)
    now = {"label": found.body["label"], "seen": found.version}
    context = {
        "draft": found,
        "base": base.named,
        "milestones": after,
        "differs": (
            *what_differs(before=before, after=after),
            *plan_differs(before=base, after=protocol, measures=measures),
        ),
        "order": order_words(protocol=protocol),
        "edit": edit or DraftForm(initial=now, **given(found)),
        "publishing": publishing or PublishForm(),
    }
    return form_page(request, TEMPLATE, form, context)
