"""Addresses of what is measured, judged and written."""

from django.urls import path

from outcomes.views import (
    caseload,
    checks,
    decisions,
    keying,
    letters,
    looks,
    measures,
    patients,
    questionnaires,
    readings,
    visits,
)

urlpatterns = [
    path("checks/", checks.checks, name="checks"),
    path("caseload/", caseload.caseload, name="caseload"),
    path("caseload/symmetry", caseload.symmetry, name="caseload_symmetry"),
    path("caseload/figure", caseload.figure, name="caseload_figure"),
    path("caseload/export", caseload.export, name="caseload_export"),
    path("episodes/<uuid:uid>/looks", looks.episode_looks, name="episode_looks"),
    path("patients/<uuid:uid>/", patients.patient, name="patient"),
    path("episodes/<uuid:uid>/milestones/<slug:code>", patients.milestone, name="milestone"),
    path("episodes/<uuid:uid>/courses/<slug:code>", patients.course, name="course"),
    path(
        "episodes/<uuid:uid>/courses/<slug:code>/figure",
        patients.course_figure,
        name="course_figure",
    ),
    path("episodes/<uuid:uid>/decisions", decisions.decisions, name="decisions"),
    path(
        "episodes/<uuid:uid>/decisions/<int:number>/withdraw",
        decisions.withdraw,
        name="withdraw_decision",
    ),
    path("episodes/<uuid:uid>/letters", letters.draft, name="draft_letter"),
    path("letters/<uuid:uid>/", letters.letter, name="letter"),
    path("letters/<uuid:uid>/refresh", letters.refresh, name="letter_refresh"),
    path("letters/<uuid:uid>/sign", letters.sign, name="letter_sign"),
    path("letters/<uuid:uid>/pdf", letters.print_letter, name="letter_pdf"),
    path("letters/<uuid:uid>/replace", letters.replace, name="letter_replace"),
    path("letters/<uuid:uid>/discard", letters.discard, name="letter_discard"),
    path("visits/<uuid:uid>/", visits.visit, name="visit"),
    path("visits/<uuid:uid>/draft", visits.save_draft, name="visit_draft"),
    path("visits/<uuid:uid>/sign", visits.sign, name="visit_sign"),
    path("visits/<uuid:uid>/take", visits.take_over, name="visit_take"),
    path("visits/<uuid:uid>/red-flags", visits.check_red_flags, name="visit_red_flags"),
    path("visits/<uuid:uid>/questionnaires/", keying.choose, name="visit_questionnaires"),
    path(
        "visits/<uuid:uid>/questionnaires/<slug:code>/<slug:limb>",
        keying.key,
        name="key_questionnaire",
    ),
    path("questionnaires/<uuid:uid>/", questionnaires.completed, name="questionnaire"),
    path("questionnaires/<uuid:uid>/correct", questionnaires.correct, name="questionnaire_correct"),
    path(
        "questionnaires/<uuid:uid>/withdraw", questionnaires.withdraw, name="questionnaire_withdraw"
    ),
    path("patients/<uuid:uid>/scores/<slug:code>", questionnaires.course, name="score_course"),
    path(
        "patients/<uuid:uid>/scores/<slug:code>/figure",
        questionnaires.course_figure,
        name="score_figure",
    ),
    path("clinic/measures/", measures.measures, name="measures"),
    path("clinic/measures/new", measures.add_measure, name="add_measure"),
    path("clinic/measures/<slug:code>/", measures.change_measure, name="change_measure"),
    path("clinic/measures/<slug:code>/switch", measures.switch_measure, name="switch_measure"),
    path("readings/<int:ident>/", readings.reading, name="reading"),
    path("readings/<int:ident>/correct", readings.correct, name="reading_correct"),
    path("readings/<int:ident>/withdraw", readings.withdraw, name="reading_withdraw"),
]
