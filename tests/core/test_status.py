"""Status today: what it says, and the laws that let a kept row stand until its next change."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from outcomes.core.events import BY_CODE, Side
from outcomes.core.status import Change, StatusToday, judge, week_on
from outcomes.core.values import (
    Event,
    NotAssessable,
    Reading,
    ReadingStatus,
    RedFlag,
    Restriction,
    Tier,
    VisitFacts,
    Why,
)
from tests.core.builders import (
    CATALOGUE,
    KEYS,
    NONE,
    PROTOCOL,
    SURGERY,
    UPRIGHT,
    L,
    R,
    after,
    both,
    facts,
    few,
    reading,
    visits,
)
from tests.core.tables import every_case

QUAD, HOP, EXT = "quadriceps_torque", "single_hop", "knee_extension"


def status(
    rows, *, on=None, who=None, limits=(), seen=None, flags=(), events=(), catalogue=CATALOGUE
):
    return judge(
        facts=who or facts(),
        catalogue=catalogue,
        protocol=PROTOCOL,
        readings=rows,
        restrictions=limits,
        visits=seen or visits(),
        red_flags=flags,
        on=on or after(weeks=30),
        events=events,
    )


def test_latest_of_each_limb_the_pair_and_its_symmetry():
    old, new = both(QUAD, "150", "200", after(weeks=20)), both(QUAD, "170", "200", after(weeks=26))
    alone = reading(QUAD, R, "205", after(weeks=27))
    found = status([alone, *new, *old]).measure(code=QUAD)
    assert (found.left, found.right, found.whole) == (new[0], alone, None)
    assert (found.of(limb=L), found.of(limb=R), found.of(limb=NONE)) == (new[0], alone, None)
    assert (found.pair.on, found.symmetry.value) == (after(weeks=26), 85)
    assert found.change_symmetry == Change(
        before=Fraction(75), after=Fraction(85), since=after(weeks=20), real=False
    )
    assert found.change_left == Change(
        before=Fraction(150), after=Fraction(170), since=after(weeks=20), real=None
    )
    assert found.change_right == Change(
        before=Fraction(200), after=Fraction(205), since=after(weeks=26), real=None
    )


def test_a_change_is_real_where_the_error_is_known():
    rows = [*both(EXT, "8", "0", after(weeks=3)), *both(EXT, "3", "0", after(weeks=5))]
    found = status(rows).measure(code=EXT)
    assert (found.change_left.real, found.change_right.real) == (True, False)
    assert found.change_symmetry.real is True


def test_changes_are_within_one_key_and_over_days():
    rows = [
        *both(QUAD, "150", "200", after(weeks=20), key="device=handheld;knee_angle=90"),
        *both(QUAD, "170", "200", after(weeks=26)),
        reading(QUAD, L, "171", after(weeks=26)),
    ]
    found = status(rows).measure(code=QUAD)
    assert (found.change_left, found.change_right, found.change_symmetry) == (None, None, None)


def test_a_value_stopped_by_pain_is_shown_and_is_no_end_of_a_change():
    rows = [
        *both(QUAD, "150", "200", after(weeks=20)),
        reading(QUAD, L, "90", after(weeks=24), status=ReadingStatus.STOPPED_BY_PAIN),
    ]
    found = status(rows).measure(code=QUAD)
    assert (found.left.value, found.change_left) == (90, None)


@every_case(
    ("rows", "why"),
    [
        ([reading(HOP, L, "120", after(weeks=20))], Why.OTHER_LIMB_NOT_TESTED),
        ([reading(HOP, R, "120", after(weeks=20))], Why.INVOLVED_NOT_TESTED),
        (
            [reading(HOP, L, "120", after(weeks=20)), reading(HOP, R, "150", after(weeks=21))],
            Why.NO_PAIR,
        ),
        (
            [
                reading(HOP, L, "120", after(weeks=20)),
                reading(HOP, R, "150", after(weeks=20), key="brace=yes;hands=free;shoes=worn"),
            ],
            Why.DIFFERENT_KEY,
        ),
        (both(HOP, "120", "0", after(weeks=20)), Why.ZERO_REFERENCE),
    ],
)
def test_why_there_is_no_symmetry(rows, why):
    found = status(rows).measure(code=HOP).symmetry
    assert isinstance(found, NotAssessable)
    assert found.why is why


def test_measures_without_limbs_or_symmetry():
    rows = [reading("body_mass", NONE, "70", after(weeks=2))]
    rows += [
        reading("body_mass", NONE, "72", after(weeks=9)),
        reading("effusion", L, "1+", SURGERY),
    ]
    found = status(rows)
    mass, effusion = found.measure(code="body_mass"), found.measure(code="effusion")
    assert (mass.whole.value, mass.change_whole.before, mass.symmetry) == (72, 70, None)
    assert (effusion.left.value, effusion.symmetry, effusion.pair) == (2, None, None)


def test_only_what_was_tested_is_listed_in_the_order_of_the_catalogue():
    rows = [
        *both(HOP, "120", "150", after(weeks=20)),
        reading("effusion", L, "zero", after(weeks=20)),
        *both(EXT, "0", "0", after(weeks=31)),
    ]
    found = status(rows)
    assert [one.code for one in found.measures] == ["effusion", HOP]
    assert found.measure(code=EXT) is None


def test_readings_of_a_measure_the_catalogue_does_not_have_are_not_seen():
    own = replace(reading(HOP, L, "120", after(weeks=20)), measure="own_balance")
    assert status([own]).measures == ()


def test_the_week_is_worked_out_when_shown():
    assert week_on(facts=facts(), on=after(weeks=7)) == 7
    assert week_on(facts=facts(index_date=None), on=after(weeks=7)) is None


@every_case(
    ("rows", "rest", "expected"),
    [
        ([], {"on": after(weeks=2)}, after(weeks=4)),
        ([], {"on": after(weeks=10)}, after(weeks=12)),
        ([], {"on": after(weeks=17)}, date(2026, 12, 2)),
        ([], {"on": date(2026, 12, 2)}, date(2027, 3, 2)),
        ([], {"on": date(2027, 3, 2)}, None),
        (
            both(QUAD, "170", "200", after(weeks=17)),
            {"on": after(weeks=17)},
            after(weeks=17, days=43),
        ),
        (
            [reading("effusion", L, "zero", after(weeks=17))],
            {"on": after(weeks=17)},
            after(weeks=17, days=4),
        ),
        (
            [reading("body_mass", NONE, "70", after(weeks=5))],
            {"on": after(weeks=17)},
            after(weeks=5, days=91),
        ),
        (
            [],
            {
                "on": after(weeks=17),
                "limits": [
                    Restriction(kind="impact", limit="none", since=SURGERY, until=after(weeks=18))
                ],
            },
            after(weeks=18, days=1),
        ),
        (
            [],
            {
                "on": after(weeks=17),
                "seen": visits(last_on=after(weeks=17), booked_on=after(weeks=19)),
            },
            after(weeks=19, days=1),
        ),
        (
            [],
            {"on": after(weeks=17), "seen": visits(unsigned_since=after(weeks=17))},
            after(weeks=17, days=2),
        ),
        (
            [],
            {"on": after(weeks=17), "who": facts(birth_date=date(2008, 9, 1))},
            date(2026, 9, 1),
        ),
    ],
)
def test_the_next_change(rows, rest, expected):
    rest = {"seen": visits(last_on=after(weeks=60)), **rest}
    assert status(rows, **rest).next_change_on == expected


# Laws, on random records

CODES = sorted(CATALOGUE)
SPAN = 330
STATUSES = [*[ReadingStatus.MEASURED] * 4, ReadingStatus.STOPPED_BY_PAIN]
KINDS_OF_LIMIT = st.sampled_from(["impact", "range"])
DAYS = st.integers(min_value=-40, max_value=SPAN).map(lambda days: after(days=days))
MAYBE_DAY = st.none() | DAYS
HAPPENED = st.lists(st.tuples(st.sampled_from(sorted(BY_CODE)), DAYS), max_size=3)
LIMITS = st.lists(st.tuples(KINDS_OF_LIMIT, DAYS, st.integers(0, 90)), max_size=2)


@st.composite
def readings_of(draw):
    rows = []
    for ref in range(1, draw(st.integers(0, 14)) + 1):
        measure = CATALOGUE[draw(st.sampled_from(CODES))]
        low, high = (int(edge) for edge in measure.soft)
        value = Decimal(draw(st.integers(low, high)))
        rows.append(
            Reading(
                measure=measure.code,
                limb=draw(st.sampled_from([L, R])) if measure.per_limb else NONE,
                value=value,
                on=draw(DAYS),
                key=KEYS.get(measure.code, ""),
                status=draw(
                    st.sampled_from([ReadingStatus.MEASURED] * 4 + list(ReadingStatus)[:2])
                ),
                details=UPRIGHT if measure.standing else {},
                ref=ref,
            )
        )
    return rows


@st.composite
def records(draw):
    limits = [
        Restriction(kind=kind, limit="as told", since=day, until=day + timedelta(days=length))
        for kind, day, length in draw(LIMITS)
    ]
    who = facts(
        graft=draw(st.sampled_from(["hamstring", "patellar_tendon", "unknown"])),
        kind=draw(st.sampled_from(["reconstruction", "revision", "without_surgery"])),
        birth_date=draw(st.sampled_from([date(2000, 5, 5), date(2010, 8, 1), date(2008, 6, 9)])),
        other_limb=draw(st.sampled_from(["healthy", "healthy", "not_stated"])),
        goal=draw(st.sampled_from(["pivoting", "straight_line"])),
    )
    return {
        "rows": draw(readings_of()),
        "who": who,
        "limits": limits,
        "seen": VisitFacts(
            last_on=draw(MAYBE_DAY), booked_on=draw(MAYBE_DAY), unsigned_since=draw(MAYBE_DAY)
        ),
        "flags": [
            RedFlag(code="calf", tier=Tier.TODAY, on=day)
            for day in draw(st.lists(DAYS, max_size=1))
        ],
        "events": [
            Event(code=code, limb=L if Side.SAME in BY_CODE[code].sides else R, on=day, ref=ref)
            for ref, (code, day) in enumerate(draw(HAPPENED), start=1)
        ],
    }


@few
@given(record=records(), on=DAYS)
def test_nothing_kept_changes_before_the_next_change(record, on):
    kept = status(**record, on=on)
    last = after(days=SPAN + 400) if kept.next_change_on is None else kept.next_change_on
    assert last > on
    for day in {on + timedelta(days=1), on + (last - on) / 2, last - timedelta(days=1)}:
        if on < day < last:
            assert status(**record, on=day).kept == kept.kept


@few
@given(record=records(), on=DAYS, data=st.data())
def test_the_order_of_rows_changes_nothing(record, on, data):
    turned = {
        **record,
        "rows": data.draw(st.permutations(record["rows"])),
        "events": data.draw(st.permutations(record["events"])),
    }
    assert status(**turned, on=on) == status(**record, on=on)


def mirror_image(found: StatusToday) -> StatusToday:
    """What the status of the mirrored record must be, row by row."""

    def turn(one):
        return None if one is None else replace(one, limb=one.limb.opposite)

    def turn_pair(pair):
        return pair and replace(pair, left=turn(pair.right), right=turn(pair.left))

    def turn_symmetry(one):
        if one is None or isinstance(one, NotAssessable):
            return turn_why(one)
        return replace(one, pair=turn_pair(one.pair))

    return replace(
        found,
        measures=tuple(
            replace(
                one,
                left=turn(one.right),
                right=turn(one.left),
                pair=turn_pair(one.pair),
                symmetry=turn_symmetry(one.symmetry),
                change_left=one.change_right,
                change_right=one.change_left,
            )
            for one in found.measures
        ),
        milestones=tuple(
            replace(m, criteria=tuple(replace(c, why=turn_why(c.why)) for c in m.criteria))
            for m in found.milestones
        ),
        reasons=tuple(replace(reason, facts=turn_facts(reason.facts)) for reason in found.reasons),
    )


OPPOSITE = {"left": "right", "right": "left"}


def turn_why(why):
    return why and replace(why, detail=OPPOSITE.get(why.detail, why.detail))


def turn_facts(said):
    return {key: OPPOSITE.get(value, value) for key, value in said.items()}


@few
@given(record=records(), on=DAYS)
def test_left_and_right_swapped_with_the_knee_is_the_mirror_image(record, on):
    mirrored = {
        **record,
        "rows": [replace(row, limb=row.limb.opposite) for row in record["rows"]],
        "who": replace(record["who"], knee=R),
        "events": [replace(one, limb=one.limb.opposite) for one in record["events"]],
    }
    assert status(**mirrored, on=on) == mirror_image(status(**record, on=on))
