"""The patient page, and the course of one measure."""

from __future__ import annotations

from typing import TYPE_CHECKING
from uuid import UUID

from django.http import Http404, HttpResponse, JsonResponse
from django.views.decorators.http import require_GET

from clinic import access, clock
from clinic.http import StaffRequest, page
from clinic.permissions import Action
from clinic.views.acting import rights
from outcomes.charts.plotly import trend_figure
from outcomes.forms.looks import look_parts
from outcomes.queries.catalogue import in_force
from outcomes.queries.knee_sections import KneeSection, Source, courses_of, ground_of
from outcomes.queries.look_words import looks_of
from outcomes.queries.patient_page import episodes_of, patient_page, shown_of, source_of
from outcomes.services import status

if TYPE_CHECKING:
    from clinic.models.care import Episode
    from clinic.models.people import Patient

RIGHTS = (
    Action.OPEN_VISIT, Action.ANSWER_LOOK, Action.RECORD_DECISION, Action.SET_LIMIT,
    Action.SET_CARE, Action.WRITE_LETTER, Action.READ_LETTER, Action.EDIT_EPISODE,
)  # fmt: skip


@require_GET
def patient(request: StaffRequest, uid: UUID) -> HttpResponse:
    """Everything known of a patient: status today, milestones, course, visits, letters, cover."""
    found = access.patient(request, uid, Action.SEE_RECORD)
    episodes = episodes_of(patient=found)
    shown = shown_of(episodes=episodes, asked=_asked(request))
    source = _source(found, shown)
    shown_page = patient_page(
        patient=found, episodes=episodes, source=source, course=request.GET.get("course", "")
    )
    context = {
        "page": shown_page,
        "knees": [(knee, _looks(knee, source)) for knee in shown_page.knees],
        "may_do": rights(request, found, *RIGHTS),
    }
    return page(request, "outcomes/patient.html", context)


def _asked(request: StaffRequest) -> UUID | None:
    """The episode that the address asks for, if it names one."""
    try:
        return UUID(request.GET.get("episode", ""))
    except ValueError:
        return None


def _source(patient: Patient, shown: list[Episode]) -> Source:
    """Judge again what is due, then read what the sections need."""
    today = clock.today(shown[0].site)
    kept = status.current(episode_ids=[episode.pk for episode in shown], today=today)
    return source_of(patient=patient, shown=shown, kept=kept, rules=in_force(), on=today)


def _looks(knee: KneeSection, source: Source) -> object:
    looks = looks_of(
        episode_id=knee.episode.pk,
        reasons=knee.reasons,
        on=source.on,
        zone=knee.episode.site.zone,
    )
    return look_parts(looks=looks, today=source.on)


@require_GET
def course(request: StaffRequest, uid: UUID, code: str) -> HttpResponse:
    """The course of one measure, as a page or as the region of the patient page."""
    episode = access.episode(request, uid, Action.SEE_RECORD)
    ground = ground_of(source=_source(episode.patient, [episode]), episode=episode)
    courses = courses_of(ground=ground, asked=code)
    if courses.shown is None:
        raise Http404(code)
    context = {"episode": episode, "courses": courses}
    return page(request, "outcomes/course.html", context, region="course")


@require_GET
def course_figure(request: StaffRequest, uid: UUID, code: str) -> HttpResponse:
    """The same course as data for the page's script."""
    episode = access.episode(request, uid, Action.SEE_RECORD)
    ground = ground_of(source=_source(episode.patient, [episode]), episode=episode)
    courses = courses_of(ground=ground, asked=code)
    if courses.shown is None or courses.shown.code != code:
        raise Http404(code)
    return JsonResponse(trend_figure(trend=courses.shown.chart))
