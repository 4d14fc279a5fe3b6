"""Two visits as they are logged on the tablet, tap by tap, and what is signed in the end.

Both are of a right knee, with the other side healthy, weeks in which the short four red-flag
questions are asked, and an earlier visit with the same tests. Which tests make a short visit and
a full test day is the task's own setting; the values are invented.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Final
from uuid import uuid4

from clinic.models.care import Episode, Visit
from clinic.permissions import Actor
from clinic.services import visits
from outcomes.forms.red_flags import NONE
from outcomes.forms.visit_page import VisitPage
from outcomes.models.record import Reading, RedFlagCheck
from outcomes.queries.visit import VisitSheet
from outcomes.services import drafts, signing

HOP: Final = {"hands": "free", "shoes": "worn", "brace": "no"}
CONDITIONS: Final[Mapping[str, Mapping[str, str]]] = {
    "effusion": {"moment": "before"},
    "standing_hip_hold": {"hand_support": "no", "added_load": "0"},
    "pelvic_drop_forward_heel_touch": {"step_height": "15"},
    "quadriceps_torque": {"device": "fixed", "knee_angle": "90"},
    "hamstring_torque": {"device": "fixed", "knee_angle": "90"},
    "single_hop": HOP,
    "triple_hop": HOP,
    "crossover_hop": HOP,
    "timed_hop_6m": HOP,
    "vertical_jump": {"device": "height", "hands": "free"},
}
"""The conditions of both visits, last time and now."""

LAST: Final[Mapping[str, tuple[str, str]]] = {
    "pain_worst_24h": ("", "3"),
    "effusion": ("", "1+"),
    "knee_flexion": ("141", "130"),
    "standing_hip_hold": ("32.8", "19.2"),
    "pelvic_drop_forward_heel_touch": ("level", "moderate"),
    "quadriceps_torque": ("156", "109"),
    "hamstring_torque": ("92", "71"),
    "single_hop": ("134", "101"),
    "triple_hop": ("421", "330"),
    "crossover_hop": ("388", "296"),
    "timed_hop_6m": ("2.14", "2.71"),
    "vertical_jump": ("31.0", "24.5"),
}
"""What was measured last time, left and right."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Signed:
    """One signed reading, field by field."""

    measure: str
    limb: str
    typed: str
    value: str
    unit: str = ""
    key: str = ""
    trials: tuple[str, ...] = ()


Result = tuple[str, str, tuple[str, ...]]
"""The text that was typed, its value, and the trials where a test takes several."""


def number(text: str, of: str = "") -> Result:
    """A typed number, of those trials."""
    return text, text, tuple(of.split())


def word(text: str, value: str) -> Result:
    """A chosen word with its value."""
    return text, value, ()


