"""Stages of two protocols beside each other: in order, each once, and most that is shared."""

from itertools import combinations

from hypothesis import given
from hypothesis import strategies as some

from outcomes.catalogue.seeds import load_catalogue
from outcomes.core.pairing import pairs, shared
from outcomes.core.values import Milestone
from outcomes.protocols.seeds import load_protocols

PROTOCOLS = load_protocols(load_catalogue())
POOL = [one for code in ("composite@1", "starter@2") for one in PROTOCOLS[code].milestones]
STAGES = some.lists(some.sampled_from(POOL), max_size=4)


def renamed(stages, letter):
    """The stages under codes of their own, so that nothing but what they judge is alike."""
    return [
        Milestone(code=f"{letter}{place}", label="", gate=one.gate, criteria=one.criteria)
        for place, one in enumerate(stages)
    ]


@given(before=STAGES, after=STAGES)
def test_each_stage_stands_once_in_its_order_and_most_is_shared(before, after):
    """Checked against every way to pair them without crossing."""
    before, after = renamed(before, "a"), renamed(after, "b")
    found = pairs(before=before, after=after)
    assert [i for i, _ in found if i is not None] == [*range(len(before))]
    assert [j for _, j in found if j is not None] == [*range(len(after))]
    beside = [(i, j) for i, j in found if i is not None and j is not None]
    worth = [shared(before=before[i], after=after[j]) for i, j in beside]
    assert all(worth)
    ways = [
        sum(shared(before=before[i], after=after[j]) for i, j in zip(left, right, strict=True))
        for many in range(min(len(before), len(after)) + 1)
        for left in combinations(range(len(before)), many)
        for right in combinations(range(len(after)), many)
    ]
    assert sum(worth) == max(ways)


@given(order=some.permutations(POOL[:5]), kept=some.sets(some.integers(0, 4), min_size=1))
def test_stages_of_the_same_name_stand_beside_each_other_whatever_their_order(order, kept):
    before = [POOL[place] for place in sorted(kept)]
    found = pairs(before=before, after=order)
    named = {before[i].code: order[j].code for i, j in found if i is not None and j is not None}
    assert named == {one.code: one.code for one in before}
    assert sorted(j for _, j in found if j is not None) == [*range(5)]
