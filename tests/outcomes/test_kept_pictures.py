"""Keeping a picture: only where the site does, only once the patient agreed, and encoded afresh."""

import zlib
from contextlib import closing
from datetime import date
from hashlib import sha256
from io import BytesIO
from typing import Any
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, connection, transaction
from django.db.backends.sqlite3.base import DatabaseWrapper
from django.test.utils import CaptureQueriesContext
from PIL import Image

from clinic.models.audit import AuditEntry
from clinic.models.intents import ErasurePass
from clinic.services import upkeep
from outcomes.core.kinds import Limb, View
from outcomes.interchange import stills
from outcomes.interchange.stills import still_from
from outcomes.models.pictures import Picture, PictureAgreement, PictureErasure
from outcomes.models.record import Reading
from tests.cast import MOMENT
from tests.factories.outcomes import PictureFactory, ReadingFactory
from tests.outcomes.drawn import figure, still
from tests.outcomes.paper import open_visit
from tests.web import signed_in, words_of

ROW = "pelvic_drop_lateral_heel_touch"
DRAWN = figure(drop=7, tilt=0, view=View.BACK, limb=Limb.RIGHT)
PLACE = "N 52 12.5"


def with_place() -> bytes:
    """A JPEG that was held sideways, with a place and a maker in its particulars."""
    exif = Image.Exif()
    exif[0x0112], exif[0x010F] = 6, "a maker"
    exif.get_ifd(0x8825).update({1: "N", 2: (52.0, 12.0, 30.0), 29: PLACE})
    return still(DRAWN, kind="JPEG", exif=exif, comment=b"a note")


