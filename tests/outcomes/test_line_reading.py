"""The line-reading warm-up: the truth stays on the server until a round is graded."""

import re
from uuid import uuid4

import pytest

from clinic.models.audit import AuditEntry
from outcomes.core.grades import PELVIS
from outcomes.models.agreement import FigureSet, LineGrades, LineRound
from outcomes.queries.line_rounds import figures_in
from tests.factories.agreement import FigureSetFactory, finished_round
from tests.outcomes.followed import cells
from tests.web import signed_in, words_of

START = "/line-reading/"


def begun(client):
    """The address of a round that was begun just now."""
    answer = client.post(START, {"key": uuid4()})
    assert answer.status_code == 302
    return answer["Location"]


def grades(row, graded=None):
    """What a browser posts: a grade at each place of the page, as drawn if not said otherwise."""
    made = figures_in(row=row.figure_set)
    drawn = [graded or made[at].grade for at in row.order]
    return {f"f{number}": word for number, word in enumerate(drawn, start=1)}


def test_the_page_of_a_round_says_leg_and_view_and_never_the_drop(cast):
    FigureSetFactory(number=1)
    client = signed_in(cast.clinician)
    page = client.get(begun(client))
    row = LineRound.objects.select_related("figure_set").get()
    made = figures_in(row=row.figure_set)
    assert sorted(row.order) == [*range(20)] != row.order
    titles = re.findall("<title>(Figure .*?)</title>", page.content.decode())
    assert titles == [
        f"Figure {number}. Standing on the {one.standing} leg, seen "
        f"{'from behind' if one.view == 'behind' else 'from the front'}"
        for number, one in enumerate((made[at] for at in row.order), start=1)
    ]
    outside = re.sub("<svg.*?</svg>", "", page.content.decode(), flags=re.S)
    assert [one.drop for one in made if f"{one.drop:.1f}" in outside] == []
    assert "seed" not in outside


def test_a_round_is_finished_once_and_shown_beside_what_was_drawn(cast):
    client = signed_in(cast.clinician)
    address = begun(client)
    row = LineRound.objects.select_related("figure_set").get()
    made = figures_in(row=row.figure_set)
    short = grades(row) | {"key": uuid4()}
    del short["f7"]
    back = client.post(address, short)
    assert (back.status_code, LineGrades.objects.count()) == (422, 0)
    assert "Figure 7: Choose a grade." in words_of(back)
    assert back.content.decode().count("checked") == 19

    given = grades(row) | {"key": uuid4()}
    at = next(i for i, place in enumerate(row.order, 1) if made[place].grade == "moderate")
    given[f"f{at}"] = "level"
    assert [client.post(address, given).status_code for _ in range(2)] == [302, 302]
    assert client.post(address, given | {"key": uuid4()}).status_code == 409
    assert LineGrades.objects.count() == 1
    shown = client.get(address)
    assert "19 of 20, 95 % (76 to 99 %)" in words_of(shown)
    assert "20 figures: under 50, the interval of kappa is rough." in words_of(shown)
    rows = shown.context["shown"].rows
    assert [(one.drop, one.drawn) for one in rows] == [
        (f"{made[place].drop:.1f}°", made[place].grade) for place in row.order
    ]
    off = [(one.place.number, one.given, one.apart) for one in rows if one.apart]
    assert off == [(at, "level", "2 grades too little")]
    assert "You graded: level , 2 grades too little" in words_of(shown)
    acts = AuditEntry.objects.filter(act="read_lines", subject="line_round")
    assert [*acts.exclude(note="").values_list("note", flat=True)] == ["begun", "finished"]


def test_everybody_meets_the_same_sets_once_each(cast):
    tess, bram = signed_in(cast.clinician), signed_in(cast.colleague)
    first = begun(tess)
    assert begun(tess) == first
    rows = LineRound.objects.select_related("figure_set").order_by("id")
    tess.post(first, grades(rows[0]) | {"key": uuid4()})
    second, other = begun(tess), begun(bram)
    assert len({first, second, other}) == 3
    assert [(row.staff_id, row.figure_set.number) for row in rows] == [
        (cast.clinician.pk, 1), (cast.clinician.pk, 2), (cast.colleague.pk, 1),
    ]  # fmt: skip
    assert FigureSet.objects.count() == 2
    assert bram.get(first).status_code == 404
    assert bram.post(first, grades(rows[0]) | {"key": uuid4()}).status_code == 404


@pytest.mark.parametrize("count", [1, 3])
def test_ones_own_rounds_cost_the_same_for_one_and_for_three(
    cast, count, django_assert_num_queries
):
    for _ in range(count):
        finished_round(staff=cast.clinician)
    finished_round(staff=cast.colleague, of=FigureSetFactory(), graded=lambda place, rank: 0)
    client = signed_in(cast.clinician)
    with django_assert_num_queries(5):
        page = client.get(START)
    assert [row[2:] for row in cells(page)] == [
        [row[2], "20 of 20, 100 % (84 to 100 %)"] for row in cells(page)
    ]
    assert len(cells(page)) == count
    assert set(PELVIS) <= set(words_of(page).replace(":", " ").replace(",", " ").split())
