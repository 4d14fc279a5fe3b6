"""The lead copies a protocol, edits it, and publishes a version that never changes."""

import json
import re
from uuid import uuid4

import pytest
from django.db import DatabaseError, transaction

from clinic.models.audit import AuditEntry
from clinic.models.people import Patient
from outcomes.catalogue.seeds import canonical_json, fingerprint
from outcomes.models.versions import ProtocolDraft, ProtocolVersion
from outcomes.protocols.seeds import protocol_seeds
from outcomes.queries.catalogue import in_force
from tests.outcomes.own_protocol import CODE, DRAFT, copied, edited, own_version, published, sent
from tests.web import signed_in, words_of

STARTER = dict(protocol_seeds())["starter-2.toml"]


def criterion(body, milestone, code):
    rows = next(one for one in body["milestones"] if one["code"] == milestone)["criteria"]
    return next(one for one in rows if one["code"] == code)


def codes(body, milestone):
    return [one["code"] for one in _milestone(body, milestone)["criteria"]]


def _milestone(body, code):
    return next(one for one in body["milestones"] if one["code"] == code)


def test_a_copy_is_a_draft_and_nothing_is_judged_by_it(cast):
    answer = copied(signed_in(cast.lead))
    assert (answer.status_code, answer["Location"]) == (302, DRAFT)
    row = ProtocolDraft.objects.get()
    assert (row.code, row.base, row.version, row.author) == (CODE, "starter@2", 1, cast.lead)
    assert row.body == {**STARTER, "code": CODE, "version": 1, "label": "Harbour"}
    assert CODE not in {code.partition("@")[0] for code in in_force().protocols}


def test_copy_edit_publish_by_the_pages_and_the_row_holds_exactly_what_was_typed(cast):
    client = signed_in(cast.lead)
    copied(client)
    form = client.get(f"{DRAFT}running/").context["form"]
    typed = {"quadriceps-value": "60,5", "gate": "14"}
    answer = client.post(f"{DRAFT}running/", sent(form, **typed))
    assert (answer.status_code, answer["Location"]) == (302, DRAFT)
    assert "“Quadriceps symmetry at least 60.5 %”: asks at least 60.5 %, was at least 70 %." in (
        words_of(client.get(DRAFT))
    )
    answer = published(client, "A lower threshold, two weeks later.")
    assert answer["Location"] == f"/protocols/{CODE}-1/"
    row, wanted = ProtocolVersion.objects.get(code=CODE), lower_and_later()
    assert json.loads(row.body) == wanted
    assert (row.body, row.sha256) == (canonical_json(wanted), fingerprint(canonical_json(wanted)))
    assert (row.version, row.origin, row.created_by, row.note) == (
        1, "clinic", cast.lead, "A lower threshold, two weeks later.",
    )  # fmt: skip
    assert ProtocolDraft.objects.count() == 0
    acts = AuditEntry.objects.filter(outcome="done", subject__startswith="protocol")
    found = acts.order_by("pk").values_list("act", flat=True)
    assert [act for act in found if "protocol" in act] == [
        "copy_protocol", "edit_protocol", "publish_protocol",
    ]  # fmt: skip


def lower_and_later():
    """The starter protocol with 60.5 % instead of 70 % and week 14 instead of 12 for running."""
    wanted = json.loads(json.dumps({**STARTER, "code": CODE, "version": 1, "label": "Harbour"}))
    changed, gate = (
        criterion(wanted, "running", "quadriceps"),
        _milestone(wanted, "running")["gate"],
    )
    for row, was in ((changed, "70 %"), (gate, "week 12")):
        text = f"This clinic’s setting, was {was} by {_lines(row['sources'])}"
        row["sources"] = [{"text": text, "mark": "clinic_setting"}]
    changed["threshold"]["value"] = "60.5"
    changed["label"] = "Quadriceps symmetry at least 60.5 %"
    gate["weeks"] = 14
    return wanted