def both(measure: str, unit: str, *limbs: Result) -> tuple[Signed, ...]:
    """Left and right of a measure under its usual conditions."""
    key = ";".join(f"{code}={text}" for code, text in sorted(CONDITIONS.get(measure, {}).items()))
    return tuple(
        Signed(
            measure=measure, limb=limb, typed=typed, value=value, unit=unit, key=key, trials=trials
        )
        for limb, (typed, value, trials) in zip(("left", "right"), limbs, strict=True)
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class Scenario:
    """A visit: the week it is in, the taps and keys, what they may add up to, what is signed."""

    name: str
    week: int
    script: str
    most: int
    scrolls: bool
    signed: tuple[Signed, ...]


def seen_before(*, actor: Actor, episode: Episode, on: date) -> None:
    """The earlier visit, logged and signed by the product's own services."""
    visit = opened(actor=actor, episode=episode, on=on)
    typed = {
        f"v:{measure}:{limb}": text
        for measure, values in LAST.items()
        for limb, text in zip(("left", "right"), values, strict=True)
        if text
    }
    typed |= {
        f"c:{measure}:{code}": text
        for measure, conditions in CONDITIONS.items()
        for code, text in conditions.items()
    }
    saved = drafts.save(
        actor=actor, visit_id=visit.pk, typed={**typed, NONE: "1"}, shown={}, sheet=str(uuid4())
    )
    signing.sign(
        actor=actor,
        key=uuid4(),
        visit=visit,
        draft_version=saved.draft.version,
        found=VisitPage(sheet=VisitSheet(visit), draft=saved.draft).form.to_sign,
        body={},
    )


def opened(*, actor: Actor, episode: Episode, on: date) -> Visit:
    """An open visit of that day."""
    uid = visits.open_visit(
        actor=actor, key=uuid4(), patient_id=episode.patient_id, site_id=episode.site_id, on=on
    )
    return Visit.objects.select_related("patient", "site").get(uid=uid)


def signed_in(visit: Visit) -> tuple[tuple[Signed, ...], tuple[str, str, dict[str, bool], str]]:
    """What a visit holds: its readings, then its state, red flags as asked and answered, note."""
    rows = Reading.objects.filter(visit=visit).order_by("id")
    found = tuple(
        Signed(
            measure=row.measure,
            limb=row.limb,
            typed=row.typed_text,
            unit=row.typed_unit,
            value="" if row.value is None else f"{row.value.normalize():f}",
            key=row.comparison_key,
            trials=tuple(row.trials),
        )
        for row in rows
    )
    now = Visit.objects.get(pk=visit.pk)
    check = RedFlagCheck.objects.get(visit=visit)
    return found, (now.state, check.form, check.answers, now.note)


SHORT: Final = Scenario(
    name="visit_short_actions",
    week=15,
    most=30,
    scrolls=False,
    script="""
        tap I asked all four: none
        tap Same conditions as last time
        tap Worst pain, 24 h, right
        keys 2
        tap Effusion, right > trace
        tap Extension, left > straight
        tap Extension, right > lacks
        keys 1
        key Enter
        keys 142
        keys 134
        tap Standing hip hold, left
        keys 30.5
        keys 19.9
        tap Sign visit
    """,
    signed=(
        Signed(measure="pain_worst_24h", limb="right", typed="2", value="2"),
        Signed(measure="effusion", limb="right", typed="trace", value="1", key="moment=before"),
        *both("knee_extension", "deg", word("straight", "0"), word("lacks 1", "1")),
        *both("knee_flexion", "deg", number("142"), number("134")),
        *both("standing_hip_hold", "s", number("30.5"), number("19.9")),
    ),
)

FULL: Final = Scenario(
    name="visit_full_actions",
    week=31,
    most=140,
    scrolls=True,
    script="""
        tap Add a measure
        tap Holds
        tap Standing hip hold
        tap I asked all four: none
        tap Same conditions as last time
        tap Extension, left > straight
        tap Extension, right > lacks
        keys 1
        key Enter
        keys 142
        keys 134
        tap Standing hip hold, left
        keys 30.5
        keys 24.9
        tap Pelvic drop, forward, left > level
        tap Pelvic drop, forward, right > slight
        tap Quadriceps, left, trial 1
        keys 149
        keys 158
        keys 155
        keys 121
        keys 118
        keys 124
        keys 95.5
        tap Hamstrings, right, trial 1
        keys 84.5
        tap Controlled landing, left > yes
        tap Controlled landing, right > yes
        tap Single hop, left, trial 1
        keys 131
        keys 134
        keys 136
        keys 112
        keys 108
        keys 115
        keys 418
        keys 425
        keys 431
        keys 352
        keys 361
        keys 367
        keys 391
        keys 402
        keys 398
        keys 318
        keys 327
        keys 331
        keys 2.13
        tap 6 m timed hop, right, trial 1
        keys 2.42
        tap Vertical jump, left, trial 1
        keys 31.5
        tap Vertical jump, right, trial 1
        keys 26.5
        tap Sign visit
    """,
    signed=(
        *both("knee_extension", "deg", word("straight", "0"), word("lacks 1", "1")),
        *both("knee_flexion", "deg", number("142"), number("134")),
        *both("standing_hip_hold", "s", number("30.5"), number("24.9")),
        *both("pelvic_drop_forward_heel_touch", "", word("level", "0"), word("slight", "1")),
        *both(
            "quadriceps_torque",
            "N.m",
            number("158", of="149 158 155"),
            number("124", of="121 118 124"),
        ),
        *both("hamstring_torque", "N.m", number("95.5", of="95.5"), number("84.5", of="84.5")),
        *both("controlled_landing", "", word("yes", "1"), word("yes", "1")),
        *both("single_hop", "cm", number("136", of="131 134 136"), number("115", of="112 108 115")),
        *both("triple_hop", "cm", number("431", of="418 425 431"), number("367", of="352 361 367")),
        *both(
            "crossover_hop", "cm", number("402", of="391 402 398"), number("331", of="318 327 331")
        ),
        *both("timed_hop_6m", "s", number("2.13", of="2.13"), number("2.42", of="2.42")),
        *both("vertical_jump", "cm", number("31.5", of="31.5"), number("26.5", of="26.5")),
    ),
)
