"""The patient page, one of its milestones, and the course of one measure."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING
from uuid import UUID

from django.http import Http404, HttpResponse, JsonResponse
from django.views.decorators.http import require_GET

from clinic import access, clock
from clinic.http import StaffRequest, page
from clinic.permissions import Action, may
from clinic.queries.limits import gates_taken_back
from outcomes.charts.plotly import trend_figure
from outcomes.queries.catalogue import in_force
from outcomes.queries.knee_sections import (
    KneeSection,
    Source,
    courses_of,
    milestone_of,
)
from outcomes.queries.look_words import Look, looks_of
from outcomes.queries.numbers import number_of
from outcomes.queries.outcome_sets import six_of, six_sources
from outcomes.queries.patient_page import episodes_of, patient_page, shown_of, source_of
from outcomes.queries.patient_questionnaires import questionnaires_of
from outcomes.services import status

if TYPE_CHECKING:
    from clinic.models.care import Episode
    from clinic.models.people import Patient

RIGHTS = (
    Action.OPEN_VISIT, Action.ANSWER_LOOK, Action.RECORD_DECISION, Action.SET_LIMIT,
    Action.READ_LETTER, Action.WRITE_LETTER, Action.KEY_QUESTIONNAIRE, Action.RECORD_EVENT,
    Action.MANAGE_CATALOGUE,
)  # fmt: skip


@require_GET
def patient(request: StaffRequest, uid: UUID) -> HttpResponse:
    """Everything known of a patient: status today, milestones, course, visits, letters, cover."""
    found = access.patient(request, uid, Action.SEE_RECORD)
    episodes = episodes_of(patient=found)
    shown = shown_of(episodes=episodes, asked=_asked(request))
    source = _source(found, shown, course=request.GET.get("course", ""))
    whole = patient_page(
        patient=found, episodes=episodes, source=source, all_visits="visits" in request.GET
    )
    context = {
        "page": whole,
        "knees": [(knee, _looks(knee, source)) for knee in whole.knees],
        "keyed": questionnaires_of(source=source),
        "may_do": _rights(request, episodes),
    }
    return page(request, "outcomes/patient.html", context)


def _asked(request: StaffRequest) -> UUID | None:
    """The episode that the address asks for, if it names one."""
    try:
        return UUID(request.GET.get("episode", ""))
    except ValueError:
        return None


def _source(patient: Patient, shown: list[Episode], *, course: str) -> Source:
    """Judge again what is due, then read what the sections need."""
    rules, today = in_force(), clock.today(shown[0].site)
    kept = status.kept_of(episodes=shown, rules=rules, today=today)
    return source_of(patient=patient, shown=shown, kept=kept, rules=rules, course=course, on=today)


def _looks(knee: KneeSection, source: Source) -> tuple[Look, ...]:
    return looks_of(
        episode_id=knee.episode.pk,
        reasons=knee.reasons,
        on=source.on,
        zone=knee.episode.site.zone,
        measures=source.rules.measures,
        readings=source.readings,
    )


def _rights(request: StaffRequest, episodes: list[Episode]) -> dict[str, bool]:
    """What the person may do for this patient: the roles at the sites of the episodes."""
    mine = [request.roles_by_site.get(episode.site_id, frozenset()) for episode in episodes]
    roles = frozenset().union(*mine)
    return {action.value: may(roles=roles, action=action) for action in RIGHTS}


def _episode(
    request: StaffRequest, uid: UUID, *, course: str = ""
) -> tuple[Source, Episode, list[Episode]]:
    """An episode through the door, with what its sections are made of."""
    found = access.episode(request, uid, Action.SEE_RECORD)
    episodes = episodes_of(patient=found.patient)
    mine = next(one for one in episodes if one.pk == found.pk)
    shown = shown_of(episodes=episodes, asked=None)
    shown = shown if mine in shown else [mine]
    return _source(found.patient, shown, course=course), mine, episodes


@require_GET
def milestone(request: StaffRequest, uid: UUID, code: str) -> HttpResponse:
    """One milestone with every criterion, as a page or as the region of the patient page."""
    source, episode, episodes = _episode(request, uid)
    found = milestone_of(source=source, episode=episode, code=code)
    if found is None:
        raise Http404(code)
    context = {
        "episode": episode,
        "one": found,
        "taken_back": gates_taken_back(episode_id=episode.pk, milestone=code),
        "may_do": _rights(request, episodes),
    }
    return page(request, "outcomes/milestone.html", context, region="milestone")


@require_GET
def outcomes(request: StaffRequest, uid: UUID) -> HttpResponse:
    """The six measures of a good outcome of one knee, as a page or as a region."""
    episode = access.episode(request, uid, Action.SEE_RECORD)
    rows = six_of(episode=episode, rules=in_force(), on=clock.today(episode.site))
    context = {"episode": episode, "rows": rows, "sources": six_sources()}
    return page(request, "outcomes/outcomes.html", context, region="outcomes")


@require_GET
def number(request: StaffRequest, uid: UUID, code: str) -> HttpResponse:
    """One number with what stands behind it, on a day; as a page, or as a region of a list."""
    episode = access.episode(request, uid, Action.SEE_RECORD)
    today = clock.today(episode.site)
    on = min(_day(request.GET.get("on", today.isoformat())), today)
    found = number_of(episode=episode, code=code, rules=in_force(), on=on, today=today)
    if found is None:
        raise Http404(code)
    context = {"episode": episode, "number": found}
    return page(request, "outcomes/number.html", context, region="number")


def _day(text: str) -> date:
    """A day as it stands in an address; what is none is no page of ours."""
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise Http404(text) from error


@require_GET
def course(request: StaffRequest, uid: UUID, code: str) -> HttpResponse:
    """The course of one measure, as a page or as the region of the patient page."""
    source, episode, _ = _episode(request, uid, course=code)
    courses = courses_of(source=source, episode=episode)
    if courses.shown is None:
        raise Http404(code)
    context = {"episode": episode, "courses": courses}
    return page(request, "outcomes/course.html", context, region="course")


@require_GET
def course_figure(request: StaffRequest, uid: UUID, code: str) -> HttpResponse:
    """The same course as data for the page's script."""
    source, episode, _ = _episode(request, uid, course=code)
    courses = courses_of(source=source, episode=episode)
    if courses.shown is None or courses.shown.code != code:
        raise Http404(code)
    return JsonResponse(trend_figure(trend=courses.shown.chart))
