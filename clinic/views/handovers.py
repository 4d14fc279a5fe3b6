"""Cover: hand patients to a colleague, and take them over."""

from __future__ import annotations

from django.http import HttpResponse, HttpResponseRedirect
from django.views.decorators.http import require_POST

from clinic import access, clock
from clinic.forms.base import offer
from clinic.forms.care import HandoverForm, TakeOverForm, WhoseForm
from clinic.http import StaffRequest, Unprocessable
from clinic.permissions import Action, Role
from clinic.queries import handovers as handover_queries
from clinic.queries import people as people_queries
from clinic.services import handovers
from clinic.views.acting import attempt, form_page


def handover_list(request: StaffRequest) -> HttpResponse:
    """What was handed over, and one's own patients to hand to a colleague, two lines each.

    A lead may hand over a clinician's patients: ``?of=`` and the clinician's number.
    """
    today = clock.today(access.site(request, Action.HAND_OVER))
    places = [site.pk for site in access.sites_with(request, Action.HAND_OVER)]
    people = people_queries.clinicians_at(site_ids=places)
    giver = _giver(request, [pk for pk, _ in people])
    episodes = handover_queries.own_episodes(responsible_id=giver, site_ids=places, on=today)
    form = HandoverForm(request.POST or None, episodes=episodes, initial={"since": today})
    offer(form, "taker", [(pk, name) for pk, name in people if pk != giver])
    answer = attempt(form, lambda: _hand_over(request, giver, form))
    if answer:
        return answer
    leads = _leads(request)
    covers = handover_queries.covers_of(
        staff_id=request.staff.pk, site_ids=places, on=today, everyone=leads
    )
    shown = [pk for pk, _ in episodes] + [cover.episode.pk for cover in covers]
    access.listed(request, Action.HAND_OVER, "episode", shown)
    context = {"covers": covers, "people": people if leads else [], "giver": giver}
    context["nobody_chosen"] = leads and giver not in [pk for pk, _ in people]
    return form_page(request, "clinic/handovers.html", form, context)


def _hand_over(request: StaffRequest, giver: int, form: HandoverForm) -> str:
    return handovers.hand_over(
        actor=request.actor,
        key=form.cleaned_data["key"],
        giver_id=giver,
        taker_id=form.cleaned_data["taker"],
        since=form.cleaned_data["since"],
        until=form.cleaned_data["until"],
        patients=[handovers.Lines(**line) for line in form.lines()],
    )


def _leads(request: StaffRequest) -> bool:
    return any(Role.LEAD in roles for roles in request.roles_by_site.values())


def _giver(request: StaffRequest, people: list[int]) -> int:
    """Whose patients are handed over: one's own, or for a lead the clinician asked for."""
    form = WhoseForm(request.GET)
    asked: int | None = form.cleaned_data["of"] if form.is_valid() else None
    return asked if asked in people and _leads(request) and asked else request.staff.pk


@require_POST
def take_over(request: StaffRequest) -> HttpResponse:
    """Seen and taken over."""
    access.site(request, Action.HAND_OVER)
    form = TakeOverForm(request.POST)
    if not form.is_valid():
        raise Unprocessable("Open the hand-overs afresh and mark it again.")
    return HttpResponseRedirect(
        handovers.take_over(
            actor=request.actor,
            key=form.cleaned_data["key"],
            handover_id=form.cleaned_data["handover"],
        )
    )
