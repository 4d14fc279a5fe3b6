"""Lines of the ledger: what a single-leg task shows, and numbers that never reach a threshold."""

import pytest

from outcomes.core.status import judge
from outcomes.core.values import Reading
from outcomes.queries.ledger_lines import LedgerLine, ledger_lines
from tests.core.builders import (
    CATALOGUE,
    LATERAL,
    NONE,
    PROTOCOL,
    L,
    R,
    after,
    both,
    facts,
    reading,
    visits,
)

ON = after(weeks=40)
QUAD = "quadriceps_torque"
LEANS = {"kept_level_by": "trunk_leans"}


def line(rows: list[Reading], code: str, *, mass: Reading | None = None) -> LedgerLine:
    who = facts()
    status = judge(
        facts=who,
        catalogue=CATALOGUE,
        protocol=PROTOCOL,
        readings=rows if mass is None else [*rows, mass],
        restrictions=(),
        visits=visits(last_on=ON),
        red_flags=(),
        on=ON,
    )
    lines = ledger_lines(
        statuses=status.measures,
        measures=CATALOGUE,
        facts=who,
        body_mass=mass,
        milestones=status.milestones,
        on=ON,
    )
    return next(one for one in lines if one.code == code)


@pytest.mark.parametrize(
    ("left", "leaning", "right", "cell", "finding"),
    [
        ("level", False, "level", "level", "Standing on the left, the pelvis stays level."),
        (
            "level", True, "level", "level, by leaning",
            "Standing on the left, the pelvis is level, by leaning.",
        ),
        (
            "level", True, "slight", "level, by leaning",
            "Standing on the right, the left side of the pelvis drops. "
            "Standing on the left, the pelvis is level, by leaning.",
        ),
        (
            "slight", True, "level", "slight, by leaning",
            "Standing on the left, the right side of the pelvis drops.",
        ),
    ],
)  # fmt: skip
def test_level_by_leaning_is_said_and_is_not_the_better_leg(left, leaning, right, cell, finding):
    more = {"details": LEANS} if leaning else {}
    rows = [reading(LATERAL, L, left, ON, **more), reading(LATERAL, R, right, ON)]
    found = line(rows, LATERAL)
    assert (found.left.value, found.right.value, found.finding) == (cell, right, finding)


def test_torque_for_body_mass_is_never_rounded_onto_the_threshold():
    """2.71 for a woman is the setting; 189.5 / 70 is 2.70714 and rounds to it."""
    mass = reading("body_mass", NONE, "70", ON)
    found = line(both(QUAD, "189.5", "210.0", ON), QUAD, mass=mass)
    assert (found.left.detail, found.right.detail) == ("2.70 N·m/kg", "3.00 N·m/kg")
    (by_mass,) = [lines for head, lines in found.opened.parts if head == "By body mass"]
    assert by_mass[0].endswith("= 2.70 N·m/kg")


def test_an_opened_index_is_never_rounded_onto_the_threshold():
    found = line(both(QUAD, "89.997", "100", ON), QUAD)
    assert found.symmetry.startswith("LSI 89 %")
    (worked_out,) = [lines for head, lines in found.opened.parts if head == "Worked out"]
    assert worked_out[0].endswith("= 89.99 %")
