"""The caseload: the list, symmetry against the week, its figure, and the list as a file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any
from urllib.parse import urlencode

from django.http import HttpResponse, JsonResponse, QueryDict
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST
from django_htmx.http import trigger_client_event

from clinic import access, audit, clock
from clinic.http import StaffRequest, page
from clinic.permissions import Action, may
from clinic.views.sign_in import step_up
from clinic.words import listed
from outcomes.charts.plotly import caseload_figure
from outcomes.core.values import Protocol
from outcomes.forms.caseload import SYMMETRIES, CaseloadForm, Offered
from outcomes.interchange.caseload import write_caseload
from outcomes.interchange.table import MEDIA_TYPE
from outcomes.queries import caseload as query
from outcomes.queries import caseload_chart as chart
from outcomes.queries import caseload_words as words
from outcomes.queries import outcome_sets as sets
from outcomes.queries.caseload_cells import cells
from outcomes.queries.catalogue import InForce, in_force
from outcomes.services import status

OUTCOMES = "outcomes/caseload_outcomes.html"


@dataclass(frozen=True, kw_only=True, slots=True)
class Asked:
    """What a request asks for: the checked form, today at each site, and what can be chosen."""

    form: CaseloadForm
    days: Mapping[int, date]
    names: Mapping[int, str]
    tally: query.Tally
    protocols: tuple[Protocol, ...]
    milestones: Mapping[str, str]


def _asked(request: StaffRequest, action: Action, data: QueryDict) -> Asked:
    """Through the door of every site where the person may do this; re-judges what is due."""
    access.site(request, action)
    sites = access.sites_with(request, action)
    days = {site.pk: clock.today(site) for site in sites}
    rules = in_force()
    tally = _tally(days, rules)
    protocols = rules.followed
    milestones = chart.milestone_labels(protocols)
    offered = Offered(
        tally=tally, milestones=milestones, sites={site.code: site.name for site in sites}
    )
    return Asked(
        form=CaseloadForm(data, offered=offered),
        days=days,
        names={site.pk: site.name for site in sites},
        tally=tally,
        protocols=protocols,
        milestones=milestones,
    )


def _tally(days: Mapping[int, date], rules: InForce) -> query.Tally:
    """The counts, after what is due was judged again: one look tells whether anything is."""
    holds = status.holds_on(days=days, rules=rules)
    found = query.tally(days=days, holds=holds)
    if not found.due:
        return found
    status.rejudge_due_on(days=days, rules=rules)
    return query.tally(days=days, holds=holds)


@require_GET
def caseload(request: StaffRequest) -> HttpResponse:
    """The list of one page; the audit row names the episodes that are shown."""
    asked = _asked(request, Action.SEE_CASELOAD, request.GET)
    context = _frame(request, asked)
    if not asked.form.is_valid():
        return page(request, "outcomes/caseload.html", context, region="caseload", status=422)
    filters = asked.form.filters
    lines = query.lines(filters=filters, days=asked.days)
    cuts, labels = chart.symmetry_cuts(asked.protocols), chart.labels_by_protocol(asked.protocols)
    context["rows"] = [
        words.row(
            line=line,
            on=asked.days[line.site_id],
            milestones=labels.get(line.protocol, {}),
            cuts=cuts,
        )
        for line in lines
    ]
    context["pages"] = query.pages(
        filters=filters, days=asked.days, tally=asked.tally, shown=len(lines)
    )
    _seen(request, [line.episode_id for line in lines])
    response = page(request, "outcomes/caseload.html", context, region="caseload")
    return trigger_client_event(response, "say", {"value": context["pages"].words})


def _frame(request: StaffRequest, asked: Asked) -> dict[str, Any]:
    """What the list and the drawing share: counts, filters, the way to save."""
    exports = any(
        may(roles=roles, action=Action.EXPORT_CASELOAD) for roles in request.roles_by_site.values()
    )
    return {
        "form": asked.form,
        "tally": asked.tally,
        "places": listed(list(asked.names.values())),
        "exports": exports,
        "kept": asked.form.kept,
        "query": urlencode(asked.form.kept),
    }


def _seen(request: StaffRequest, ids: list[int], *, act: Action = Action.SEE_CASELOAD) -> None:
    """One row for every answer that names patients: another filter shows other people."""
    audit.write(actor=request.actor, act=act.value, subject="episode", subject_ids=ids)


@require_GET
def symmetry(request: StaffRequest) -> HttpResponse:
    """Symmetry against the week over all episodes that the filters leave."""
    asked = _asked(request, Action.SEE_CASELOAD, request.GET)
    context = _frame(request, asked)
    if not asked.form.is_valid():
        return page(request, "outcomes/caseload_symmetry.html", context, status=422)
    lines, of = _all(asked), asked.form.drawn
    context |= {"of": of, "kinds": _kinds(asked.form)}
    context["figure_url"] = (
        f"{reverse('caseload_figure')}?{urlencode({**context['kept'], 'of': of})}"
    )
    context["spread"] = chart.spread(of=of, lines=lines, days=asked.days, protocols=asked.protocols)
    drawn = chart.followed_by(lines=lines, protocols=asked.protocols)
    context["sources"] = chart.sources(of=of, protocols=drawn)
    context["left_out"] = chart.left_out(of=of, lines=lines, days=asked.days)
    _seen(request, [line.episode_id for line in lines])
    return page(request, "outcomes/caseload_symmetry.html", context)


def _kinds(form: CaseloadForm) -> list[tuple[str, str, str]]:
    """Each symmetry that can be drawn: its code, its address with these filters, its name."""
    return [(code, f"?{urlencode({**form.kept, 'of': code})}", label) for code, label in SYMMETRIES]


@require_GET
def figure(request: StaffRequest) -> HttpResponse:
    """The same drawing as data for the page's script."""
    asked = _asked(request, Action.SEE_CASELOAD, request.GET)
    if not asked.form.is_valid():
        return JsonResponse({"errors": asked.form.errors}, status=422)
    lines = _all(asked)
    spread = chart.spread(
        of=asked.form.drawn, lines=lines, days=asked.days, protocols=asked.protocols
    )
    _seen(request, [line.episode_id for line in lines])
    return JsonResponse(caseload_figure(caseload=spread))