def huge() -> bytes:
    """A whole PNG of 20,000 x 20,000 black pixels in a few hundred kilobytes."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        crc = zlib.crc32(kind + body).to_bytes(4, "big")
        return len(body).to_bytes(4, "big") + kind + body + crc

    head = (20_000).to_bytes(4, "big") * 2 + bytes([1, 0, 0, 0, 0])
    rows = zlib.compress(bytes(2501) * 20_000, 1)
    start = b"\x89PNG\r\n\x1a\n"
    return start + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


HUGE = huge()
JPEG, PNG = still(DRAWN, kind="JPEG"), still(DRAWN)
SCRIPT = b"<script>fetch('/')</script>"
MORE = "The file is cut short or holds more than a picture. Take it again."
OTHER = "This file is not a JPEG, PNG or WebP picture."
REFUSED = {
    "svg": (b'<svg xmlns="http://www.w3.org/2000/svg"><script/></svg>', "a.svg", OTHER),
    "svg called png": (b"<?xml version='1.0'?><svg/>", "a.png", OTHER),
    "gif and page": (b"GIF89a/*<html>" + SCRIPT, "a.gif", OTHER),
    "jpeg and page": (JPEG + SCRIPT, "a.jpg", MORE),
    "jpeg around page": (
        still(DRAWN, kind="JPEG", comment=SCRIPT) + b"\xff\xd9", "a.jpg", MORE,
    ),
    "png and archive": (PNG + b"PK\x03\x04", "a.png", MORE),
    "huge": (HUGE, "a.png", "The picture has more than 40 million pixels. Take it smaller."),
    "nothing": (b"", "a.png", "The file is empty. Choose the picture again."),
    "wrong ending": (PNG, "a.jpg", "The name of the file does not end like a PNG picture."),
    "cut short": (JPEG[: len(JPEG) // 2], "a.jpg", MORE),
    "too heavy": (
        JPEG + bytes(stills.MOST_BYTES), "a.jpg", "The file is larger than 8 MB. Take it smaller.",
    ),
}  # fmt: skip


@pytest.fixture
def visit(cast):
    """An open visit at a site that keeps pictures."""
    cast.harbour.pictures = cast.harbour.keep_pictures = True
    cast.harbour.save()
    return open_visit(cast)


def send(client, visit, content, name="a.jpg", **more):
    given = {
        "key": uuid4(), "view": "back", "picture": SimpleUploadedFile(name, content), **more,
    }  # fmt: skip
    return client.post(f"/visits/{visit.uid}/picture/{ROW}/right/keep", given)


def agree(client, cast, kind="given", by="patient", **more):
    given = {"key": uuid4(), "kind": kind, "agreed_by": by, **more}
    return client.post(f"/patients/{cast.ines.uid}/pictures/agreement", given)


def test_nothing_is_kept_without_the_switch_and_the_agreement(cast, visit):
    client = signed_in(cast.clinician)
    early = send(client, visit, JPEG)
    assert early.status_code == 422
    assert (
        "No agreement is recorded. Record the patient's agreement first. Nothing was stored."
        in words_of(early)
    )
    assert agree(client, cast).status_code == 302
    cast.harbour.keep_pictures = False
    cast.harbour.save()
    off = send(client, visit, JPEG)
    assert (off.status_code, Picture.objects.count()) == (422, 0)
    kept = PictureAgreement.objects.get()
    assert (kept.kind, kept.agreed_by, kept.recorded_by) == ("given", "patient", cast.clinician)
    assert agree(client, cast).status_code == 422  # it is recorded already


def test_what_is_kept_is_upright_and_carries_no_place(cast, visit):
    client = signed_in(cast.clinician)
    agree(client, cast)
    came, key = with_place(), uuid4()
    assert (PLACE.encode() in came, b"a maker" in came, b"a note" in came) == (True, True, True)
    for _ in range(2):
        assert send(client, visit, came, key=key).status_code == 302
    row = Picture.objects.get()
    content = bytes(row.content)
    found = Image.open(BytesIO(content))
    assert (found.size, (row.width, row.height)) == ((1200, 900), (1200, 900))
    assert (dict(found.getexif()), found.info.get("comment")) == ({}, None)
    assert [one in content for one in (PLACE.encode(), b"a maker", b"a note", b"Exif")] == [
        False
    ] * 4
    assert (row.sha256, row.visit, row.limb, row.view) == (
        sha256(content).hexdigest(), visit, "right", "back",
    )  # fmt: skip
    answer = client.get(f"/pictures/{row.uid}/")
    assert answer.content == content
    assert {name: answer.headers[name] for name in (
        "Content-Type", "Content-Disposition", "X-Content-Type-Options", "Cache-Control",
        "Content-Security-Policy",
    )} == {
        "Content-Type": "image/jpeg",
        "Content-Disposition": f'inline; filename="picture-{row.uid}.jpg"',
        "X-Content-Type-Options": "nosniff",
        "Cache-Control": "no-store",
        "Content-Security-Policy": "default-src 'none'; sandbox",
    }  # fmt: skip
    others = (cast.outsider, cast.desk)
    assert [signed_in(who).get(f"/pictures/{row.uid}/").status_code for who in others] == [404, 403]


def test_what_is_not_just_a_picture_is_refused_in_a_sentence_and_nothing_is_stored(cast, visit):
    client = signed_in(cast.clinician)
    agree(client, cast)
    for what, (content, name, sentence) in REFUSED.items():
        answer = send(client, visit, content, name)
        said = words_of(answer)
        assert (what, answer.status_code, f"{sentence} Nothing was stored." in said) == (
            what,
            422,
            True,
        )
    assert Picture.objects.count() == 0
    webp = still_from(content=still(DRAWN, kind="WEBP"), name="A.WEBP")
    assert (webp.width, webp.height, webp.content[:3]) == (900, 1200, b"\xff\xd8\xff")


def test_the_pixels_are_counted_before_any_is_decoded(monkeypatch):
    def decode(self):
        pytest.fail("a picture was decoded before its pixels were counted")

    monkeypatch.setattr(Image.Image, "load", decode)
    with pytest.raises(stills.StillRefused, match="more than 40 million pixels"):
        still_from(content=HUGE, name="a.png")


def test_taking_the_agreement_back_erases_what_was_kept_and_leaves_no_pass(cast, visit):
    client = signed_in(cast.clinician)
    agree(client, cast)
    for content, name in ((JPEG, "a.jpg"), (PNG, "a.png")):
        assert send(client, visit, content, name).status_code == 302
    listed = client.get(f"/patients/{cast.ines.uid}/pictures")
    assert words_of(listed).count("Standing on the right, from behind") == 2
    assert "agreed by the patient, recorded by Tess Okafor" in words_of(listed)
    uid = Picture.objects.values_list("uid", flat=True).latest("pk")
    cast.harbour.keep_pictures = False  # switched off later: what is kept is still found
    cast.harbour.save()
    way = f'href="/patients/{cast.ines.uid}/pictures"'
    assert way in client.get(f"/patients/{cast.ines.uid}/").content.decode()
    assert agree(client, cast, "withdrawn").status_code == 302
    assert (Picture.objects.count(), ErasurePass.objects.count()) == (0, 0)
    assert client.get(f"/pictures/{uid}/").status_code == 404
    assert send(client, visit, JPEG).status_code == 422
    acts = AuditEntry.objects.filter(act__in=("erase_pictures", "agreement_withdrawn"))
    assert {(one.act, len(one.subject_ids)) for one in acts} == {
        ("erase_pictures", 2), ("agreement_withdrawn", 1),
    }  # fmt: skip


def born(cast, day):
    cast.ines.birth_date = day
    cast.ines.save()


def agreements(cast):
    rows = PictureAgreement.objects.order_by("pk")
    return list(rows.values_list("kind", "agreed_by", "guardian", "assented"))


def test_for_a_child_a_guardian_agrees_by_name_and_the_child_too(cast, visit):
    born(cast, date(2008, 11, 26))  # 18 tomorrow
    client, mother = (
        signed_in(cast.clinician),
        {"by": "guardian", "guardian": "Alba Marlow, mother"},
    )
    asks = words_of(client.get(f"/patients/{cast.ines.uid}/pictures"))
    assert "Under 18 years a parent or guardian agrees, and the young person too." in asks
    refused = {
        "Write who agreed: name and relation.": {"by": "guardian", "assented": "yes"},
        "Ask the young person, and say what they answered.": mother,
        "Without the young person's own agreement no picture is kept. Nothing was recorded.": {
            **mother, "assented": "no",
        },
        "A parent or guardian agrees for a child. Open the page afresh.": {
            "by": "patient", "guardian": "Alba Marlow, mother", "assented": "yes",
        },
    }  # fmt: skip
    for sentence, given in refused.items():
        answer = agree(client, cast, **given)
        assert (sentence, answer.status_code, sentence in words_of(answer)) == (sentence, 422, True)
    assert (agreements(cast), send(client, visit, JPEG).status_code) == ([], 422)
    assert agree(client, cast, **mother, assented="yes").status_code == 302
    assert agreements(cast) == [("given", "guardian", "Alba Marlow, mother", True)]
    assert send(client, visit, JPEG).status_code == 302
    page = words_of(client.get(f"/patients/{cast.ines.uid}/pictures"))
    assert "agreed by Alba Marlow, mother, and by the young person, recorded by Tess Okafor" in page
    assert "For new pictures it counts until 26 Nov 2026" in page


def test_at_majority_a_guardians_agreement_counts_for_no_new_picture(cast, visit):
    born(cast, date(2008, 11, 26))  # 18 tomorrow
    client, mother = (
        signed_in(cast.clinician),
        {"by": "guardian", "guardian": "Alba Marlow, mother"},
    )
    agree(client, cast, **mother, assented="yes")
    assert send(client, visit, JPEG).status_code == 302
    born(cast, date(2008, 11, 25))  # 18 today: what is kept stays, a new one needs the patient
    late = send(client, visit, PNG, "a.png")
    assert (late.status_code, Picture.objects.count()) == (422, 1)
    assert "agreed before the patient came of age. Record the patient's own" in words_of(late)
    cast.harbour.majority = 19  # where the law says so, the guardian is still asked
    cast.harbour.save()
    assert send(client, visit, PNG, "a.png").status_code == 302
    assert agree(client, cast).status_code == 422
    cast.harbour.majority = 18
    cast.harbour.save()
    assert agree(client, cast, **mother, assented="yes").status_code == 422
    assert agree(client, cast).status_code == 302
    assert send(client, visit, JPEG, "b.jpg").status_code == 302
    assert agree(client, cast, "withdrawn").status_code == 302
    assert (agreements(cast)[1:], Picture.objects.count()) == (
        [("given", "patient", "", None), ("withdrawn", "patient", "", None)], 0,
    )  # fmt: skip


def test_the_database_refuses_a_guardian_without_name_or_without_the_child(cast):
    wrong: list[dict[str, Any]] = [
        {"agreed_by": "guardian"},
        {"agreed_by": "guardian", "guardian": "Alba Marlow, mother"},
        {"agreed_by": "guardian", "assented": True},
        {"agreed_by": "guardian", "guardian": "Alba Marlow, mother", "assented": False},
        {"agreed_by": "patient", "guardian": "Alba Marlow, mother"},
    ]
    for fields in wrong:
        with pytest.raises(IntegrityError), transaction.atomic():
            PictureAgreement.objects.create(
                patient=cast.ines, kind="given", recorded_at=MOMENT, recorded_by=cast.lead, **fields
            )


def erase(client, cast, picture, reason="somebody else is in it", key=None):
    given = {"key": key or uuid4(), "reason": reason}
    return client.post(f"/patients/{cast.ines.uid}/pictures/{picture}/erase", given)


def test_one_picture_is_erased_alone_with_a_reason_by_clinician_or_lead(cast, visit):
    client, lead, key = signed_in(cast.clinician), signed_in(cast.lead), uuid4()
    agree(client, cast)
    one, two, stays = (PictureFactory(visit=visit, view=view) for view in ("back", "front", "back"))
    other = PictureFactory(visit__site=cast.harbour, recorded_by=cast.lead)
    measured = ReadingFactory(visit=visit, recorded_by=cast.clinician)
    without = erase(client, cast, one.uid, "  ")
    assert (without.status_code, "Write why the picture is erased." in words_of(without)) == (
        422,
        True,
    )
    for picture in (other.uid, uuid4()):
        foreign = erase(client, cast, picture)
        said = "This picture is not kept any more." in words_of(foreign)
        assert (foreign.status_code, said) == (422, True)
    assert Picture.objects.count() == 4
    for _ in range(2):  # pressed twice: one effect, one answer
        assert erase(client, cast, one.uid, key=key).status_code == 302
    assert erase(lead, cast, two.uid, "blurred").status_code == 302
    assert set(Picture.objects.values_list("uid", flat=True)) == {stays.uid, other.uid}
    assert (ErasurePass.objects.count(), Reading.objects.get()) == (0, measured)
    assert list(PictureErasure.objects.order_by("pk").values_list(
        "uid", "visit", "limb", "view", "reason", "erased_by"
    )) == [
        (one.uid, visit.pk, "right", "back", "somebody else is in it", cast.clinician.pk),
        (two.uid, visit.pk, "right", "front", "blurred", cast.lead.pk),
    ]  # fmt: skip
    acts = AuditEntry.objects.filter(act="erase_pictures").order_by("pk")
    assert [(row.staff_id, row.subject, row.subject_ids, row.note) for row in acts] == [
        (cast.clinician.pk, "picture", [one.pk], ""), (cast.lead.pk, "picture", [two.pk], ""),
    ]  # fmt: skip
    listed = words_of(lead.get(f"/patients/{cast.ines.uid}/pictures"))
    assert (
        "standing on the right, from behind, visit of 25 Nov 2026, erased by Tess Okafor: "
        "somebody else is in it"
    ) in listed
    assert agree(lead, cast, "withdrawn").status_code == 302
    assert "1 picture erased" in words_of(lead.get(f"/patients/{cast.ines.uid}/pictures"))
    assert Picture.objects.get() == other


def test_the_database_refuses_an_erasure_without_a_reason(cast, visit):
    with pytest.raises(IntegrityError), transaction.atomic():
        PictureErasure.objects.create(
            uid=uuid4(), visit=visit, limb="left", view="back", reason="", erased_at=MOMENT,
            erased_by=cast.lead,
        )  # fmt: skip


@pytest.mark.sqlite
def test_no_byte_of_an_erased_picture_stays_in_the_file(db, tmp_path, monkeypatch):
    file = tmp_path / "kept.sqlite3"
    own = DatabaseWrapper({**connection.settings_dict, "NAME": str(file)}, "own")
    monkeypatch.setattr(upkeep, "connection", own)
    with closing(own), own.cursor() as cursor:
        cursor.execute("CREATE TABLE kept (content BLOB)")
        cursor.execute("INSERT INTO kept VALUES (%s)", [JPEG * 3])
        in_file = [JPEG[-64:] in part.read_bytes() for part in tmp_path.iterdir()]
        assert any(in_file)
        cursor.execute("DELETE FROM kept")
        upkeep.wipe_deleted()
        assert [part.name for part in tmp_path.iterdir() if JPEG[-64:] in part.read_bytes()] == []


@pytest.mark.parametrize("more", [1, 3])
def test_the_list_costs_the_same_however_many_are_kept(cast, visit, more):
    client = signed_in(cast.clinician)
    for _ in range(more):
        PictureFactory(visit=visit)
        PictureAgreement.objects.create(
            patient=cast.ines, kind="given", agreed_by="patient", recorded_at=MOMENT,
            recorded_by=cast.lead,
        )  # fmt: skip
    with CaptureQueriesContext(connection) as asked:
        page = client.get(f"/patients/{cast.ines.uid}/pictures")
    assert (words_of(page).count("kept by"), len(asked)) == (more, 11)
