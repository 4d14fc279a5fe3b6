"""The small marks: beam, threshold marks, pelvis, limb marks."""

import math
import re
from decimal import Decimal
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from outcomes.charts.beam import PIVOT, Beam, draw_beam, tilt_of_index
from outcomes.charts.marks import LimbMark, limb_mark
from outcomes.charts.pelvis import DROP, WIDTH, Grade, Pelvis, Side, View, draw_pelvis
from outcomes.charts.threshold import LINE, draw_threshold
from outcomes.charts.tokens import COLOUR
from outcomes.core.values import Result
from tests.outcomes.charts.reading import assert_rules, find, parsed
from tests.outcomes.charts.test_tokens import contrast

INDEX = st.decimals(min_value=0, max_value=250, places=2)


def beam(left: LimbMark = "other", right: LimbMark = "involved", **values: Any) -> Beam:
    return Beam(left_mark=left, right_mark=right, title="LSI 78 %, right side lags", **values)


def arm(svg: str) -> tuple[float, float, float, float]:
    """The ends of the beam: left x, left y, right x, right y."""
    line = find(svg, "line", stroke_width="2.5")[0]
    x1, y1, x2, y2 = (float(line.get(key, "")) for key in ("x1", "y1", "x2", "y2"))
    return x1, y1, x2, y2


def mirrored(svg: str) -> tuple[float, float, float, float]:
    x1, y1, x2, y2 = arm(svg)
    return 2 * PIVOT[0] - x2, y2, 2 * PIVOT[0] - x1, y1


@pytest.mark.parametrize(
    "values",
    [
        {"lsi": Decimal("78"), "error": Decimal("7")},
        {"tilt": -1, "left": "both_operated", "right": "involved"},
        {"lsi": Decimal("250"), "left": "involved", "right": "other"},
    ],
)
def test_a_beam_keeps_the_rules(values: dict[str, Any]) -> None:
    assert_rules(draw_beam(beam=beam(**values)), "LSI 78 %, right side lags")


@pytest.mark.parametrize(("left", "right"), [("other", "involved"), ("involved", "other")])
def test_100_is_level(left: LimbMark, right: LimbMark) -> None:
    _, left_y, _, right_y = arm(draw_beam(beam=beam(left, right, lsi=Decimal(100))))
    assert left_y == right_y == PIVOT[1]


@given(INDEX)
def test_the_beam_tips_to_the_limb_that_lags(lsi: Decimal) -> None:
    _, left_y, _, right_y = arm(draw_beam(beam=beam(lsi=lsi)))
    if lsi < Decimal("99.9"):
        assert right_y > left_y
    if lsi > Decimal("100.1"):
        assert right_y < left_y


@given(INDEX, st.decimals(min_value=0, max_value=40, places=1))
def test_swapping_the_limbs_mirrors_the_picture(lsi: Decimal, error: Decimal) -> None:
    here = draw_beam(beam=beam(lsi=lsi, error=error))
    there = draw_beam(beam=beam("involved", "other", lsi=lsi, error=error))
    assert arm(there) == pytest.approx(mirrored(here), abs=0.02)


@given(INDEX, INDEX)
def test_more_lag_never_tips_less(one: Decimal, two: Decimal) -> None:
    low, high = sorted((float(one), float(two)))
    assert tilt_of_index(lsi=low) >= tilt_of_index(lsi=high)
    assert -1 <= tilt_of_index(lsi=low) <= 1


def test_a_difference_of_half_is_full_tilt_and_more_tips_no_further() -> None:
    half = arm(draw_beam(beam=beam(lsi=Decimal(50))))
    assert arm(draw_beam(beam=beam(lsi=Decimal(20)))) == half
    assert arm(draw_beam(beam=beam(tilt=1))) == half
    assert arm(draw_beam(beam=beam(lsi=Decimal(51)))) != half


def test_the_marks_are_the_limbs() -> None:
    svg = draw_beam(beam=beam(lsi=Decimal(78)))
    left_x, left_y, right_x, right_y = arm(svg)
    (square,) = find(svg, "rect", stroke=COLOUR["other"])
    (circle,) = find(svg, "circle", fill=COLOUR["involved"])
    centre = float(square.get("x", "")) + float(square.get("width", "")) / 2
    assert centre == pytest.approx(left_x, abs=0.02)
    assert float(circle.get("cx", "")) == pytest.approx(right_x, abs=0.02)
    assert float(circle.get("cy", "")) == pytest.approx(right_y, abs=0.02)
    assert left_y < right_y


def test_the_wedge_is_there_only_with_a_known_error() -> None:
    assert find(draw_beam(beam=beam(lsi=Decimal(78))), "path", fill=COLOUR["wedge"]) == []
    with_error = draw_beam(beam=beam(lsi=Decimal(78), error=Decimal(7)))
    assert len(find(with_error, "path", fill=COLOUR["wedge"])) == 1


@pytest.mark.parametrize(
    ("values", "why"),
    [
        ({}, "exactly one"),
        ({"lsi": Decimal(90), "tilt": 0}, "exactly one"),
        ({"lsi": Decimal(90), "right": "both_operated"}, "one involved limb"),
        ({"lsi": Decimal(90), "left": "involved"}, "one involved limb"),
        ({"tilt": 1.2}, "between -1 and 1"),
        ({"tilt": 0, "error": Decimal(-1)}, "not negative"),
    ],
)
def test_what_cannot_be_drawn_honestly_is_refused(values: dict[str, Any], why: str) -> None:
    with pytest.raises(ValueError, match=why):
        beam(**values)


def bar_end(result: Result) -> float | None:
    bars = find(draw_threshold(result=result, title="x"), "line", stroke_width="6")
    return float(bars[0].get("x2", "")) if bars else None


