"""What waits on a tablet: sealed, sent by its pass, each intent with exactly one effect."""

from __future__ import annotations

import json
from datetime import timedelta
from random import Random
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.test import Client, override_settings
from joserfc.jwk import ECKey

from clinic import clock
from clinic.models.audit import AuditEntry
from clinic.models.care import Visit
from clinic.models.places import Membership
from outcomes.interchange.sealed import public_of, sealed
from outcomes.models.outbox import WaitingSave
from outcomes.models.record import Reading, VisitDraft
from outcomes.services import outbox
from tests.cast import MOMENT, Cast
from tests.outcomes.paper import Paper, key, open_visit
from tests.web import signed_in, words_of

FLEXION = "v:knee_flexion:right"
HEELS = {"hop": "single_hop", "flexion": "knee_flexion", "mass": "body_mass"}


class Tablet:
    """A tablet with one page of a visit open: it seals rows as the page's script does."""

    def __init__(self, cast: Cast, visit: Visit, *, who: Any = None) -> None:
        self.page = Paper(signed_in(who or cast.clinician), visit)
        form = self.page.response.content.decode()
        self.given = _attribute(form, "data-outbox-pass")
        self.public = json.loads(_attribute(form, "data-outbox-key"))
        self.sheet, self.number = self.page.fields["sheet"][0], 0

    def sealed(self, row: str, **changes: Any) -> dict[str, str]:
        """One item of a row as it stands on the page; ``changes`` to what is sealed."""
        self.number += 1
        was = next(text for text in self.page.fields["was"] if f":{row}" in text)
        typed = {name: self.page.fields.get(name, [""])[0] for name in json.loads(was)}
        body = {"row": row, "n": self.number, "at": 1_764_000_000_000, "was": was, "typed": typed}
        text = sealed(json.dumps({**body, **changes}), to=self.public)
        return {"key": key(), "pass": self.given, "sealed": text}


def _attribute(page: str, name: str) -> str:
    from html import unescape

    return unescape(page.split(f'{name}="', 1)[1].split('"', 1)[0])


def send(item: dict[str, str]) -> Any:
    """A tablet on which nobody is signed in any more."""
    return Client(enforce_csrf_checks=True).post("/outbox/", item)


def texts(visit: Visit) -> dict[str, str]:
    fields = VisitDraft.objects.get(visit=visit).fields
    return {name: field["text"] for name, field in fields.items() if field["text"]}


@pytest.fixture
def visit(cast: Cast) -> Visit:
    return open_visit(cast)


@pytest.fixture
def tablet(cast: Cast, visit: Visit) -> Tablet:
    return Tablet(cast, visit)


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
        tablet.sealed("knee_flexion", at=10**30),
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


def test_the_same_field_on_two_tablets_is_asked_about_with_both_texts(
    cast: Cast, visit: Visit, tablet: Tablet
) -> None:
    there = Tablet(cast, visit, who=cast.colleague)
    there.page.type({FLEXION: "131"}).save()
    tablet.page.type({FLEXION: "134", "v:knee_flexion:left": "142"})
    assert send(tablet.sealed("knee_flexion")).json() == {"fate": "clash"}
    assert texts(visit) == {FLEXION: "131", "v:knee_flexion:left": "142"}
    page = Paper(there.page.client, visit)
    asked = "Tess Okafor typed 134 without network; the draft holds 131. Which one is right?"
    assert asked in words_of(page.response)
    assert page.sign().status_code == 409
    assert Reading.objects.count() == 0
    page = Paper(there.page.client, visit)
    page.save(take=FLEXION)
    assert texts(visit)[FLEXION] == "131"
    assert "without network" not in words_of(Paper(there.page.client, visit).response)
    assert list(WaitingSave.objects.values_list("fate", "settled", "open")) == [
        ("clash", [FLEXION], False)
    ]


def test_the_own_text_can_be_kept_instead(cast: Cast, visit: Visit, tablet: Tablet) -> None:
    there = Tablet(cast, visit, who=cast.colleague)
    there.page.type({FLEXION: "131"}).save()
    tablet.page.type({FLEXION: "134"})
    send(tablet.sealed("knee_flexion"))
    Paper(there.page.client, visit).save(keep=FLEXION)
    assert texts(visit)[FLEXION] == "134"
    assert WaitingSave.objects.get().open is False


def _signed(cast: Cast, visit: Visit) -> None:
    page = Paper(signed_in(cast.clinician), visit)
    assert page.type({"v:knee_flexion:left": "140", "f:none": "1"}).sign().status_code == 302


def _ended(cast: Cast, visit: Visit) -> None:
    Membership.objects.filter(staff=cast.clinician).update(ended_on=MOMENT.date())


@pytest.mark.parametrize(
    ("happened", "after"),
    [
        pytest.param(_signed, timedelta(0), id="the visit was signed"),
        pytest.param(_ended, timedelta(0), id="the author left the clinic"),
        pytest.param(lambda *_: None, outbox.UNSEEN + timedelta(seconds=1), id="after three days"),
    ],
)
def test_what_comes_too_late_is_kept_aside_and_shown(
    cast: Cast, visit: Visit, tablet: Tablet, happened: Any, after: timedelta
) -> None:
    tablet.page.type({FLEXION: "134"})
    item = tablet.sealed("knee_flexion")
    happened(cast, visit)
    before = Reading.objects.count()
    with clock.held_at(MOMENT + after):
        assert [send(item).json(), send(item).json()] == [{"fate": "late"}] * 2
        assert Reading.objects.count() == before
        reader = signed_in(cast.colleague)
        words = words_of(reader.get(f"/visits/{visit.uid}/"))
    assert "134" in words
    assert "without network" in words
    assert WaitingSave.objects.get().open is True


def test_late_typing_of_a_signed_visit_is_read_once_and_leaves_a_trace(
    cast: Cast, visit: Visit, tablet: Tablet
) -> None:
    tablet.page.type({FLEXION: "134"})
    item = tablet.sealed("knee_flexion")
    _signed(cast, visit)
    send(item)
    client, address = signed_in(cast.clinician), f"/visits/{visit.uid}/"
    assert "Flexion, right: 134 Tess Okafor, 24 Nov 2025, 16:00" in words_of(client.get(address))
    form = {"key": key()}
    assert [client.post(f"{address}late/seen", form).status_code for _ in range(2)] == [302, 302]
    assert "134" not in words_of(client.get(address))
    acts = AuditEntry.objects.filter(act="settle_late_typing").values_list("subject_ids")
    assert list(acts) == [([visit.pk],)]


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
