"""Every site lives on its own local day: UTC-11 to UTC+14, over clock changes and leap days."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, timezone

import pytest

from clinic import clock
from clinic.models.care import Episode, Surgery
from clinic.models.places import Site
from outcomes.core.dates import weeks_since
from outcomes.core.values import MilestoneState
from outcomes.models.status import EpisodeStatus
from outcomes.queries.catalogue import in_force
from outcomes.queries.judging import judge_record, records_of
from outcomes.queries.kept import Kept, from_json
from outcomes.services.status import rejudge_due
from tests.factories.clinic import EpisodeFactory, SiteFactory, SurgeryFactory
from tests.factories.outcomes import ReadingFactory, signed_visit

DAY, QUARTER = timedelta(days=1), timedelta(minutes=15)

# Hours from UTC by place, all without summer time: common practice, no source (the IANA data base).
HOURS: dict[str, float] = {
    "Pacific/Pago_Pago": -11, "Pacific/Honolulu": -10, "Pacific/Gambier": -9,
    "Pacific/Pitcairn": -8, "America/Phoenix": -7, "America/Costa_Rica": -6, "America/Panama": -5,
    "America/Puerto_Rico": -4, "America/Argentina/Buenos_Aires": -3, "America/Noronha": -2,
    "Atlantic/Cape_Verde": -1, "Africa/Abidjan": 0, "Africa/Lagos": 1, "Africa/Maputo": 2,
    "Africa/Nairobi": 3, "Asia/Dubai": 4, "Asia/Tashkent": 5, "Asia/Kathmandu": 5.75,
    "Asia/Dhaka": 6, "Asia/Bangkok": 7, "Asia/Singapore": 8, "Asia/Tokyo": 9,
    "Australia/Brisbane": 10, "Pacific/Guadalcanal": 11, "Pacific/Tarawa": 12,
    "Pacific/Tongatapu": 13, "Pacific/Kiritimati": 14,
}  # fmt: skip

# The days on which clocks change, with the length of each in hours: rules of 2027, from memory,
# unverified; the lengths are asked of the zone data below.
CHANGES: dict[str, dict[date, float]] = {
    "Europe/Lisbon": {date(2027, 3, 28): 23, date(2027, 10, 31): 25},
    "America/New_York": {date(2027, 3, 14): 23, date(2027, 11, 7): 25},
    "Australia/Lord_Howe": {date(2027, 4, 4): 24.5, date(2027, 10, 3): 23.5},
    "America/Santiago": {date(2027, 4, 3): 25, date(2027, 9, 5): 23},
}


def local(zone: str, moment: datetime) -> date:
    """The day at a place by the table above, not by the zone data."""
    return moment.astimezone(timezone(timedelta(hours=HOURS[zone]))).date()


def today(zone: str, moment: datetime) -> date:
    with clock.held_at(moment):
        return clock.today(Site(zone=zone))


def test_today_and_the_week_turn_at_the_local_midnight_of_every_zone():
    """Each quarter of an hour around 29 February, a week after an operation."""
    start = datetime(2028, 2, 28, 9, tzinfo=UTC)
    moments = [start + QUARTER * n for n in range(4 * 40)]
    table = {(zone, moment): local(zone, moment) for zone in HOURS for moment in moments}
    assert {key: today(*key) for key in table} == table
    leap = date(2028, 2, 29)
    assert set(table.values()) == {leap - 2 * DAY, leap - DAY, leap, date(2028, 3, 1)}
    index = date(2028, 2, 22)
    weeks = {
        zone: [weeks_since(index_date=index, on=table[zone, moment]) for moment in moments]
        for zone in HOURS
    }
    turned = {zone: start + QUARTER * line.index(1) for zone, line in weeks.items()}
    midnight = datetime(2028, 2, 29, tzinfo=UTC)
    assert turned == {zone: midnight - timedelta(hours=hours) for zone, hours in HOURS.items()}


def test_a_day_of_23_or_25_hours_is_one_day_and_moves_no_week():
    """Every half hour from the day before a change to the day after it."""
    for zone, days in CHANGES.items():
        for day, hours in days.items():
            noon = datetime(day.year, day.month, day.day, 12, tzinfo=UTC)
            moments = [noon + QUARTER * 2 * n for n in range(-96, 97)]
            seen = [today(zone, moment) for moment in moments]
            assert seen == sorted(seen)
            assert (zone, seen.count(day) / 2) == (zone, hours)
            assert [seen.count(day + n * DAY) / 2 for n in (-1, 1)] == [24, 24]
            index = day - 84 * DAY
            assert {weeks_since(index_date=index, on=on) for on in seen if on < day} == {11}
            assert {weeks_since(index_date=index, on=on) for on in seen if on >= day} == {12}


@dataclass(frozen=True, kw_only=True)
class Turn:
    """A milestone whose earliest date falls on a day: of that stage of the composite protocol."""

    stage: str
    index: date
    day: date


TURNS = (
    Turn(stage="stage_4", index=date(2027, 1, 3), day=date(2027, 3, 28)),
    Turn(stage="stage_4", index=date(2027, 8, 8), day=date(2027, 10, 31)),
    Turn(stage="stage_5", index=date(2027, 8, 31), day=date(2028, 2, 29)),
)
"""Week 12 on the days on which the clocks of Europe change, and six months on a leap day."""


def followed() -> dict[str, Episode]:
    """One operated knee with one test at a site of each zone."""
    found: dict[str, Episode] = {}
    for zone in [*HOURS, "Europe/Lisbon"]:
        episode = EpisodeFactory(site=SiteFactory(zone=zone), protocol="composite@1")
        surgery = SurgeryFactory(episode=episode)
        visit = signed_visit(
            patient=episode.patient, site=episode.site, by=surgery.recorded_by,
            on=TURNS[0].day - 3 * DAY,
        )  # fmt: skip
        ReadingFactory(visit=visit, measure="effusion", limb="right", value=1)
        found[zone] = episode
    return found


def kept(mine: dict[str, Episode]) -> dict[str, tuple[EpisodeStatus, Kept]]:
    rules = in_force()
    protocol = rules.protocols["composite@1"]
    rows = {row.episode_id: row for row in EpisodeStatus.objects.all()}
    return {
        zone: (rows[e.pk], from_json(body=rows[e.pk].body, measures=rules.measures,
                                     protocol=protocol))
        for zone, e in mine.items()
    }  # fmt: skip


@pytest.mark.django_db
def test_every_kept_status_is_that_of_the_local_day_and_turns_at_local_midnight():
    """At two moments of each day, which split the sites into those before it and those on it."""
    mine, rules = followed(), in_force()
    ids = [episode.site_id for episode in mine.values()]
    for turn in TURNS:
        Surgery.objects.update(date=turn.index)
        EpisodeStatus.objects.all().delete()
        midnight = datetime(turn.day.year, turn.day.month, turn.day.day, tzinfo=UTC)
        for hours in (-12, 6):
            moment = midnight + timedelta(hours=hours)
            days = {zone: local(zone, moment) for zone in HOURS}
            days["Europe/Lisbon"] = moment.date()
            assert {turn.day - DAY, turn.day} == set(days.values())
            with clock.held_at(moment):
                rejudge_due(site_ids=ids)
                assert rejudge_due(site_ids=ids) == 0
            found = kept(mine)
            read = Episode.objects.filter(site__in=ids)
            records = records_of(episodes=list(read), rules=rules)
            for zone, (row, whole) in found.items():
                on = days[zone]
                fresh = judge_record(record=records[mine[zone].pk], rules=rules, on=on)
                assert whole.status.kept == fresh.kept, (zone, on)
                (stage,) = (m for m in fresh.milestones if m.milestone.code == turn.stage)
                early = on < turn.day
                state = (MilestoneState.BEFORE_EARLIEST_DATE if early
                         else MilestoneState.CRITERIA_MISSING)  # fmt: skip
                assert (zone, row.judged_on, stage.earliest, stage.state) == (
                    zone, on, turn.day, state,
                )  # fmt: skip
                assert row.next_change_on is not None
                assert (row.next_change_on == turn.day) is early