def _all(asked: Asked) -> list[query.Line]:
    return query.lines(filters=asked.form.filters, days=asked.days, all_pages=True)


@require_GET
def outcomes(request: StaffRequest) -> HttpResponse:
    """The published outcome sets over all episodes that the filters leave, and who is behind one.

    Everybody is counted unless a care state is asked for: who had a rupture is often discharged.
    """
    data = request.GET.copy()
    data.setdefault("care", query.EVERYONE)
    asked = _asked(request, Action.SEE_CASELOAD, data)
    context = _frame(request, asked)
    if not asked.form.is_valid():
        return page(request, OUTCOMES, context, status=422)
    lines, rules = _all(asked), in_force()
    episodes = query.episodes(lines=lines)
    known = sets.known_of(episodes=episodes, rules=rules, days=asked.days)
    answers = sets.answers_of(known=known)
    behind = sets.behind(
        lines=lines,
        answers=answers,
        line=request.GET.get("line", ""),
        answer=request.GET.get("answer", ""),
        rules=rules,
        days=asked.days,
    )
    context |= {"groups": sets.group_counts(answers=answers), "behind": behind}
    context |= {"house": sets.house_source(), "counted": len(lines), "outcomes": True}
    _seen(request, [one.episode_id for one in behind.rows] if behind else list(answers))
    return page(request, OUTCOMES, context)


@require_POST
@step_up
def export(request: StaffRequest) -> HttpResponse:
    """All episodes that the filters leave, as a file; only of sites where that is permitted."""
    asked = _asked(request, Action.EXPORT_CASELOAD, request.POST)
    if not asked.form.is_valid():
        context = _frame(request, asked)
        return page(request, "outcomes/caseload.html", context, status=422)
    lines = _all(asked)
    _seen(request, [line.episode_id for line in lines], act=Action.EXPORT_CASELOAD)
    body = write_caseload(
        cells(line=line, site=asked.names[line.site_id], on=asked.days[line.site_id])
        for line in lines
    )
    name = f"caseload-{clock.today(request.site).isoformat()}.csv"
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return HttpResponse(body, content_type=MEDIA_TYPE, headers=headers)
