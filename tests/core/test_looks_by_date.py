"""Reasons to look that the calendar raises: baseline, overdue visits, unsigned visits."""

from datetime import timedelta

from tests.core.builders import SURGERY, L, R, after, reading, visits
from tests.core.tables import every_case
from tests.core.test_looks import QUAD, codes, looks


@every_case(
    ("on", "changes", "rows", "raised"),
    [
        (after(weeks=1), {}, [], True),
        (after(weeks=4, days=-1), {}, [], True),
        (after(weeks=1, days=-1), {}, [], False),
        (after(weeks=4), {}, [], False),
        (after(weeks=2), {}, [reading(QUAD, R, "200", SURGERY - timedelta(days=9))], False),
        (after(weeks=2), {}, [reading(QUAD, L, "80", SURGERY - timedelta(days=9))], True),
        (after(weeks=2), {"kind": "without_surgery"}, [], False),
        (after(weeks=2), {"graft_from": "other_limb"}, [], False),
        (after(weeks=2), {"other_limb": "current_problem"}, [], False),
    ],
)
def test_without_a_baseline_the_other_leg_is_measured_in_weeks_1_to_3(on, changes, rows, raised):
    assert codes(rows, on=on, **changes) == (["no_baseline"] if raised else [])


# Overdue: weeks 0-6 after 10 days, 6-12 after 21, months 3-6 after 35, 6-12 after 60.
@every_case(
    ("week", "days"), [(0, 10), (5, 10), (6, 21), (11, 21), (12, 35), (25, 35), (26, 60), (51, 60)]
)
def test_a_visit_is_overdue_the_day_after(week, days):
    last = after(weeks=week)
    for extra, raised in [(0, False), (1, True)]:
        on = last + timedelta(days=days + extra)
        found = looks([], on=on, seen=visits(last_on=last))
        assert [r.since for r in found if r.code == "no_visit"] == ([on] if raised else [])


def test_a_year_after_surgery_no_visit_is_overdue():
    assert codes([], on=after(weeks=99), seen=visits(last_on=after(weeks=52))) == []


def test_a_booked_visit_silences_until_its_day_has_passed():
    last, booked = after(weeks=14), after(weeks=30)
    seen = visits(last_on=last, booked_on=booked)
    assert codes([], on=booked, seen=seen) == []
    assert codes([], on=booked + timedelta(days=1), seen=seen) == ["no_visit"]


def test_without_any_visit_the_days_count_from_surgery_or_from_taking_on():
    early = after(days=11)
    assert "no_visit" in codes([], on=early, seen=visits())
    assert "no_visit" not in codes([], on=early, seen=visits(followed_since=after(days=5)))
    assert codes([], on=early, seen=visits(), kind="waiting", index_date=None) == []


@every_case(("days", "raised"), [(1, False), (2, True)])
def test_a_visit_unsigned_for_48_hours(days, raised):
    day = after(weeks=20)
    seen = visits(last_on=day, unsigned_since=day)
    found = codes([], on=day + timedelta(days=days), seen=seen)
    assert found == (["unsigned_visit"] if raised else [])
