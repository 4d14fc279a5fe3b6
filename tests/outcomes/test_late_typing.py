"""What a tablet sent too late, or after somebody else typed: asked about, never lost."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from typing import Any

import pytest

from clinic import clock
from clinic.models.audit import AuditEntry
from clinic.models.care import Visit
from clinic.models.places import Membership
from outcomes.models.outbox import WaitingSave
from outcomes.models.record import LookAnswer, Reading, VisitDraft
from outcomes.models.status import EpisodeStatus
from outcomes.services import outbox
from outcomes.services.status import reasons, rebuild
from tests.cast import MOMENT, TODAY, Cast
from tests.outcomes.paper import Paper, key
from tests.outcomes.tablet import FLEXION, Tablet, send, texts
from tests.web import signed_in, words_of

NO_FLAG = json.dumps({"f:calf": ""})


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


@pytest.mark.parametrize("corrects", ["the first", "the second"])
def test_what_two_pages_typed_alike_is_corrected_by_neither_alone(
    cast: Cast, visit: Visit, tablet: Tablet, corrects: str
) -> None:
    pages = {"the first": tablet, "the second": Tablet(cast, visit, who=cast.colleague)}
    for page in pages.values():
        page.page.type({FLEXION: "117"})
        assert send(page.sealed("knee_flexion")).json() == {"fate": "kept"}
    pages[corrects].page.type({FLEXION: "105"})
    assert send(pages[corrects].sealed("knee_flexion")).json() == {"fate": "clash"}
    assert texts(visit) == {FLEXION: "117"}
    other = {"the first": cast.colleague, "the second": cast.clinician}[corrects]
    asked = f"{other.full_name} typed 117 meanwhile, you typed 105. Which one is right?"
    for was in (None, [json.dumps({FLEXION: "117"})]):  # before and after it was told of the save
        answer = pages[corrects].page.send_row("knee_flexion", was=was)
        assert (answer.status_code, asked in words_of(answer)) == (409, True)
    assert texts(visit) == {FLEXION: "117"}


def test_the_own_text_can_be_kept_instead(cast: Cast, visit: Visit, tablet: Tablet) -> None:
    there = Tablet(cast, visit, who=cast.colleague)
    there.page.type({FLEXION: "131"}).save()
    tablet.page.type({FLEXION: "134"})
    send(tablet.sealed("knee_flexion"))
    Paper(there.page.client, visit).save(keep=FLEXION)
    assert texts(visit)[FLEXION] == "134"
    kept = VisitDraft.objects.get().fields[FLEXION]
    assert datetime.fromisoformat(kept["device"]) == visit.opened_at
    assert WaitingSave.objects.get().open is False


def newest() -> int:
    """The number of the save that came last."""
    return WaitingSave.objects.latest("pk").pk


def test_texts_of_two_tablets_for_one_field_are_asked_about_one_after_the_other(
    cast: Cast, visit: Visit, tablet: Tablet
) -> None:
    other = Tablet(cast, visit, who=cast.colleague)
    there = Paper(signed_in(cast.colleague), visit)
    there.type({FLEXION: "131"}).save()
    for one, typed in ((tablet, "134"), (other, "128")):
        one.page.type({FLEXION: typed})
        assert send(one.sealed("knee_flexion")).json() == {"fate": "clash"}
    page = Paper(there.client, visit)
    first, second = (
        f"{who.full_name} typed {typed} without network; the draft holds {kept}."
        for who, typed, kept in ((cast.clinician, "134", "131"), (cast.colleague, "128", "134"))
    )
    assert [words in words_of(page.response) for words in (first, second)] == [True, False]
    answer = page.save(keep=FLEXION)
    assert texts(visit)[FLEXION] == "134"
    page.save(keep=FLEXION)  # pressed twice: of the other text this page had said nothing
    words = words_of(Paper(there.client, visit).response)
    assert [first in words, second in words] == [False, True]
    assert list(WaitingSave.objects.order_by("pk").values_list("open")) == [(False,), (True,)]
    assert answer.status_code == 302


def test_what_came_since_the_page_was_shown_is_decided_by_nobody(
    cast: Cast, visit: Visit, tablet: Tablet
) -> None:
    there = Paper(signed_in(cast.colleague), visit)
    there.type({FLEXION: "131"}).save()
    tablet.page.type({FLEXION: "134"})
    send(tablet.sealed("knee_flexion"))
    page = Paper(there.client, visit)
    tablet.page.type({FLEXION: "139"})
    send(tablet.sealed("knee_flexion"))
    page.save(take=FLEXION)
    asked = "Tess Okafor typed 139 without network; the draft holds 131."
    again = Paper(there.client, visit)
    assert asked in words_of(again.response)
    again.save(take=FLEXION)
    older = Paper(signed_in(cast.clinician), visit)
    there.type({FLEXION: "132"}).send_row("knee_flexion")
    older.type({FLEXION: "120"})
    tablet.page.type({FLEXION: "141"})
    send(tablet.sealed("knee_flexion"))
    older.read(older.save())  # asks about what two pages typed, not about what came late
    older.save(take=FLEXION)
    again = Paper(there.client, visit)
    assert asked.replace("139", "141").replace("131", "132") in words_of(again.response)
    again.save(take=FLEXION)
    item = tablet.sealed("knee_flexion", typed={FLEXION: "140"})
    _signed(cast, visit)
    send(item)
    assert WaitingSave.objects.filter(open=True).count() == 1
    form = {"key": key(), "late_until": newest() - 1}
    there.client.post(f"/visits/{visit.uid}/late/seen", form)
    assert WaitingSave.objects.filter(open=True).count() == 1


def test_no_visit_is_signed_over_what_came_since_its_page_was_opened(
    cast: Cast, visit: Visit, tablet: Tablet
) -> None:
    page = Paper(signed_in(cast.clinician), visit)
    page.type({FLEXION: "131", "v:knee_flexion:left": "140", "f:none": "1"})
    page.send_row("knee_flexion")
    hop, was = "v:single_hop:left", '{"r:single_hop":"","v:single_hop:left":""}'
    Membership.objects.filter(staff=cast.clinician).update(ended_on=MOMENT.date())
    send(tablet.sealed("knee_flexion", was=was, typed={"r:single_hop": "1", hop: "120"}))
    Membership.objects.filter(staff=cast.clinician).update(ended_on=None)
    assert list(WaitingSave.objects.get().fields) == [hop]
    answer = page.sign()
    assert (answer.status_code, Reading.objects.count()) == (409, 0)
    assert words_of(answer).count("without network; the draft holds nothing") == 1
    page.read(answer)
    page.save(take=hop)
    assert Paper(page.client, visit).sign().status_code == 302
    assert [WaitingSave.objects.get().open, Reading.objects.count()] == [False, 2]


def test_what_came_late_and_reads_as_the_draft_waits_for_nobody(
    cast: Cast, visit: Visit, tablet: Tablet
) -> None:
    page = Paper(signed_in(cast.clinician), visit)
    page.type({FLEXION: "131"}).send_row("knee_flexion")
    page.type({"f:calf": "no", "f:pop": "no"}).send_row("flags")
    two = json.dumps({"f:calf": "", "f:pop": ""})
    send(tablet.sealed("knee_flexion", typed={FLEXION: "134"}, was=json.dumps({FLEXION: ""})))
    send(tablet.sealed("knee_flexion", was=two, typed={"f:calf": "yes", "f:pop": "yes"}))
    waiting = WaitingSave.objects.order_by("pk").values_list("settled", "open", "flagged")
    assert list(waiting.all()) == [([], True, False), ([], True, True)]
    page.type({FLEXION: "134"}).send_row("knee_flexion")
    page.type({"f:calf": "yes"}).send_row("flags")
    page.save()
    assert list(waiting.all()) == [([FLEXION], False, False), (["f:calf"], True, True)]
    send(tablet.sealed("knee_flexion", was=NO_FLAG, typed={"f:calf": "no"}))
    page.type({"f:pop": "yes"}).send_row("flags")
    page.save()
    assert list(waiting.all())[1:] == [(["f:calf", "f:pop"], False, False), ([], True, False)]


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
    tablet.page.type({FLEXION: "135"})
    more = tablet.sealed("knee_flexion")
    send(item)
    kept = EpisodeStatus.objects.get(episode=cast.episode)
    send(more)
    again = EpisodeStatus.objects.get(episode=cast.episode)
    told = (
        "Typed without network at the visit of 25 Nov 2026, not in the record: "
        "read it on that visit’s page"
    )
    assert (kept.look_sentence, kept.looks, kept.body) == (told, 1, again.body)
    rebuild(episode_ids=[cast.episode.pk])
    assert EpisodeStatus.objects.get(episode=cast.episode).body == again.body
    client, address = signed_in(cast.clinician), f"/visits/{visit.uid}/"
    looks = [f"/patients/{cast.ines.uid}/", "/caseload/"]
    assert [told in words_of(client.get(page)) for page in looks] == [True, True]
    assert "Flexion, right: 135 Tess Okafor, 24 Nov 2025, 16:00" in words_of(client.get(address))
    form = {"key": key(), "late_until": newest()}
    assert [client.post(f"{address}late/seen", form).status_code for _ in range(2)] == [302, 302]
    assert "135" not in words_of(client.get(address))
    assert [told in words_of(client.get(page)) for page in looks] == [False, False]
    assert EpisodeStatus.objects.get(episode=cast.episode).looks == 0
    acts = AuditEntry.objects.filter(act="settle_late_typing").values_list("subject_ids")
    assert list(acts) == [([visit.pk],)]


def test_a_red_flag_that_comes_late_is_an_alarm_until_it_has_been_read(
    cast: Cast, visit: Visit, tablet: Tablet
) -> None:
    def answered(text: str) -> dict[str, str]:
        return tablet.sealed("knee_flexion", was=NO_FLAG, typed={"f:calf": text})

    _signed(cast, visit)
    send(answered("no"))
    status = EpisodeStatus.objects.get
    assert (status().looks, status().look_sentence[:5]) == (1, "Typed")
    send(answered("yes"))
    told = (
        "Red flag answered yes without network at the visit of 25 Nov 2026, not in the record: "
        "ask now, follow your local emergency pathway, read it on that visit’s page"
    )
    assert (status().look_sentence, status().looks, status().look_rank) == (told, 2, 100)
    (reason,) = [one for one in reasons(episode_id=cast.episode.pk, today=TODAY) if one.alarm]
    LookAnswer.objects.create(
        episode=cast.episode, code=reason.code, size=reason.size, plan="called",
        look_again_on=TODAY + timedelta(days=7), answered_at=MOMENT,
        answered_by=cast.clinician,
    )  # fmt: skip
    rebuild(episode_ids=[cast.episode.pk])
    assert (status().looks, status().look_rank) == (1, 60)
    with clock.held_at(MOMENT + timedelta(seconds=1)):
        send(answered("yes"))
    assert (status().look_sentence, status().looks, status().look_rank) == (told, 2, 100)
    form = {"key": key(), "late_until": newest()}
    signed_in(cast.clinician).post(f"/visits/{visit.uid}/late/seen", form)
    assert status().looks == 0
