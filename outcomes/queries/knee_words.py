"""Which knee is followed, what was done to it and where it stands, in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final
from uuid import UUID

from clinic import words
from clinic.models import care
from clinic.queries.care import Aside, Limit, acl_operation, week_words
from outcomes.charts.marks import LimbMark
from outcomes.core.holds import SOON, ending
from outcomes.core.values import Limb
from outcomes.queries.beams import marks_of
from outcomes.queries.record import restriction_of

PROCEDURE: Final = dict(care.PROCEDURES)


@dataclass(frozen=True, kw_only=True, slots=True)
class KneeWords:
    """One followed knee, ready to print. ``episode`` is its uid.

    ``what``: "Right knee, operated 12 Aug 2026"; ``done``: graft and what else was done;
    ``week``: "week 15"; ``limits``: the surgeon's limits that hold; ``to_confirm``: what the
    surgeon still has to say; ``ahead``: limits that begin later; ``ending``: those that hold and
    end within a week; ``aside``: usual limits that a clinician set aside, by whom, when and why;
    ``lapsed``: usual limits that would still hold, had the surgeon's own not taken their place and
    ended, or end within a week.
    """

    episode: UUID
    limb: Limb
    mark: LimbMark
    what: str
    done: str
    week: str
    state: str
    limits: tuple[str, ...]
    ahead: tuple[str, ...]
    to_confirm: str
    ending: tuple[str, ...] = ()
    aside: tuple[str, ...] = ()
    lapsed: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class PageHead:
    """The head of one facing page: the patient's left or right limb."""

    limb: Limb
    mark: LimbMark
    words: str


def knee_words(
    *,
    episode: care.Episode,
    knees: frozenset[Limb],
    limits: Sequence[Limit],
    to_confirm: Sequence[str],
    on: date,
) -> KneeWords:
    """One knee in words. ``knees`` are all that are followed; reads ``surgeries.all()``."""
    limb = Limb(episode.knee)
    marks = dict(zip((Limb.LEFT, Limb.RIGHT), marks_of(knees=knees), strict=True))
    return KneeWords(
        episode=episode.uid,
        limb=limb,
        mark=marks[limb],
        what=f"{limb.capitalize()} knee, {_what_happened(episode)}",
        done=words.listed(_what_was_done(episode, on=on)),
        week=week_words(episode=episode, on=on),
        state=state_words(episode=episode),
        limits=tuple(limit_words(limit, on=on) for limit in limits if limit.holds(on=on)),
        ahead=tuple(limit_words(limit, on=on) for limit in limits if _is_ahead(limit, on=on)),
        to_confirm=words.listed(list(to_confirm)),
        ending=_ending(limits, on=on),
        aside=tuple(
            aside_words(limit.aside, of=f"{limit.words}, {limit.limit}")
            for limit in limits
            if limit.aside and limit.would_hold(on=on)
        ),
        lapsed=tuple(_lapsed(limits, on=on)),
    )


def state_words(*, episode: care.Episode) -> str:
    """What a limb is called on screen: operated once it was, else injured."""
    surgery = acl_operation(episode=episode)
    performed = surgery is not None and surgery.state == "performed"
    return "operated" if performed and episode.kind != "without_surgery" else "injured"


def _what_happened(episode: care.Episode) -> str:
    surgery = acl_operation(episode=episode)
    injury = episode.injury_date
    injured = f"injured {words.day(injury)}" if injury else "injured, date not known"
    if episode.kind == "without_surgery":
        return f"{injured}, treated without surgery"
    if surgery is None:
        return f"{injured}, {episode.get_kind_display()}"
    if surgery.state == "planned":
        when = f" for {words.day(surgery.date)}" if surgery.date else ""
        return f"{injured}, operation planned{when}"
    if surgery.date is None:
        return f"operated, date not known, asked on {words.day(surgery.date_asked_on)}"
    return f"operated {words.day(surgery.date)}"


def _what_was_done(episode: care.Episode, *, on: date) -> list[str]:
    """Graft, what else was done, and later operations; what is not known says so."""
    surgery = acl_operation(episode=episode)
    found: list[str] = []
    if surgery is not None and episode.kind != "without_surgery":
        kind = surgery.get_operation_display()
        found += [kind] if surgery.operation != "reconstruction" else []
        found += _graft(surgery)
        found += _procedures(surgery)
    for later in episode.surgeries.all():
        if later.operation == "reoperation" and later.state == "performed":
            what = words.listed(_procedures(later)) or later.get_operation_display()
            found.append(f"{words.short_day(later.date, today=on) or 'date not known'}: {what}")
    return found


def _graft(surgery: care.Surgery) -> list[str]:
    if not surgery.graft:
        return []
    asked = surgery.graft_asked_on
    known = words.graft(graft=surgery.graft, graft_from=surgery.graft_from)
    return [f"{known}, asked on {words.day(asked)}" if asked else known]


def _procedures(surgery: care.Surgery) -> list[str]:
    if surgery.procedures_asked_on and not surgery.procedures:
        return [f"what else was done not known, asked on {words.day(surgery.procedures_asked_on)}"]
    return [PROCEDURE[code] for code in surgery.procedures]


def _ending(limits: Sequence[Limit], *, on: date) -> tuple[str, ...]:
    """Those that hold and end within a week, with nothing told for after."""
    found = ending(restrictions=[restriction_of(limit=limit) for limit in limits], on=on)
    refs = {one.ref for one in found}
    return tuple(limit_words(limit, on=on) for limit in limits if limit.pk in refs)


def _lapsed(limits: Sequence[Limit], *, on: date) -> Iterator[str]:
    """From a week before the surgeon's own limit ends until the usual one would have ended."""
    for own in limits:
        if own.until is None or own.until - SOON > on:
            continue
        for usual in own.lapses():
            if usual.meant_until is None or on <= usual.meant_until:
                last = words.short_day(usual.meant_until, today=on)
                until = f"usually until {last}" if last else "usually with no end given"
                verb = "ends" if on <= own.until else "ended"
                yield (
                    f"{usual.words}, {usual.limit}, {until}: the surgeon’s own limit took its "
                    f"place and {verb} on {words.short_day(own.until, today=on)}"
                )


def _is_ahead(limit: Limit, *, on: date) -> bool:
    return limit.since > on and not limit.would_hold(on=on)


def aside_words(aside: Aside, *, of: str) -> str:
    """What a clinician set aside: "impact, no jogging: set aside on 20 Nov 2026 by …: why"."""
    return f"{of}: set aside on {words.day(aside.on)} by {aside.by}: {aside.reason}"


def limit_words(limit: Limit, *, on: date) -> str:
    """A surgeon's limit: "until 2 Dec: loaded knee bend, none past 90°"."""
    if limit.since > on:
        when = f"from {words.short_day(limit.since, today=on)}"
        when += f" until {words.short_day(limit.until, today=on)}" if limit.until else ""
    elif limit.until:
        when = f"until {words.short_day(limit.until, today=on)}"
    else:
        when = f"since {words.short_day(limit.since, today=on)}, no end given"
    return f"{when}: {limit.words}, {limit.limit}"
