"""What holds a step from outside the exercise: red flags, limits nobody confirmed, whose turn."""

from datetime import timedelta
from typing import Any

from outcomes.core.holds import KINDS
from outcomes.core.next_step import next_step, next_steps
from outcomes.core.progressions import Effect, Proposal, Standing, StepReason
from outcomes.core.step_sources import BY_RULE, sources_of
from outcomes.core.step_words import OTHERS, PLAIN, WITH_VALUE, reason_words
from outcomes.core.values import RedFlag, Tier, Unconfirmed
from tests.core.builders import CATALOGUE, facts
from tests.core.steps import CODES, HOLD, SINCE, TODAY, ago, every_reason, good, rules
from tests.core.tables import every_case
from tests.core.test_progressions import HIP, LANDING, PROGRESSIONS, QUADRICEPS

ROOT = Unconfirmed(words="root repair", kinds=KINDS)
FLAG = RedFlag(code="calf", tier=Tier.TODAY, on=ago(1))


def asked(level: str = HOLD, progression: Any = HIP, **more: Any) -> Proposal:
    return next_step(
        standing=Standing(progression=progression, level=level, since=SINCE),
        facts=facts(), catalogue=CATALOGUE, readings=good(), restrictions=(), events=(), on=TODAY,
        **more,
    )  # fmt: skip


def said(found: Proposal, rule: str) -> list[str]:
    reasons = [one for one in every_reason(found) if one.rule == rule]
    return [reason_words(reason=one, catalogue=CATALOGUE) for one in reasons]


def test_a_red_flag_that_stands_holds_every_step_up_and_says_which() -> None:
    assert asked().move == "progress"
    found = asked(red_flags=[FLAG])
    assert (found.move, found.level) == ("stay", HOLD)
    assert rules(found)["red_flag"] is Effect.HOLDS
    assert said(found, "red_flag") == [
        "Red flag, today: Calf pain or calf swelling (7 Jun 2026). Look into it first"
    ]


def test_a_red_flag_of_a_later_day_is_not_known_yet() -> None:
    later = RedFlag(code="calf", tier=Tier.TODAY, on=TODAY + timedelta(days=1))
    assert asked(red_flags=[later]) == asked()
    assert asked(red_flags=[RedFlag(code="calf", tier=Tier.TODAY, on=TODAY)]).move == "stay"


def test_limits_nobody_confirmed_hold_what_a_limit_could_block() -> None:
    told = [Unconfirmed(words=words, kinds=KINDS) for words in ("root repair", "cartilage repair")]
    found = asked(unconfirmed=told)
    assert rules(found)["limits_not_confirmed"] is Effect.HOLDS
    assert said(found, "limits_not_confirmed") == [
        f"Surgeon's limits not confirmed ({one.words}): ask before loading" for one in told
    ]
    assert found.blocked_by == tuple(told)
    assert asked("", QUADRICEPS, unconfirmed=told) == asked("", QUADRICEPS)


def test_what_is_begun_has_the_step_up_before_what_is_not() -> None:
    standings = [
        Standing(progression=HIP, level="", since=ago(90)),
        Standing(progression=QUADRICEPS, level="quad_set_and_leg_raise", since=ago(10)),
        Standing(progression=LANDING, level="", since=ago(90)),
    ]
    found = next_steps(
        standings=standings, facts=facts(), catalogue=CATALOGUE, readings=good(), restrictions=(),
        events=(), on=TODAY,
    )  # fmt: skip
    assert [one.move for one in found] == ["stay", "progress", "stay"]


def test_every_reason_has_a_source() -> None:
    for code, progression in CODES.items():
        found = asked(code, progression, red_flags=[FLAG], unconfirmed=[ROOT])
        for reason in every_reason(found):
            sources = sources_of(
                reason=reason, progression=progression, level=found.level, here=code
            )
            assert sources, (code, reason.rule)


def test_rules_with_a_source_are_rules_that_are_said() -> None:
    words = {*WITH_VALUE, *PLAIN, *OTHERS, "quadriceps_setback", "quadriceps_fall",
             "infection_signs"}  # fmt: skip
    assert set(BY_RULE) - words == set()


@every_case(
    ("rule", "facts_", "text"),
    [
        ("enter_open", {"code": "effusion_trace"}, "Full range and no or trace effusion before"),
        ("drop_at_first_movement", {}, "Hip work before more step-downs: common practice"),
        ("soreness_stayed", {}, "Soreness rules of a progression after ACL reconstruction"),
        ("week_reached", {}, "The lateral heel touch comes before the forward one"),
    ],
)
def test_a_source_is_that_of_the_requirement_the_rule_or_the_level(rule, facts_, text) -> None:
    reason = StepReason(rule=rule, effect=Effect.FOR, facts=facts_)
    found = sources_of(
        reason=reason, progression=PROGRESSIONS["hip_control"], level="lateral_heel_touch", here=""
    )
    assert found[0].text.startswith(text)
