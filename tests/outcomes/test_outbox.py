"""What waits on a tablet: sealed, sent by its pass, each intent with exactly one effect."""

from __future__ import annotations

from datetime import datetime, timedelta
from random import Random
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.test import override_settings
from joserfc.jwk import ECKey

from clinic import clock
from clinic.models.audit import AuditEntry
from clinic.models.care import Visit
from outcomes.interchange.sealed import public_of, sealed
from outcomes.models.outbox import WaitingSave
from outcomes.models.record import Reading, VisitDraft
from outcomes.services import outbox
from tests.cast import MOMENT, Cast
from tests.outcomes.paper import Paper
from tests.outcomes.tablet import FLEXION, Tablet, send, texts
from tests.web import signed_in, words_of

HEELS = {"hop": "single_hop", "flexion": "knee_flexion", "mass": "body_mass"}


def test_a_save_is_attributed_by_its_pass_and_has_one_effect_however_often_it_comes(
    cast: Cast, visit: Visit, tablet: Tablet
) -> None:
    audits = AuditEntry.objects.count()
    tablet.page.type({FLEXION: "134"})
    item = tablet.sealed("knee_flexion")
    assert "134" not in item["sealed"]
    assert [send(item).json() for _ in range(3)] == [{"fate": "kept"}] * 3
    draft = VisitDraft.objects.get(visit=visit)
    field = draft.fields[FLEXION]
    assert (field["text"], field["by"], draft.version) == ("134", cast.clinician.pk, 2)
    kept = WaitingSave.objects.get()
    assert (kept.typed_by, kept.fate, kept.fields, kept.open) == (cast.clinician, "kept", {}, False)
    assert kept.received_at == MOMENT
    assert kept.saved_on_device_at.timestamp() == 1_764_000_000
    assert AuditEntry.objects.count() == audits
    other = {**tablet.sealed("knee_flexion"), "key": item["key"]}
    assert send(other).status_code == 409
    assert draft.version == VisitDraft.objects.get().version


def test_the_moment_on_the_tablet_is_kept_within_what_the_servers_clock_bears_out(
    cast: Cast, visit: Visit, tablet: Tablet
) -> None:
    received, typed = MOMENT + timedelta(minutes=3), MOMENT + timedelta(minutes=2)
    true = int(typed.timestamp()) * 1000
    clocks = {
        FLEXION: (true, typed),
        "v:knee_flexion:left": (-(10**20), MOMENT),
        "v:pain_worst_24h:right": (10**30, received),
    }
    for name, (at, _) in clocks.items():
        row = name.split(":")[1]
        with clock.held_at(received):
            tablet.page.type({name: "4" if "pain" in name else "134"})
            assert send(tablet.sealed(row, at=at)).json() == {"fate": "kept"}
    fields = VisitDraft.objects.get().fields
    moments = {name: moment for name, (_, moment) in clocks.items()}
    assert {n: datetime.fromisoformat(fields[n]["device"]) for n in clocks} == moments
    page = Paper(signed_in(cast.clinician), visit)
    with clock.held_at(received + timedelta(minutes=1)):
        page.type({"v:effusion:right": "trace", "f:none": "1"}).sign()
    rows = Reading.objects.values_list("measure", "limb", "saved_on_device_at")
    kept = {f"v:{measure}:{limb}": at for measure, limb, at in rows}
    assert kept == {**moments, "v:effusion:right": None}
    shown = words_of(page.client.get(f"/readings/{Reading.objects.get(value=4).pk}/"))
    assert (
        "entered: Tess Okafor measured 25 Nov 2026, 09:00, saved on the tablet 09:03, "
        "recorded 09:04"
    ) in shown


def test_what_no_page_of_ours_sealed_is_refused_and_nothing_is_kept(tablet: Tablet) -> None:
    tablet.page.type({FLEXION: "134"})
    good = tablet.sealed("knee_flexion")
    stranger = public_of(ECKey.generate_key("P-256"))
    bad = [
        {**good, "pass": good["pass"][:-2] + "xx"},
        {**good, "pass": ""},
        {**good, "key": "no key"},
        {**good, "sealed": "a.b.c.d.e"},
        {**good, "sealed": sealed("{}", to=stranger)},
        {**good, "sealed": good["sealed"][:-4] + "AAAA"},
        tablet.sealed("knee_flexion", n="many"),
        tablet.sealed("knee_flexion", typed={FLEXION: 134}),
        tablet.sealed("knee_flexion", typed={FLEXION: "1" * 301}),
        tablet.sealed("knee_flexion", was='{"DROP": ""}'),
        tablet.sealed("knee_flexion", at="noon"),
    ]
    assert [send(item).status_code for item in bad] == [422] * len(bad)
    assert (VisitDraft.objects.count(), WaitingSave.objects.count()) == (0, 0)
    assert send(good).json() == {"fate": "kept"}


def test_a_key_that_was_changed_still_opens_what_was_sealed_before(tablet: Tablet) -> None:
    tablet.page.type({FLEXION: "134"})
    item, again = tablet.sealed("knee_flexion"), tablet.sealed("knee_flexion")
    with override_settings(SECRET_KEY="a new one", SECRET_KEY_FALLBACKS=["local-only"]):
        assert send(item).json() == {"fate": "kept"}
    with override_settings(SECRET_KEY="a new one", SECRET_KEY_FALLBACKS=[]):
        assert send(again).status_code == 422


