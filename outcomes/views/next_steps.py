"""The next step of each progression: proposals, their answers, and what the patient is shown."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from uuid import UUID

from django.http import HttpResponse
from django.views.decorators.http import require_GET, require_http_methods

from clinic import access, clock
from clinic.http import StaffRequest, page
from clinic.permissions import Action
from clinic.views.acting import attempt, form_page, rights
from outcomes.forms.period import PeriodForm
from outcomes.forms.plans import FIELDS, PlanForm
from outcomes.queries.answered_proposals import answered_proposals
from outcomes.queries.drop_words import drops_of
from outcomes.queries.next_steps import gather, progression_words
from outcomes.queries.show_patient import NOTHING, for_the_patient
from outcomes.services import plans

if TYPE_CHECKING:
    from clinic.models.care import Episode

TEMPLATE = "outcomes/next_step.html"
ANSWERS = "outcomes/caseload_proposals.html"


@require_http_methods(["GET", "POST"])
def next_step(request: StaffRequest, uid: UUID) -> HttpResponse:
    """What is proposed of each progression and where the plan stands; by POST one answer."""
    if request.method == "GET":
        return _shown(request, access.episode(request, uid, Action.SEE_RECORD))
    episode = access.episode(request, uid, Action.SET_PLAN)
    code = request.POST.get("progression", "")
    form = PlanForm(request.POST, auto_id=f"id_{code}_%s")
    answer = attempt(
        form,
        lambda: plans.answer(
            actor=request.actor,
            key=form.cleaned_data["key"],
            episode=episode,
            seen=form.cleaned_data["seen"],
            given=plans.Given(**form.typed(FIELDS)),
        ),
    )
    return answer or _shown(request, episode, form=form)


def _shown(
    request: StaffRequest, episode: Episode, *, form: PlanForm | None = None
) -> HttpResponse:
    """The page of an episode's next steps; 422 when a form came back."""
    gathered = gather(episode=episode)
    code = form.data.get("progression", "") if form else ""
    context: dict[str, Any] = {
        "episode": episode,
        "rows": [
            (one, form if form and one.code == code else _fresh(one.code))
            for one in progression_words(gathered=gathered)
        ],
        "drops": drops_of(gathered=gathered),
        "to_confirm": gathered.record.visits.limits_to_confirm,
        "may_do": rights(request, episode.patient, Action.SET_PLAN, Action.SET_LIMIT),
    }
    return form_page(request, TEMPLATE, form, context) if form else page(request, TEMPLATE, context)


def _fresh(code: str) -> PlanForm:
    return PlanForm(progression=code, auto_id=f"id_{code}_%s")


@require_GET
def answers(request: StaffRequest) -> HttpResponse:
    """How proposals were answered at the sites in a period: counts alone, of nobody."""
    today = clock.today(access.site(request, Action.SEE_CASELOAD))
    sites = access.sites_with(request, Action.SEE_CASELOAD)
    access.listed(request, Action.SEE_CASELOAD, "site", [site.pk for site in sites])
    form = PeriodForm(request.GET, today=today)
    if not form.is_valid():
        return page(request, ANSWERS, {"form": form}, status=422)
    since, until = form.period
    places = answered_proposals(sites=sites, since=since, until=until)
    context = {"form": form, "period": form.words, "places": places}
    return page(request, ANSWERS, context)


@require_GET
def show_patient(request: StaffRequest, uid: UUID) -> HttpResponse:
    """One exercise for the patient's eyes: plain words, their two limbs, a button to close."""
    episode = access.episode(request, uid, Action.SEE_RECORD)
    asked = request.GET.get("progression", "")
    shown = for_the_patient(gathered=gather(episode=episode), asked=asked)
    context = {"episode": episode, "shown": shown, "nothing": NOTHING}
    return page(request, "outcomes/show_patient.html", context)
