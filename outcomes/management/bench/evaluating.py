"""Episodes judged through the whole composite protocol, against reading the same rows alone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from decimal import Decimal
from math import ceil
from typing import Final

from clinic import clock
from clinic.models.care import Episode, Visit
from clinic.models.places import StaffMember
from outcomes.core.judge import judge_protocol
from outcomes.core.values import EpisodeFacts, Limb
from outcomes.management.bench.crowd import Followed, follow, knee_of
from outcomes.management.bench.measuring import Figure, compared, paired, sampled, turns
from outcomes.models.record import Reading
from outcomes.queries.catalogue import InForce, in_force
from outcomes.queries.record import READING, episode_facts, readings_of

EPISODES: Final = 1000
"""How many there are over all rounds together; each round takes its share."""
VISITS: Final = 12
PROTOCOL: Final = "composite@1"
NOON: Final = time(12)
HOP: Final = "brace=no;hands=free;shoes=worn"
TORQUE: Final = "device=fixed;knee_angle=90"
TESTS: Final = (
    ("quadriceps_torque", TORQUE, 170), ("hamstring_torque", TORQUE, 90), ("single_hop", HOP, 130),
    ("triple_hop", HOP, 400), ("crossover_hop", HOP, 380), ("timed_hop_6m", HOP, 2),
    ("knee_extension", "", 0), ("knee_flexion", "", 140),
    ("pelvic_drop_forward_heel_touch", "step_height=20", 1),
    ("pelvic_drop_lateral_heel_touch", "step_height=20", 1),
)  # fmt: skip
"""Ten measures of both limbs: code, comparison key, and what the other limb shows."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Batch:
    """The episodes of one round, what the core must know of them, and the day."""

    facts: dict[int, EpisodeFacts]
    on: date


def evaluate(*, rounds: int) -> list[Figure]:
    """A thousand episodes of 240 readings each, in as many batches as there are rounds."""
    crowd = follow(code="evaluate", episodes=EPISODES, visits=VISITS)
    Reading.objects.bulk_create(_rows(crowd=crowd, rules=in_force()), batch_size=2000)
    batches, size = _batches(crowd.episodes, rounds=rounds)
    one_each = [[batch] for batch in batches]
    mine, bare = paired(
        product=turns(one_each, judged), baseline=turns(one_each, read), rounds=rounds
    )
    each_second = [size / spent * 1000 for spent in mine]
    return [
        *compared(name="evaluate", product=mine, baseline=bare, aim=4),
        sampled(name="evaluate.episodes", values=each_second, unit="episodes a second"),
    ]


def judged(batch: Batch) -> int:
    """Read the rows and judge each episode; answers with the number of milestones."""
    rules = in_force()
    found = 0
    for patient_id, readings in readings_of(patient_ids=list(batch.facts)).items():
        results = judge_protocol(
            protocol=rules.protocols[PROTOCOL],
            catalogue=rules.measures,
            readings=readings,
            facts=batch.facts[patient_id],
            restrictions=(),
            on=batch.on,
        )
        found += len(results)
    return found


def read(batch: Batch) -> int:
    """Read the same rows and do nothing."""
    rows = Reading.objects.filter(patient_id__in=list(batch.facts), superseded_by__isnull=True)
    rows = rows.exclude(kind="withdrawn").order_by("date", "id")
    return len(list(rows.values_list(*READING)))


def _batches(episodes: Sequence[Episode], *, rounds: int) -> tuple[list[Batch], int]:
    size = ceil(len(episodes) / rounds)
    facts = episode_facts(episodes=episodes, events={one.pk: () for one in episodes})
    by_patient = [(one.patient_id, facts[one.pk]) for one in episodes]
    on = clock.today(episodes[0].site)
    whole = range(0, len(episodes) - size + 1, size)
    return [Batch(facts=dict(by_patient[n : n + size]), on=on) for n in whole], size


def _rows(*, crowd: Followed, rules: InForce) -> Iterator[Reading]:
    """Every test of every visit on both limbs; the followed knee gains on the other one."""
    for place, visit in enumerate(crowd.visits):
        number, turn = divmod(place, VISITS)
        share = Decimal(55 + number % 10 + 35 * turn // VISITS) / 100
        for measure, key, other in TESTS:
            for limb in (Limb.LEFT, Limb.RIGHT):
                own = share if limb is knee_of(number) and other > 1 else Decimal(1)
                yield _row(
                    visit,
                    by=crowd.clinicians[0],
                    version=rules.measure_ids[measure],
                    measure=measure,
                    key=key,
                    limb=limb,
                    value=other * own,
                )


def _row(
    visit: Visit,
    *,
    by: StaffMember,
    version: int,
    measure: str,
    key: str,
    limb: Limb,
    value: Decimal,
) -> Reading:
    noon = datetime.combine(visit.date, NOON, tzinfo=UTC)
    return Reading(
        visit=visit,
        patient_id=visit.patient_id,
        date=visit.date,
        measure_version_id=version,
        measure=measure,
        limb=limb.value,
        comparison_key=key,
        status="measured",
        value=value,
        typed_text=str(value),
        trials=[],
        conditions={},
        details={"kept_level_by": "upright"} if measure.startswith("pelvic") else {},
        measured_at=noon,
        recorded_at=noon,
        recorded_by=by,
    )