def test_of_a_patient_who_is_gone_nothing_is_kept(visit: Visit, tablet: Tablet) -> None:
    tablet.page.type({FLEXION: "134"})
    item = tablet.sealed("knee_flexion")
    Visit.objects.filter(pk=visit.pk).delete()
    assert send(item).json() == {"fate": "gone"}
    assert WaitingSave.objects.count() == 0


def _schedule(random: Random, items: list[Any]) -> list[Any]:
    """Each item at least once, some doubled, all shuffled."""
    doubled = [item for item in items for _ in range(random.choice((1, 1, 2, 3)))]
    random.shuffle(doubled)
    return doubled


def test_law_doubled_and_shuffled_saves_of_a_page_end_as_the_page_stood(
    cast: Cast, visit: Visit, tablet: Tablet
) -> None:
    random = Random(4)
    for _ in range(12):
        VisitDraft.objects.all().delete()
        WaitingSave.objects.all().delete()
        items, last = [], {}
        for _ in range(random.randint(2, 6)):
            row = random.choice(["knee_flexion", "body_mass"])
            name = FLEXION if row == "knee_flexion" else "v:body_mass:none"
            last[name] = random.choice(["", "120", "130", "135"])
            tablet.page.type({name: last[name]})
            items.append(tablet.sealed(row))
        for item in _schedule(random, items):
            assert send(item).json() == {"fate": "kept"}
        assert texts(visit) == {name: text for name, text in last.items() if text}
        assert WaitingSave.objects.count() == len(items)


def test_the_pass_names_who_where_and_since_when(cast: Cast, visit: Visit, tablet: Tablet) -> None:
    assert outbox.passed(tablet.given) == outbox.Pass(
        staff_id=cast.clinician.pk, visit=UUID(str(visit.uid)), sheet=tablet.sheet, opened_at=MOMENT
    )
    assert tablet.given != outbox.pass_for(
        staff_id=cast.colleague.pk, visit=visit.uid, sheet=str(uuid4())
    )


def test_the_ledger_on_paper_asks_what_the_visit_asks_and_shows_nothing_typed(
    cast: Cast, visit: Visit
) -> None:
    page = Paper(signed_in(cast.clinician), visit)
    page.type({FLEXION: "134", "note": "Felt a click."}).save()
    answer = page.client.get(f"/visits/{visit.uid}/paper")
    words = words_of(answer)
    assert [text for text in ("134", "Felt a click.") if text in words] == []
    asked = [row.measure.short_label for row in page.response.context["shown"].form.rows]
    printed = [row.measure.short_label for row in answer.context["shown"].form.rows]
    assert printed == asked
    assert [label for label in asked if label not in words] == []


@pytest.mark.parametrize(("typed", "hour"), [("", 9), ("7:40", 7), ("08.05", 8)])
def test_what_was_written_on_paper_is_measured_when_it_says(
    cast: Cast, visit: Visit, typed: str, hour: int
) -> None:
    page = Paper(signed_in(cast.clinician), visit)
    page.type({FLEXION: "134", "f:none": "1", "measured": typed})
    assert page.sign().status_code == 302
    reading = Reading.objects.get()
    assert (reading.measured_at.hour, reading.recorded_at) == (hour, MOMENT)


@pytest.mark.parametrize("typed", ["25:00", "half past", "9:01", "23:59"])
def test_a_time_that_is_none_or_lies_ahead_is_asked_for_again(
    cast: Cast, visit: Visit, typed: str
) -> None:
    page = Paper(signed_in(cast.clinician), visit)
    page.type({FLEXION: "134", "f:none": "1", "measured": typed})
    answer = page.sign()
    assert (answer.status_code, Reading.objects.count()) == (422, 0)
    assert "Measured at: Type the time as 14:30, not later than now" in words_of(answer)


def test_a_clash_whose_answer_was_lost_is_still_asked(
    cast: Cast, visit: Visit, tablet: Tablet
) -> None:
    tablet.page.type({FLEXION: "134"})
    item = tablet.sealed("knee_flexion")
    other = Paper(signed_in(cast.colleague), visit)
    other.type({FLEXION: "131"}).save()
    lost = tablet.page.save(row="knee_flexion", n="2")
    assert lost.status_code == 409
    assert send(item).json() == {"fate": "clash"}
    assert WaitingSave.objects.get().fields == {FLEXION: {"typed": "134", "shown": ""}}
    assert texts(visit) == {FLEXION: "131"}


def test_a_whole_form_that_clashed_and_was_not_answered_is_asked_about_all_the_same(
    cast: Cast, visit: Visit, tablet: Tablet
) -> None:
    there = Tablet(cast, visit, who=cast.colleague)
    there.page.type({FLEXION: "131"}).save()
    tablet.page.type({FLEXION: "134"})
    item = tablet.sealed("knee_flexion")
    assert tablet.page.save(n="9").status_code == 409  # the tablet never hears of it
    assert send(item).json() == {"fate": "clash"}
