"""The published outcome sets: what answers a line, and what leaves it open.

Lynch 2015, Br J Sports Med 49:335: no giving way, return to sport, quadriceps and hamstrings over
90 % of the other limb, at most mild effusion, a patient-reported outcome. Svantesson 2020, doi
10.1177/2325967120934751: early adverse events, patient-reported outcomes, graft failure, clinical
measures. How mild and a return are read is a setting of this house.
"""

from datetime import timedelta
from fractions import Fraction

from outcomes.core.history import History
from outcomes.core.outcome_sets import (
    BY_CODE,
    LINES,
    MEASURES,
    Answer,
    Asked,
    Form,
    Group,
    Known,
    outcomes_of,
)
from outcomes.core.values import Event, ReadingStatus
from tests.core.builders import CATALOGUE, NONE, L, R, after, both, facts, reading
from tests.core.tables import every_case

NOW = after(weeks=60)
DAY = after(weeks=52)
HAMSTRINGS = "device=fixed;knee_angle=90"


def answers(rows=(), *, events=(), asked=(), forms=(), on=NOW, **changes):
    history = History(facts=facts(**changes), catalogue=CATALOGUE, readings=rows, on=on)
    known = Known(history=history, events=events, asked=asked, forms=forms)
    return {found.line.code: found for found in outcomes_of(known=known)}


def event(code, on=DAY, **more):
    return Event(code=code, **{"limb": L, "on": on, "ref": 1, **more})


def test_the_six_and_the_four_groups_are_all_there():
    six = [line.code for line in LINES if line.group is Group.SIX]
    assert six == [
        "no_giving_way", "return_to_sport", "quadriceps", "hamstrings", "mild_effusion", "reported",
    ]  # fmt: skip
    assert {line.group for line in LINES} == set(Group)
    assert len(BY_CODE) == len(LINES)
    assert set(CATALOGUE) >= MEASURES


def test_an_empty_record_answers_nothing():
    found = {code: one.answer for code, one in answers().items()}
    events = {line.code for line in LINES if line.rule == "event"}
    assert {code for code, answer in found.items() if answer is Answer.NONE} == events
    assert {answer for code, answer in found.items() if code not in events} == {Answer.UNKNOWN}


@every_case(
    ("events", "asked", "answer", "on"),
    [
        ([], [], Answer.UNKNOWN, None),
        ([], [Asked(on=DAY, yes=False)], Answer.YES, DAY),
        ([], [Asked(on=DAY, yes=False), Asked(on=NOW, yes=False)], Answer.YES, NOW),
        ([event("giving_way")], [Asked(on=NOW, yes=False)], Answer.NO, DAY),
        ([], [Asked(on=DAY, yes=True), Asked(on=NOW, yes=False)], Answer.NO, DAY),
        ([event("giving_way", after(days=-1))], [], Answer.UNKNOWN, None),
        ([event("giving_way", NOW + timedelta(days=1))], [], Answer.UNKNOWN, None),
    ],
)
def test_no_giving_way_is_known_only_where_it_was_asked(events, asked, answer, on):
    found = answers(events=events, asked=asked)["no_giving_way"]
    assert (found.answer, found.on) == (answer, on)


@every_case(
    ("goal", "code", "answer"),
    [
        ("pivoting", "return_to_competition", Answer.YES),
        ("pivoting", "return_to_training", Answer.YES),
        ("pivoting", "return_to_running", Answer.UNKNOWN),
        ("straight_line", "return_to_running", Answer.YES),
        ("no_sport", "return_to_competition", Answer.APART),
    ],
)
def test_what_a_return_to_sport_is_follows_the_goal(goal, code, answer):
    found = answers(events=[event(code, limb=NONE, early=True)], goal=goal)["return_to_sport"]
    assert found.answer is answer


