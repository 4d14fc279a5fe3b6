"""Second grades of a visit, blind and beside the record; and the page of agreement."""

import re
from datetime import timedelta
from uuid import uuid4

import pytest

from clinic.models.audit import AuditEntry
from outcomes.models.agreement import Agreement
from outcomes.models.record import Reading, VisitDraft
from tests.cast import MOMENT, TODAY
from tests.factories.agreement import AgreementFactory, FigureSetFactory, finished_round
from tests.factories.clinic import MembershipFactory, StaffFactory, VisitFactory
from tests.factories.outcomes import ReadingFactory
from tests.outcomes.followed import cells, seen
from tests.outcomes.story import signed
from tests.web import signed_in, words_of

LATERAL, FORWARD = "pelvic_drop_lateral_heel_touch", "pelvic_drop_forward_heel_touch"
PAGE = "/agreement/"


def again(visit, **grades):
    """A second grade as the page posts it: ``right="slight"`` of the lateral heel touch."""
    given = {f"g-{LATERAL}-{limb}": word for limb, word in grades.items()}
    return {"key": uuid4(), "had_seen": "no", **given}


def address(visit):
    return f"/visits/{visit.uid}/second-grade"


def choices(page):
    """The names of the tests that a page asks to grade."""
    return sorted(bound.name for bound in page.context["form"].rows)


def test_a_colleague_grades_blind_and_sees_both_afterwards(cast):
    visit = signed(cast, TODAY, pelvic_drop_lateral_heel_touch=(0, 3), effusion=(None, 1))
    client = signed_in(cast.colleague)
    assert "Ines Marlow, 25 Nov" in words_of(client.get(PAGE))
    before = client.get(address(visit))
    assert choices(before) == ["g-effusion-right", f"g-{LATERAL}-left", f"g-{LATERAL}-right"]
    assert "Tess Okafor" not in words_of(before)
    chosen = re.findall(r'<input[^>]*value="([^"]*)"[^>]*checked', before.content.decode())
    assert chosen == ["", "", ""]
    assert "you have not opened a page of this patient" in words_of(before)

    nothing = client.post(address(visit), again(visit))
    assert "Grade at least one test." in words_of(nothing)
    unsaid = client.post(address(visit), again(visit, right="moderate") | {"had_seen": ""})
    assert "Say whether you knew the first grade." in words_of(unsaid)
    assert [nothing.status_code, unsaid.status_code, Agreement.objects.count()] == [422, 422, 0]

    given = again(visit, right="moderate")
    assert [client.post(address(visit), given).status_code for _ in range(2)] == [302, 302]
    row = Agreement.objects.get()
    assert (row.measure, row.limb, row.grade, row.rank) == (LATERAL, "right", "moderate", 2)
    assert (row.had_seen, row.pages_opened, row.recorded_by) == ("no", False, cast.colleague)
    assert Reading.objects.count() == 3
    after = client.get(address(visit))
    assert cells(after) == [
        ["Lateral heel touch: pelvic drop, standing on the right", "moderate", "marked Tess Okafor"]
    ]
    assert choices(after) == ["g-effusion-right", f"g-{LATERAL}-left"]
    late = client.post(address(visit), again(visit, right="level"))
    assert (late.status_code, Agreement.objects.count()) == (422, 1)
    note = AuditEntry.objects.filter(act="grade_again").exclude(note="").get()
    assert (note.subject, note.subject_ids, note.note) == ("visit", [visit.pk], "1 kept")


def test_whoever_opened_the_record_first_is_told_and_kept_so(cast):
    visit = signed(cast, TODAY, pelvic_drop_lateral_heel_touch=(0, 3))
    client = signed_in(cast.colleague)
    visit.opened_at = MOMENT - timedelta(minutes=5)
    visit.save()
    assert client.get("/today/").context["day"].visit_ids() == [visit.pk]
    assert "you have not opened a page" in words_of(client.get(address(visit)))
    visit.opened_at = MOMENT + timedelta(hours=3)
    visit.save()
    client.get(f"/patients/{cast.ines.uid}/")
    early = AuditEntry.objects.filter(subject="patient", staff=cast.colleague)
    assert early.filter(at__lt=visit.opened_at).count() == 1
    assert "you have not opened a page" in words_of(client.get(address(visit)))
    visit.opened_at = MOMENT - timedelta(minutes=5)
    visit.save()
    assert "You opened pages of this patient since the visit began" in words_of(
        client.get(address(visit))
    )
    client.post(address(visit), again(visit, left="slight"))
    assert Agreement.objects.get().pages_opened is True
    page = words_of(client.get(PAGE))
    assert "1 not counted: the first grade was or may have been known" in page


def test_what_is_not_somebody_elses_once_and_lately_is_not_graded_again(cast):
    visit = signed(cast, TODAY, pelvic_drop_lateral_heel_touch=(0, 3), quadriceps_torque=(150, 90))
    twice = signed(cast, TODAY - timedelta(days=1), pelvic_drop_forward_heel_touch=(1, 2))
    ReadingFactory(
        visit=twice, measure=FORWARD, limb="left", value=0, conditions={"step_height": "20"}
    )
    withdrawn = Reading.objects.get(visit=visit, measure=LATERAL, limb="left")
    ReadingFactory(
        visit=visit, measure=LATERAL, limb="left", kind="withdrawn", value=None, reason="slipped",
        supersedes=withdrawn,
    )  # fmt: skip
    ahead = VisitFactory(
        patient=cast.ines, site=cast.harbour, date=TODAY + timedelta(days=3), state="booked",
        arrived_at=None, opened_at=None,
    )  # fmt: skip
    old = signed(cast, TODAY - timedelta(days=8), pelvic_drop_lateral_heel_touch=(1, 1))
    own, colleague = signed_in(cast.clinician), signed_in(cast.colleague)
    assert choices(own.get(address(visit))) == []
    assert choices(colleague.get(address(visit))) == [f"g-{LATERAL}-right"]
    assert choices(colleague.get(address(twice))) == [f"g-{FORWARD}-right"]
    assert "while it is open or once it is signed" in words_of(colleague.get(address(ahead)))
    page = colleague.get(address(old))
    assert "up to 7 days after the visit: this one is older" in words_of(page)
    assert colleague.post(address(old), again(old, left="level")).status_code == 422
    assert [len(one.visit.uid.hex) for one in colleague.get(PAGE).context["waiting"]] == [32, 32]
    assert own.get(PAGE).context["waiting"] == []


