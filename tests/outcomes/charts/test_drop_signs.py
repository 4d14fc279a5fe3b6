"""When the pelvis drops and how it was kept level, as drawings."""

from itertools import pairwise
from typing import get_args

import pytest

from outcomes.charts.drop_signs import (
    DEPTH,
    KEEPINGS,
    TOP,
    Keeping,
    Kept,
    Moment,
    Way,
    draw_kept,
    draw_way,
)
from outcomes.charts.pelvis import HIP_HEIGHT, WIDTH, Side, View
from tests.core.builders import CATALOGUE
from tests.outcomes.charts.reading import assert_rules, find


def begins(moment: Moment) -> tuple[float, float] | None:
    """Where the dot of a moment lies."""
    dots = find(draw_way(way=Way(moment=moment, title="x")), "circle")
    return (float(dots[0].get("cx", "")), float(dots[0].get("cy", ""))) if dots else None


def bold(by: Keeping, standing: Side, view: View) -> list[tuple[float, ...]]:
    """The bold lines, mirrored where the standing leg is on the left of the drawing."""
    svg = draw_kept(kept=Kept(by=by, standing=standing, view=view, title="x"))
    flip = (standing == "right") != (view == "behind")
    return [
        tuple(
            WIDTH - float(line.get(name, ""))
            if flip and name[0] == "x"
            else float(line.get(name, ""))
            for name in ("x1", "y1", "x2", "y2")
        )
        for line in find(svg, "line", stroke_width="5")
    ]


def test_each_choice_of_the_record_has_a_drawing_of_its_own_that_keeps_the_rules() -> None:
    for code in ("pelvic_drop_lateral_heel_touch", "pelvic_drop_forward_heel_touch"):
        details = {one.code: [c.code for c in one.choices] for one in CATALOGUE[code].details}
        assert details["when"] == list(get_args(Moment))
        assert details["kept_level_by"] == list(KEEPINGS)
    ways = [draw_way(way=Way(moment=moment, title="when")) for moment in get_args(Moment)]
    figures = [draw_kept(kept=Kept(by=by, standing="left", title="how")) for by in KEEPINGS]
    assert len({*ways, *figures}) == 8
    for svg in ways:
        assert_rules(svg, "when")
    for svg in figures:
        assert_rules(svg, "how")


def test_a_drop_begins_the_earlier_the_higher_on_the_way_down_and_none_is_not_marked() -> None:
    assert begins("none") is None
    first, way, depth = (
        begins(one) for one in ("first_movement", "on_the_way_down", "only_at_depth")
    )
    assert first is not None
    assert way is not None
    assert depth is not None
    assert (first[1], depth[1]) == (TOP, DEPTH)
    assert all(one[1] < two[1] and one[0] < two[0] for one, two in pairwise((first, way, depth)))
    assert depth[0] == WIDTH / 2


@pytest.mark.parametrize("standing", ["left", "right"])
@pytest.mark.parametrize("view", ["behind", "front"])
def test_bold_is_what_kept_it_level_on_the_side_where_it_was(standing: Side, view: View) -> None:
    """Mirrored onto one leg: the standing one is on the right of the drawing."""
    ((x1, y1, x2, y2),) = bold("upright", standing, view)
    assert (x1, x2, y2) == (WIDTH / 2, WIDTH / 2, HIP_HEIGHT)
    ((x1, y1, x2, y2),) = bold("trunk_leans", standing, view)
    assert x1 > x2 == WIDTH / 2
    assert y1 < y2 == HIP_HEIGHT
    ((x1, y1, x2, y2),) = bold("hand_used", standing, view)
    assert x2 < x1 == WIDTH / 2
    ((x1, y1, x2, y2),) = bold("free_side_hitched", standing, view)
    assert x2 < x1
    assert y2 < y1 == HIP_HEIGHT
