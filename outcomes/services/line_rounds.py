"""Beginning and finishing a round of the line-reading warm-up."""

from __future__ import annotations

from collections.abc import Sequence
from secrets import SystemRandom, randbits
from uuid import UUID

from django.urls import reverse

from clinic import audit, clock
from clinic.http import Conflict
from clinic.models.places import Organisation
from clinic.permissions import Action, Actor
from clinic.services import acts
from outcomes.core.line_figures import FIGURES, figures
from outcomes.models.agreement import FigureSet, LineGrades, LineRound
from outcomes.queries.line_rounds import as_json


def begin(*, actor: Actor, key: UUID) -> str:
    """Begin a round and answer with its address; one that is not finished is gone on with.

    The set is the lowest that the person has not graded, so that colleagues meet the same
    figures; where there is none left a new one is made. The order is drawn anew.
    """

    def do() -> str:
        Organisation.objects.select_for_update().get()
        row = LineRound.objects.filter(staff_id=actor.staff_id, given=None).first()
        if row is None:
            order = [*range(FIGURES)]
            SystemRandom().shuffle(order)
            row = LineRound.objects.create(
                figure_set=_next_set(actor.staff_id),
                staff_id=actor.staff_id,
                order=order,
                started_at=clock.now(),
            )
            _audit(actor, row, "begun")
        return reverse("line_round", args=[row.uid])

    return acts.once(actor=actor, key=key, body={"act": "begin_round"}, patient_id=None, do=do)


def finish(*, actor: Actor, key: UUID, row: LineRound, grades: Sequence[str]) -> str:
    """Keep the grades, given in the order of the page; answers with the result's address.

    Raises ``Conflict`` when the round is finished already.
    """

    def do() -> str:
        if LineGrades.objects.filter(round=row).exists():
            raise Conflict("This round is finished already. Open it afresh to see it.")
        in_set = dict(zip(row.order, grades, strict=True))
        LineGrades.objects.create(
            round=row,
            grades=[in_set[place] for place in sorted(in_set)],
            finished_at=clock.now(),
        )
        _audit(actor, row, "finished")
        return reverse("line_round", args=[row.uid])

    body = {"act": "finish_round", "round": row.pk, "grades": list(grades)}
    return acts.once(actor=actor, key=key, body=body, patient_id=None, do=do)


def _next_set(staff_id: int) -> FigureSet:
    free = FigureSet.objects.exclude(rounds__staff_id=staff_id).order_by("number").first()
    if free is not None:
        return free
    last = FigureSet.objects.order_by("-number").values_list("number", flat=True).first()
    made = as_json(figures=figures(seed=randbits(64)))
    return FigureSet.objects.create(number=(last or 0) + 1, figures=made, made_at=clock.now())


def _audit(actor: Actor, row: LineRound, note: str) -> None:
    audit.write(
        actor=actor,
        act=Action.READ_LINES.value,
        subject="line_round",
        subject_ids=[row.pk],
        note=note,
    )
