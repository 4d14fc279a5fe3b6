"""A colleague's measurement after one's own, on the patient page and while it is typed."""

from datetime import date

import pytest

from tests.factories.outcomes import both_limbs, signed_visit
from tests.outcomes.paper import Paper, open_visit
from tests.outcomes.test_patient_page import get
from tests.web import signed_in, words_of


def measured(cast, by, on, code, left, right):
    visit = signed_visit(patient=cast.ines, site=cast.harbour, by=by, on=on)
    both_limbs(visit=visit, measure=code, left=left, right=right)


def test_the_page_says_that_somebody_else_measured(cast):
    measured(cast, cast.colleague, date(2026, 11, 11), "knee_extension", 0, 8)
    measured(cast, cast.clinician, date(2026, 11, 18), "knee_extension", 0, 5)
    assert "3° more extension since 11 Nov, another tester" in words_of(get(cast))


@pytest.mark.parametrize(
    ("before", "said"),
    [
        ("colleague", "right 8° more since 11 Nov, another tester error not known"),
        ("clinician", "right 8° more since 11 Nov error not known"),
    ],
)
def test_while_it_is_typed_the_one_who_types_is_the_tester(cast, before, said):
    measured(cast, getattr(cast, before), date(2026, 11, 11), "knee_flexion", 140, 120)
    paper = Paper(signed_in(cast.clinician), open_visit(cast))
    paper.type({"v:knee_flexion:left": "140", "v:knee_flexion:right": "128"})
    assert said in words_of(paper.send_row("knee_flexion"))