def _lines(sources):
    words = {"seen": "read in the source", "clinic_setting": "this clinic's setting"}
    return "; ".join(
        one["text"]
        if one["text"].endswith("setting of this house")
        else f"{one['text']}: {words[one['mark']]}"
        + (f" (doi {one['doi']})" if "doi" in one else "")
        for one in sources
    )


def test_a_source_that_the_lead_types_is_kept_as_typed_and_shown_again(cast):
    client = signed_in(cast.lead)
    copied(client)
    edited(client, "running", quadriceps__value="75", quadriceps__source="Own audit of 2025")
    made = criterion(ProtocolDraft.objects.get().body, "running", "quadriceps")
    assert made["sources"] == [{"text": "Own audit of 2025", "mark": "clinic_setting"}]
    page = client.get(f"{DRAFT}running/")
    assert page.context["form"]["quadriceps-source"].value() == "Own audit of 2025"
    edited(client, "running", quadriceps__source="", quadriceps__value="70")
    made = criterion(ProtocolDraft.objects.get().body, "running", "quadriceps")
    assert made == criterion(STARTER, "running", "quadriceps")


def test_hard_becomes_advisory_with_a_source_of_its_own_and_the_number_keeps_its_source(cast):
    client = signed_in(cast.lead)
    copied(client)
    edited(client, "running", quadriceps__hard="advisory", quadriceps__maximum_age_days="42")
    made, old = (
        criterion(body, "running", "quadriceps")
        for body in (ProtocolDraft.objects.get().body, STARTER)
    )
    said = {"text": "Advisory here, and counted where it was copied from", "mark": "clinic_setting"}
    assert made == {**old, "hard": False, "sources": [*old["sources"], said]}


def test_order_and_removal_are_one_press_each(cast):
    client = signed_in(cast.lead)
    copied(client)
    before = codes(STARTER, "running")
    answer = edited(client, "running", step="up:quadriceps")
    assert answer["Location"] == f"{DRAFT}running/#c-quadriceps"
    edited(client, "running", step="down:extension")
    answer = edited(client, "running", step="remove:flexion_130")
    assert answer["Location"] == f"{DRAFT}running/"
    wanted = [code for code in before if code != "flexion_130"]
    assert wanted[:2] == ["extension", "flexion"]
    wanted = [wanted[1], wanted[0], *wanted[2:-2], "quadriceps", wanted[-2]]
    assert codes(ProtocolDraft.objects.get().body, "running") == wanted
    page = client.get(DRAFT)
    client.post(DRAFT, {**sent(page.context["edit"]), "step": "up:competition"})
    order = [one["code"] for one in ProtocolDraft.objects.get().body["milestones"]]
    assert order == ["step_down_work", "running", "competition", "hopping_landing"]


def test_the_draft_says_what_differs_from_where_it_was_copied(cast):
    client = signed_in(cast.lead)
    copied(client)
    assert client.get(DRAFT).context["differs"] == ()
    edited(client, "running", step="remove:flexion_130")
    edited(client, "running", step="up:quadriceps", quadriceps__hard="advisory")
    edited(client, "running", label="Run and walk", gate="14", extension__maximum_age_days="21")
    edited(client, "competition", label="Match", effusion__earliest_week="30")
    page = client.get(DRAFT)
    client.post(DRAFT, {**sent(page.context["edit"]), "step": "up:competition"})
    assert client.get(DRAFT).context["differs"] == (
        "Order: Step-down work, Run and walk, Match and Hopping and landing.",
        "Running is named “Run and walk”.",
        "Run and walk: not before week 12; without surgery: no earliest date became not before "
        "week 14; without surgery: no earliest date.",
        "Run and walk: “Flexion over 130°” is not asked.",
        "Run and walk: the criteria stand in another order.",
        "Run and walk: “Extension at most 2° short of the other knee”: a value counts for 3 weeks, "
        "was 30 days.",
        "Run and walk: “Quadriceps symmetry at least 70 %”: now advisory, was counted.",
        "Competition is named “Match”.",
        "Match: “Effusion at most a trace”: only from week 30, was always.",
    )