def test_an_open_visit_is_graded_before_it_is_signed_and_waits_for_its_pair(cast):
    visit = VisitFactory(patient=cast.ines, site=cast.harbour, clinician=cast.clinician)
    field = {"text": "marked", "version": 1, "by": cast.clinician.pk, "at": "", "sheet": ""}
    VisitDraft.objects.create(
        visit=visit, fields={f"v:{LATERAL}:right": field, "v:knee_flexion:left": field},
        opened_at=MOMENT, saved_at=MOMENT,
    )  # fmt: skip
    client = signed_in(cast.colleague)
    page = client.get(address(visit))
    assert choices(page) == [f"g-{LATERAL}-right"]
    client.post(address(visit), again(visit, right="marked"))
    assert "shown once the visit is signed" in words_of(client.get(address(visit)))
    assert "1 not counted: no first grade to compare with" in words_of(client.get(PAGE))


def pair(cast, days, first, second, *, by=None, limb="right", **more):
    """A signed lateral heel touch with a second grade."""
    visit = signed(cast, TODAY - timedelta(days=days), **{LATERAL: (None, first)})
    AgreementFactory(visit=visit, recorded_by=by or cast.colleague, grade=second, **more)
    return visit


def graded(cast):
    """Second grades and rounds of three clinicians, and some that belong elsewhere."""
    yuna = StaffFactory(username="yuna", full_name="Yuna Tarrow")
    MembershipFactory(staff=yuna, site=cast.harbour)
    visits = [
        pair(cast, 20, 0, "level"), pair(cast, 30, 1, "slight"), pair(cast, 40, 2, "marked"),
        pair(cast, 50, 3, "marked", by=yuna),
        pair(cast, 60, 3, "level", by=yuna, had_seen="yes"),
    ]  # fmt: skip
    elsewhere = pair(cast, 70, 3, "level")
    elsewhere.site = cast.millbank
    elsewhere.save()
    one = FigureSetFactory()
    finished_round(staff=cast.colleague, of=one)
    finished_round(staff=yuna, of=one, graded=lambda place, rank: min(rank + 1, 3))
    finished_round(staff=cast.outsider, of=one)
    return yuna, sorted(visit.pk for visit in visits)


def test_the_lead_sees_pairs_by_name_and_all_together_a_clinician_only_their_own(cast):
    yuna, visits = graded(cast)
    page = signed_in(cast.lead).get(PAGE)
    shown = page.context["shown"]
    assert [(line.who, line.agreed.alike) for line in shown.visits[0].lines] == [
        ("Bram Solis and Tess Okafor", "2 of 3"),
        ("Tess Okafor and Yuna Tarrow", "1 of 1"),
        ("All together", "3 of 4"),
    ]
    # seen 1 grade apart in 4 pairs, by chance 22 in 16: 1 - 0.25 / 1.375
    assert [line.agreed.kappa for line in shown.visits[0].lines][1:] == [
        "not defined: both gave one and the same grade throughout", "0.82 (0.51 to 1.00)",
    ]  # fmt: skip
    assert shown.visits[0].left_out == ["1 not counted: the first grade was or may have been known"]
    assert [line.who for line in shown.truth] == ["Bram Solis", "Yuna Tarrow", "All together"]
    assert shown.truth[0].agreed.kappa == "1.00 (no interval: every pair is alike)"
    assert [line.who for line in shown.figures] == ["Bram Solis and Yuna Tarrow"]
    assert shown.figures[0].agreed.alike == shown.truth[1].agreed.alike
    assert "Tess Okafor marked: Yuna Tarrow 1 marked" in words_of(page)
    assert "Grade a visit a second time" not in words_of(page)
    assert seen("see_agreement") == [visits]

    mine = signed_in(yuna).get(PAGE).context["shown"]
    assert [line.who for line in mine.visits[0].lines] == ["Tess Okafor and Yuna Tarrow"]
    assert [line.who for line in mine.truth] == ["Yuna Tarrow"]
    first = signed_in(cast.clinician).get(PAGE).context["shown"]
    assert [line.who for line in first.visits[0].lines][:2] == [
        "Bram Solis and Tess Okafor", "Tess Okafor and Yuna Tarrow",
    ]  # fmt: skip
    assert (first.truth, first.figures) == ([], [])


@pytest.mark.parametrize("count", [1, 3])
def test_the_page_costs_the_same_for_one_and_for_three(cast, count, django_assert_num_queries):
    for number in range(count):
        pair(cast, number, 1, "slight")
        one = FigureSetFactory()
        finished_round(staff=cast.clinician, of=one)
        finished_round(staff=cast.colleague, of=one)
    lead, colleague = signed_in(cast.lead), signed_in(cast.colleague)
    with django_assert_num_queries(9):
        assert lead.get(PAGE).status_code == 200
    with django_assert_num_queries(13):
        assert colleague.get(PAGE).status_code == 200