@pytest.mark.parametrize("result", list(Result))
def test_a_threshold_mark_keeps_the_rules(result: Result) -> None:
    assert_rules(draw_threshold(result=result, title="not met"), "not met")


def test_the_bar_ends_past_just_past_just_short_and_short() -> None:
    order = [Result.MET, Result.MET_BORDERLINE, Result.NOT_MET_BORDERLINE, Result.NOT_MET]
    ends = [bar_end(result) or 0 for result in order]
    assert ends == sorted(ends, reverse=True)
    assert len(set(ends)) == 4
    assert [end > LINE for end in ends] == [result.truth for result in order]


def test_what_is_not_known_has_no_bar_past_the_line() -> None:
    assert bar_end(Result.NOT_TESTED) is None
    assert bar_end(Result.NOT_ASSESSABLE) is None
    dashed = find(draw_threshold(result=Result.OUT_OF_DATE, title="x"), "line", stroke_width="6")
    assert dashed[0].get("stroke-dasharray") is not None
    assert float(dashed[0].get("x2", "")) < LINE
    pictures = {draw_threshold(result=result, title="x") for result in Result}
    assert len(pictures) == 7


def pelvis(grade: Grade, standing: Side, view: View = "behind") -> str:
    return draw_pelvis(pelvis=Pelvis(grade=grade, standing=standing, view=view, title="a drop"))


def line_of(svg: str) -> tuple[float, float, float, float]:
    """The pelvis line: standing x, standing y, free x, free y."""
    line = find(svg, "line", stroke_width="5")[0]
    x1, y1, x2, y2 = (float(line.get(key, "")) for key in ("x1", "y1", "x2", "y2"))
    return x1, y1, x2, y2


@pytest.mark.parametrize("grade", list(DROP))
def test_a_pelvis_keeps_the_rules(grade: Grade) -> None:
    assert_rules(pelvis(grade, "left"), "a drop")


def shape(svg: str, *, across: bool = False) -> list[tuple[str, str, tuple[float, ...]]]:
    """Every stroke of a drawing with its colour and points; ``across``: turned left to right."""
    found = []
    for element in parsed(svg):
        points = [float(element.get(name, "nan")) for name in ("x1", "y1", "x2", "y2", "cx", "cy")]
        path = [float(one) for one in re.findall(r"-?[\d.]+", element.get("d", ""))]
        if across:
            points = [
                WIDTH - one if number in (0, 2, 4) else one for number, one in enumerate(points)
            ]
            path = (
                [
                    WIDTH - path[0],
                    *path[1:2],
                    *(-one if n % 2 == 0 else one for n, one in enumerate(path[2:])),
                ]
                if path
                else []
            )
        known = tuple(one for one in [*points, *path] if not math.isnan(one))
        found.append((element.tag, element.get("stroke", ""), known))
    return found


@pytest.mark.parametrize("grade", list(DROP))
@pytest.mark.parametrize("standing", ["left", "right"])
@pytest.mark.parametrize("view", ["behind", "front"])
def test_the_free_side_of_the_patient_drops_whichever_leg_and_view(
    grade: Grade, standing: Side, view: View
) -> None:
    standing_x, standing_y, free_x, free_y = line_of(pelvis(grade, standing, view))
    # From behind the patient's left is on the viewer's left; from in front it is on the right.
    patients: dict[bool, Side] = {True: "left", False: "right"}
    sides = [patients[(x < WIDTH / 2) == (view == "behind")] for x in (standing_x, free_x)]
    assert sides == [standing, "right" if standing == "left" else "left"]
    assert (free_y > standing_y) == (grade != "level")
    leg = find(pelvis(grade, standing, view), "line", stroke_width="2.5")[0]
    assert float(leg.get("x1", "")) == float(leg.get("x2", "")) == standing_x


@pytest.mark.parametrize("grade", list(DROP))
def test_the_other_leg_and_the_other_view_are_the_mirror_image(grade: Grade) -> None:
    left, right = pelvis(grade, "left"), pelvis(grade, "right")
    mirrored_left = shape(left, across=True)
    assert len(mirrored_left) == 8
    for (tag, colour, points), (other_tag, other_colour, other) in zip(
        mirrored_left, shape(right), strict=True
    ):
        assert (tag, colour) == (other_tag, other_colour)
        assert sorted(points) == pytest.approx(sorted(other), abs=0.02)
    assert pelvis(grade, "left", "front") == right != left


def test_every_stroke_of_a_pelvis_is_seen_on_every_page_it_stands_on() -> None:
    grounds = ("paper", "page", "involved-page", "grid")
    strokes = {colour for grade in DROP for _, colour, _ in shape(pelvis(grade, "left")) if colour}
    assert strokes == {COLOUR["ink"], COLOUR["edge"]}
    for stroke in strokes:
        assert min(contrast(stroke, COLOUR[ground]) for ground in grounds) >= 3


def test_level_is_level_and_each_grade_drops_further() -> None:
    drops = [
        line_of(pelvis(grade, "left"))[3] - line_of(pelvis(grade, "left"))[1] for grade in DROP
    ]
    assert drops[0] == 0
    assert all(more > less for less, more in pairwise(drops))


def test_the_three_limb_marks_differ_in_shape_and_not_only_in_colour() -> None:
    kinds: list[LimbMark] = ["involved", "other", "both_operated"]
    shapes = {shape_of(limb_mark(mark=kind, title="x")) for kind in kinds}
    assert len(shapes) == 3


def shape_of(svg: str) -> tuple[tuple[str, bool], ...]:
    """Kinds of element and whether each is hollow."""
    elements = [*find(svg, "circle"), *find(svg, "rect")]
    return tuple((element.tag, element.get("fill") == COLOUR["page"]) for element in elements)
