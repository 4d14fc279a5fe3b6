"""A scale whose activities the person names is compared over those rated both times."""

from datetime import date

from tests.cast import TODAY
from tests.factories.outcomes import keyed, signed_visit
from tests.web import signed_in, words_of


def rated(cast, day, **answers):
    visit = signed_visit(patient=cast.ines, site=cast.harbour, by=cast.clinician, on=day)
    answers = {item.removeprefix("item_"): mark for item, mark in answers.items()}
    keyed(visit=visit, instrument="psfs", answers=answers, limb="none")


def page(cast):
    return words_of(signed_in(cast.clinician).get(f"/patients/{cast.ines.uid}/"))


def test_an_activity_added_at_review_does_not_pull_the_change_down(cast):
    rated(cast, date(2026, 10, 5), item_1="3", item_2="5", item_3="4")
    rated(cast, TODAY, item_1="6", item_2="7", item_3="8", item_4="0")
    said = page(cast)
    assert "PSFS 5.3 of 10" in said
    assert "Up 3 since 5 Oct: a real change (MDC90 2); item 4 rated once and left out." in said
    assert "MDC90 of any one item at least 3: as printed on the form, one activity" in said


def test_activities_with_none_in_common_are_not_compared(cast):
    rated(cast, date(2026, 10, 5), item_1="3")
    rated(cast, TODAY, item_2="7")
    assert "Not compared since 5 Oct: items 1 and 2 rated once and left out." in page(cast)
