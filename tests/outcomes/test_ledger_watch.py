"""Which measures have a stopwatch, and what it is told: the catalogue decides, no code is named."""

from dataclasses import replace
from decimal import Decimal

from outcomes.core.values import Better, EntryKind, Limb
from outcomes.forms.ledger_watch import Watch, watch_of
from tests.core.builders import CATALOGUE

HOLD, PLANK = CATALOGUE["standing_hip_hold"], CATALOGUE["side_plank_hold"]


def test_what_is_held_for_seconds_has_a_watch_and_nothing_else_has():
    found = {
        code
        for code, measure in CATALOGUE.items()
        if watch_of(row=code, measure=measure, limb=Limb.LEFT, about="") is not None
    }
    assert found == {
        "single_leg_stance", "standing_hip_hold", "side_plank_hold", "wall_sit_hold",
    }  # fmt: skip
    for changed in (
        {"better": Better.LOWER},
        {"unit": "cm"},
        {"entry": EntryKind.DERIVED},
        {"entry_units": ("s", "ms")},
    ):
        assert not replace(HOLD, **changed).timed


def test_a_capped_hold_ends_at_its_cap_and_another_where_nothing_can_be_meant():
    assert watch_of(
        row="standing_hip_hold-2", measure=HOLD, limb=Limb.RIGHT, about="standing on right"
    ) == Watch(
        id="standing_hip_hold-2:right",
        about="standing on right",
        longest="45",
        capped=True,
        ticks=(15, 20),
        reason="d:standing_hip_hold-2:right:end_reason",
        cap_is_reason=True,
    )
    assert watch_of(row="side_plank_hold", measure=PLANK, limb=Limb.LEFT, about="") == Watch(
        id="side_plank_hold:left",
        about="left",
        longest="600",
        capped=False,
        ticks=(15, 20),
        reason="d:side_plank_hold:left:end_reason",
        cap_is_reason=False,
    )


def test_a_hold_of_the_clinics_own_without_reasons_or_sides_has_one_too():
    short = (Decimal(0), Decimal(18))
    own = replace(HOLD, code="own_hang", per_limb=False, details=(), cap=Decimal(18), hard=short)
    found = watch_of(row="own_hang", measure=own, limb=Limb.NONE, about="")
    assert found == Watch(
        id="own_hang:none",
        about="",
        longest="18",
        capped=True,
        ticks=(15,),
        reason="",
        cap_is_reason=False,
    )