@pytest.mark.parametrize(
    ("changes", "field", "sentence"),
    [
        (
            {"quadriceps__value": "600"},
            "quadriceps-value",
            "This cannot be taken: 600 is outside 1 to 150. Type another value.",
        ),
        (
            {"quadriceps__value": "much"},
            "quadriceps-value",
            "Type a number with digits and one decimal mark: 12.5.",
        ),
        (
            {"effusion__value": "zero"},
            "effusion-label",
            "The threshold changed: write in the name what is asked now.",
        ),
        (
            {"quadriceps__maximum_age_days": "0"},
            "quadriceps-maximum_age_days",
            "This cannot be taken: Must be at least 1. Type another value.",
        ),
        ({"gate": ""}, "gate", "This field is required."),
    ],
)
def test_what_cannot_be_taken_is_said_at_its_field_and_nothing_is_kept(
    cast, changes, field, sentence
):
    client = signed_in(cast.lead)
    copied(client)
    answer = edited(client, "running", **changes)
    assert answer.status_code == 422
    assert {name: list(said) for name, said in answer.context["form"].errors.items()} == {
        field: [sentence]
    }
    assert ProtocolDraft.objects.get().version == 1
    assert f'href="#id_{field}"' in answer.content.decode()


def test_a_group_and_its_members_hold_together(cast):
    client = signed_in(cast.lead)
    copied(client, base="composite-1")

    def said(**changes):
        answer = edited(client, "stage_3", **changes)
        return {name: list(found) for name, found in answer.context["form"].errors.items()}

    flexion, member = (
        "Flexion at least 120°, or at most 10° short of the other knee",
        "Flexion at least 120°",
    )
    assert said(flexion_120__hard="hard") == {
        "flexion_120-hard": [
            f"“{member}” counts through “{flexion}”. Leave it advisory, or remove that group first."
        ]
    }
    made_of = (
        f"“{flexion}” is made of “{{}}”, which stands before it. Move or remove the group first."
    )
    assert said(step="remove:flexion_120") == {"__all__": [made_of.format(member)]}
    assert said(step="up:flexion") == {
        "__all__": [made_of.format("Flexion at most 10° short of the other knee")]
    }
    edited(client, "stage_3", flexion_120__value="115")
    body = ProtocolDraft.objects.get().body
    assert criterion(body, "stage_3", "flexion_120")["label"] == "Flexion at least 115°"
    assert criterion(body, "stage_3", "flexion")["label"] == (
        "Flexion at least 115°, or at most 10° short of the other knee"
    )


def test_a_milestone_never_rests_on_time_alone(cast):
    client = signed_in(cast.lead)
    copied(client)
    changes = {f"{code}__hard": "advisory" for code in codes(STARTER, "running")}
    answer = edited(client, "running", **changes)
    assert list(answer.context["form"].errors["__all__"]) == [
        "Running would rest on time alone. Leave at least one criterion that counts."
    ]


def test_a_draft_that_somebody_saved_meanwhile_is_not_overwritten(cast):
    client = signed_in(cast.lead)
    copied(client)
    stale = sent(client.get(f"{DRAFT}running/").context["form"], **{"quadriceps-value": "65"})
    edited(client, "running", quadriceps__value="60")
    answer = client.post(f"{DRAFT}running/", stale)
    assert answer.status_code == 409
    assert "On record now" in words_of(answer)
    made = criterion(ProtocolDraft.objects.get().body, "running", "quadriceps")
    assert made["threshold"]["value"] == "60"
    late = client.post(f"{DRAFT}publish", {"key": str(uuid4()), "seen": 1, "note": "old"})
    assert late.status_code == 409
    assert not ProtocolVersion.objects.filter(origin="clinic").exists()


def test_the_same_form_twice_publishes_once_and_a_published_version_is_kept_by_the_database(cast):
    client = signed_in(cast.lead)
    copied(client)
    edited(client, "running", quadriceps__value="60")
    form = {"key": str(uuid4()), "seen": 2, "note": "seventy became sixty"}
    answers = {client.post(f"{DRAFT}publish", form).get("Location") for _ in range(2)}
    assert answers == {f"/protocols/{CODE}-1/"}
    with pytest.raises(DatabaseError, match="kept as it is"), transaction.atomic():
        ProtocolVersion.objects.filter(code=CODE).update(note="something else")
    assert ProtocolVersion.objects.filter(code=CODE).count() == 1


