"""Addresses of what is measured, judged and written."""

from django.urls import path

from outcomes.views import caseload, looks

urlpatterns = [
    path("caseload/", caseload.caseload, name="caseload"),
    path("caseload/symmetry", caseload.symmetry, name="caseload_symmetry"),
    path("caseload/figure", caseload.figure, name="caseload_figure"),
    path("caseload/export", caseload.export, name="caseload_export"),
    path("episodes/<uuid:uid>/looks", looks.episode_looks, name="episode_looks"),
]
