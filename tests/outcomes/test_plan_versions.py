"""What a plan was made from stays readable: its progression is a version that nothing changes."""

from outcomes.catalogue.seeds import load_catalogue
from outcomes.protocols.progression_seeds import progression_from, progression_seeds
from outcomes.queries.plan import plan_lines, progressions
from outcomes.services import seeds
from tests.factories.outcomes import PlanStepFactory
from tests.outcomes.planned import good
from tests.outcomes.test_next_step_pages import (
    HIP,
    HOLD,
    NEXT,
    SINCE,
    address,
    form,
    plan,
    post,
)
from tests.web import signed_in, words_of


def test_a_plan_keeps_the_text_it_was_made_by_after_a_newer_version_ships(cast, monkeypatch):
    good(cast)
    PlanStepFactory(episode=cast.episode, since=SINCE)
    name, mapping = next(row for row in progression_seeds() if row[1]["code"] == HIP)
    levels = [one for one in mapping["levels"] if one["code"] != HOLD]
    newer = {**mapping, "version": 2, "label": "Hip work", "levels": levels}
    monkeypatch.setattr(seeds, "progression_seeds", lambda: [(name, newer)])
    seeds.seed_versions()
    measures, shipped = load_catalogue(), progressions()
    shipped = {**shipped, HIP: progression_from(newer, measures)}
    monkeypatch.setattr("outcomes.queries.plan.shipped", lambda: (measures, shipped))
    (line,) = plan_lines(steps={HIP: plan()})
    (level,) = (o for o in mapping["levels"] if o["code"] == HOLD)
    assert (line.label, line.exercise, line.dose, line.how, line.reason, line.version) == (
        mapping["label"], level["label"], "3 sets of 15 s, 3 days a week",
        f"{level['exercise']}. {level['how']}", level["why"],
        f"{mapping['label']}, version 1; version 2 is in force and changes nothing of this plan",
    )  # fmt: skip
    said = words_of(signed_in(cast.clinician).get(address(cast)))
    assert f"{level['exercise']}. {level['how']} {level['why']} {line.version}." in said
    shown = signed_in(cast.clinician).get(f"/episodes/{cast.episode.uid}/show-patient")
    assert level["why"] in words_of(shown)
    assert post(cast, form(cast, "declined:practical")).status_code == 302
    assert (plan().level, plan().progression_version, plan().answer) == (HOLD, 1, "declined")
    assert post(cast, form(cast, "set", level=NEXT)).status_code == 302
    assert (plan().level, plan().progression_version) == (NEXT, 2)