def test_nothing_changed_is_nothing_to_publish(cast):
    client = signed_in(cast.lead)
    copied(client)
    answer = published(client)
    assert answer.status_code == 422
    assert list(answer.context["form"].errors["note"]) == [
        "Nothing differs from starter@2: change something first."
    ]


def test_the_next_version_of_an_own_one_keeps_its_code_and_leaves_the_first_as_it_was(cast):
    first = own_version(cast)
    client = signed_in(cast.lead)
    answer = client.post(f"/protocols/{CODE}-1/copy", {"key": str(uuid4()), "next": "1"})
    assert answer["Location"] == DRAFT
    again = client.post(f"/protocols/{CODE}-1/copy", {"key": str(uuid4()), "next": "1"})
    assert list(again.context["form"].errors["label"]) == [
        "A draft of it is begun already: open it from the list."
    ]
    edited(client, "running", quadriceps__value="55")
    published(client, "fifty-five")
    rows = ProtocolVersion.objects.filter(code=CODE).order_by("version")
    assert [(str(row), row.note) for row in rows] == [
        (f"{CODE}@1", "another threshold"), (f"{CODE}@2", "fifty-five"),
    ]  # fmt: skip
    assert (rows[0].body, rows[0].sha256) == (first.body, first.sha256)
    text = criterion(json.loads(rows[1].body), "running", "quadriceps")["sources"][0]["text"]
    assert text.startswith("This clinic’s setting, was 60 % by Own audit of 2025")
    same = copied(client)
    assert list(same.context["form"].errors["label"]) == [
        f"There is a protocol {CODE} already. Choose another name."
    ]


def test_a_discarded_draft_is_gone_and_what_was_published_stays(cast):
    own_version(cast)
    client = signed_in(cast.lead)
    client.post(f"/protocols/{CODE}-1/copy", {"key": str(uuid4()), "next": "1"})
    answer = client.post(f"{DRAFT}discard", {"key": str(uuid4()), "seen": 1})
    assert answer["Location"] == "/protocols/"
    assert ProtocolDraft.objects.count() == 0
    assert ProtocolVersion.objects.filter(code=CODE).count() == 1
    assert client.get(DRAFT).status_code == 404


@pytest.mark.parametrize("who", ["desk", "clinician"])
def test_front_desk_and_clinician_neither_copy_nor_edit_nor_publish_nor_move(cast, who):
    lead = signed_in(cast.lead)
    copied(lead)
    body = ProtocolDraft.objects.get().body
    form = sent(lead.get(f"{DRAFT}running/").context["form"], **{"quadriceps-value": "60"})
    client = signed_in(getattr(cast, who))
    tick = f"{cast.episode.uid}:{cast.episode.version}"
    asked = {
        "/protocols/starter-2/copy": {"key": str(uuid4()), "label": "Mine"},
        f"{DRAFT}running/": form,
        f"{DRAFT}publish": {"key": str(uuid4()), "seen": 1, "note": "mine"},
        f"{DRAFT}discard": {"key": str(uuid4()), "seen": 1},
        "/protocols/composite-1/episodes": {
            "key": str(uuid4()), "episode": tick, "reason": "mine",
        },
        "/protocols/composite-1/new": {"key": str(uuid4()), "site": "harbour", "seen": ""},
    }  # fmt: skip
    assert {client.post(address, data).status_code for address, data in asked.items()} == {403}
    assert [(row.body, row.version) for row in ProtocolDraft.objects.all()] == [(body, 1)]
    assert not ProtocolVersion.objects.filter(origin="clinic").exists()
    cast.episode.refresh_from_db()
    cast.harbour.refresh_from_db()
    assert (cast.episode.protocol, cast.harbour.protocol) == ("starter@2", "")
    assert not Patient.objects.filter(name="Mine").exists()
    assert not re.search("/copy|/drafts/|/episodes", client.get("/protocols/").content.decode())
