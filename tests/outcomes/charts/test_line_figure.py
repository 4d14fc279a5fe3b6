"""The figures of the warm-up: every set alike in make-up, every pelvis drawn at its true angle."""

import math
import re
from collections import Counter

from hypothesis import given, settings
from hypothesis import strategies as st

from outcomes.charts.line_figure import LineFigure, draw_line_figure, pelvis
from outcomes.core.grades import PELVIS
from outcomes.core.line_figures import TENTHS, figures


@settings(max_examples=40)
@given(st.integers(0, 2**64))
def test_every_set_has_each_grade_and_each_leg_in_each_view(seed: int) -> None:
    made = figures(seed=seed)
    grades = Counter(one.grade for one in made)
    assert set(grades) == set(PELVIS)
    assert min(grades.values()) >= 3
    assert set(Counter((one.standing, one.view) for one in made).values()) == {5}
    for one in made:
        low, high = TENTHS[one.grade]
        assert low <= one.drop * 10 <= high


@settings(max_examples=20)
@given(st.integers(0, 2**64))
def test_the_pelvis_hangs_on_the_free_side_by_the_angle_that_is_known(seed: int) -> None:
    for one in figures(seed=seed):
        drawn = LineFigure(
            drop=one.drop, standing=one.standing, view=one.view, lean=one.lean, build=one.build,
            title=f"Standing on the {one.standing}",
        )  # fmt: skip
        svg = draw_line_figure(figure=drawn)
        stance, free = pelvis(figure=drawn)
        on_the_right = (one.standing == "right") == (one.view == "behind")
        assert (stance[0] > free[0]) is on_the_right
        ends = [
            (float(x), float(y))
            for x, y in re.findall(r'<circle cx="([\d.]+)" cy="([\d.]+)" r="4.5"', svg)
        ]
        (ax, ay), (bx, by) = ends
        angle = math.degrees(math.atan2(by - ay, abs(bx - ax)))
        assert abs(angle - float(one.drop)) < 0.02
        assert re.findall("<title>(.*?)</title>", svg) == [drawn.title]
        assert "°" not in svg
