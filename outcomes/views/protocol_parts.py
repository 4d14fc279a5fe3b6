"""What is added to a draft of a protocol, its goals, and what its visits ask for by week."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpResponse
from django.urls import reverse

from clinic.http import StaffRequest, Unprocessable, page
from clinic.views.acting import attempt, form_page
from outcomes.forms.protocol_drafts import BodyForm
from outcomes.forms.protocol_mapping import Json, part_of
from outcomes.forms.protocol_new import NewCriterionForm, NewMilestoneForm, Subjects, subjects
from outcomes.forms.protocol_weeks import GoalsForm, SetForm, WeeksForm, sets_of
from outcomes.queries.catalogue import in_force
from outcomes.views.protocol_drafts import draft_for, given, save

CHOOSE = "outcomes/draft_choose.html"


def new_milestone(request: StaffRequest, code: str) -> HttpResponse:
    """One more milestone, with the criteria of another one to begin with."""
    found = draft_for(request, code)
    last = found.body["milestones"][-1]["code"]
    now = {"seen": found.version, "after": last, "like": last}
    form = NewMilestoneForm(request.POST or None, initial=now, **given(found))
    answer = attempt(
        form,
        lambda: save(request, found, form, reverse("draft_milestone", args=[code, form.code])),
    )
    return answer or form_page(request, "outcomes/draft_new.html", form, {"draft": found})


def new_criterion(request: StaffRequest, code: str, milestone: str) -> HttpResponse:
    """One more criterion: first what it speaks of (``?of=``), then what it asks."""
    found = draft_for(request, code)
    row = part_of(found.body, milestone)
    if row is None:
        raise Http404(milestone)
    offered, of = _offered(row), request.GET.get("of", "")
    context = {"draft": found, "milestone": row, "offered": offered}
    named = dict(pair for _, rows in offered for pair in rows).get(of)
    if named is None:
        if request.method == "POST":
            raise Unprocessable("Choose first what the criterion speaks of.")
        return page(request, CHOOSE, context)
    form = NewCriterionForm(
        request.POST or None,
        initial={"seen": found.version},
        milestone=milestone,
        of=of,
        named=named,
        **given(found),
    )
    here = reverse("draft_milestone", args=[code, milestone])
    answer = attempt(form, lambda: save(request, found, form, f"{here}#c-{form.code}"))
    return answer or form_page(request, "outcomes/draft_criterion.html", form, context)


def _offered(row: Json) -> Subjects:
    rules = in_force()
    measures = [one for code, one in rules.measures.items() if rules.offers(code=code)]
    return subjects(row=row, measures=measures, instruments=rules.instruments.values())


def goals(request: StaffRequest, code: str) -> HttpResponse:
    """The last milestone of each goal."""
    found = draft_for(request, code)
    form = GoalsForm(request.POST or None, initial={"seen": found.version}, **given(found))
    return _kept(request, code, form, "outcomes/draft_goals.html", found, {})


def weeks(request: StaffRequest, code: str) -> HttpResponse:
    """In which week each set of what a visit asks for begins."""
    found = draft_for(request, code)
    form = WeeksForm(request.POST or None, initial={"seen": found.version}, **given(found))
    here = reverse("draft_weeks", args=[code])
    return _kept(request, code, form, "outcomes/draft_weeks.html", found, {}, after=here)


def asked(request: StaffRequest, code: str, number: int) -> HttpResponse:
    """What a visit asks for in one stretch of weeks."""
    found, now = draft_for(request, code), in_force()
    sets = sets_of(body=found.body, measures=now.measures)
    if number >= len(sets):
        raise Http404(number)
    form = SetForm(
        request.POST or None, initial={"seen": found.version}, place=number, **given(found)
    )
    here = reverse("draft_weeks", args=[code])
    context = {"row": sets[number]}
    return _kept(request, code, form, "outcomes/draft_set.html", found, context, after=here)


def _kept(
    request: StaffRequest,
    code: str,
    form: BodyForm,
    template: str,
    found: Any,
    context: dict[str, Any],
    *,
    after: str = "",
) -> HttpResponse:
    """Save what the form made and go on, or show it again."""
    where = after or reverse("protocol_draft", args=[code])
    answer = attempt(form, lambda: save(request, found, form, where))
    return answer or form_page(request, template, form, {"draft": found, **context})