@every_case(
    ("mine", "other", "answer", "value"),
    [
        ("180.1", "200", Answer.YES, Fraction(1801, 20)),
        ("180", "200", Answer.NO, Fraction(90)),
        ("18.9", "21", Answer.NO, Fraction(90)),
        ("179.9", "200", Answer.NO, Fraction(1799, 20)),
    ],
)
def test_over_ninety_per_cent_is_more_than_ninety(mine, other, answer, value):
    rows = both("quadriceps_torque", mine, other, DAY)
    rows += both("hamstring_torque", mine, other, DAY, key=HAMSTRINGS)
    found = answers(rows)
    for code in ("quadriceps", "hamstrings"):
        assert (found[code].answer, found[code].value, found[code].on) == (answer, value, DAY)


def test_a_symmetry_that_cannot_be_told_is_not_assessable_and_an_old_one_is_not_known():
    rows = both("quadriceps_torque", "190", "200", DAY)
    assert answers(rows, other_limb="earlier_surgery")["quadriceps"].answer is Answer.NOT_ASSESSABLE
    before = both("quadriceps_torque", "190", "200", after(weeks=-2))
    assert answers(before)["quadriceps"].answer is Answer.UNKNOWN
    assert answers(before, on=after(weeks=-1))["quadriceps"].answer is Answer.YES
    alone = [reading("quadriceps_torque", L, "190", DAY)]
    assert answers(alone)["quadriceps"].answer is Answer.UNKNOWN
    pain = both("quadriceps_torque", "190", "200", DAY, status=ReadingStatus.STOPPED_BY_PAIN)
    assert answers(pain)["quadriceps"].answer is Answer.NOT_ASSESSABLE


@every_case(
    ("grades", "answer"),
    [(["1+"], Answer.YES), (["2+"], Answer.NO), (["trace", "2+"], Answer.NO)],
)
def test_mild_is_at_most_one_plus_whenever_it_was_looked_at_that_day(grades, answer):
    moments = ("moment=before", "moment=after")
    rows = [
        reading("effusion", L, grade, DAY, key=moment)
        for grade, moment in zip(grades, moments, strict=False)
    ]
    rows.append(reading("effusion", L, "3+", after(weeks=2)))
    rows.append(reading("effusion", R, "3+", DAY))
    assert answers(rows)["mild_effusion"].answer is answer


@every_case(("mine", "other", "answer"), [("2.9", "0", Answer.YES), ("3", "0", Answer.NO)])
def test_extension_is_short_of_the_other_side(mine, other, answer):
    assert answers(both("knee_extension", mine, other, DAY))["extension"].answer is answer


def test_forms_count_for_this_knee_or_the_person_since_day_0():
    def found(*forms):
        given = answers(forms=forms)
        return given["reported"].answer, given["ikdc"].answer

    unknown, yes = Answer.UNKNOWN, Answer.YES
    assert found(Form(instrument="ikdc", limb=L, on=DAY)) == (yes, yes)
    assert found(Form(instrument="acl_rsi", limb=NONE, on=DAY)) == (yes, unknown)
    assert found(Form(instrument="ikdc", limb=R, on=DAY)) == (unknown, unknown)
    assert found(Form(instrument="ikdc", limb=L, on=after(days=-1))) == (unknown, unknown)


def test_day_0_is_on_the_side_of_what_follows():
    told = [event("giving_way", on=after(days=-1)), event("giving_way", on=after(days=0))]
    found = {
        days: answers(events=told[:1], on=after(days=days))["no_giving_way"].answer
        for days in (-1, 0, 1)
    }
    assert found == {-1: Answer.NO, 0: Answer.UNKNOWN, 1: Answer.UNKNOWN}
    assert answers(events=told, on=after(days=1))["no_giving_way"].answer is Answer.NO


def test_an_event_answers_its_own_line_alone():
    found = answers(events=[event("reoperation", detail="washout"), event("graft_rupture")])
    on_record = {code for code, one in found.items() if one.answer is Answer.YES}
    assert on_record == {"reoperation", "graft_rupture"}


def test_laxity_is_measured_or_not():
    rows = [reading("anterior_laxity", L, "6", DAY)]
    assert answers(rows)["laxity"].answer is Answer.YES
    assert answers()["laxity"].answer is Answer.UNKNOWN
