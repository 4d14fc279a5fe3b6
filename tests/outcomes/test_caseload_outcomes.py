"""Outcomes over the caseload: counts with denominators, and who is behind each count."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from clinic.models import care
from outcomes.models.record import RedFlagCheck
from tests.cast import MOMENT, TODAY
from tests.factories.clinic import EpisodeFactory, PatientFactory, SurgeryFactory
from tests.factories.outcomes import EventFactory, both_limbs, signed_visit
from tests.outcomes.followed import cells, seen
from tests.web import signed_in, words_of

PAGE = "/caseload/outcomes"


def operated(cast, name, **more):
    patient = PatientFactory(name=name)
    episode = EpisodeFactory(patient=patient, site=cast.harbour, responsible=cast.clinician, **more)
    SurgeryFactory(episode=episode, recorded_by=cast.clinician)
    return episode


def measured(cast, episode, *, on=TODAY, flags=None, **values):
    visit = signed_visit(patient=episode.patient, site=cast.harbour, by=cast.clinician, on=on)
    for measure, (left, right) in values.items():
        both_limbs(visit=visit, measure=measure, left=left, right=right)
    if flags is not None:
        RedFlagCheck.objects.create(
            visit=visit, form="eight", answers=flags, recorded_at=MOMENT,
            recorded_by=cast.clinician,
        )  # fmt: skip


def test_each_count_has_its_denominator_and_not_recorded_is_said(harbour):
    measured(harbour, operated(harbour, "Petra Solvang"), quadriceps_torque=(100, 91),
           flags={"giving_way": False})  # fmt: skip
    measured(harbour, operated(harbour, "Jules Tamm"), quadriceps_torque=(100, 90))
    gave = operated(harbour, "Noor Castellan", goal="no_sport")
    EventFactory(episode=gave)
    EventFactory(episode=gave, event="infection", detail="joint")
    said = words_of(signed_in(harbour.lead).get(PAGE))
    assert "3 episodes counted." in said
    for line in (
        "No giving way 1 of 3 yes 1 of 3 no 1 of 3 not recorded",
        "Return to sport 2 of 2 not recorded 1 with no sport as the goal",
        "Quadriceps over 90 % of the other side 1 of 3 yes 1 of 3 no 1 of 3 not recorded",
        "Hamstrings over 90 % of the other side 3 of 3 not recorded",
        "Infection 1 of 3 on record 2 of 3 none on record",
        "Clot 3 of 3 none on record",
    ):
        assert line in said, line
    for once in ("Svantesson 2020", "Lynch 2015", "this clinic's setting"):
        assert said.count(once) == 1, once


def test_a_count_opens_the_patients_behind_it_by_codes(harbour):
    operated(harbour, "Jules Tamm")
    petra = operated(harbour, "Petra Solvang")
    measured(harbour, petra, quadriceps_torque=(100, "90.4"))
    client = signed_in(harbour.lead)
    client.get(PAGE)
    answer = client.get(f"{PAGE}?line=quadriceps&answer=yes")
    assert cells(answer)[0] == ["Petra Solvang", "right", "week 15", "yes, 91 % , 25 Nov 2026"]
    assert f'href="/patients/{petra.patient.uid}/"' in answer.content.decode()
    assert seen()[-1] == [petra.pk]
    assert "Solvang" not in words_of(client.get(f"{PAGE}?line=quadriceps&answer=no"))
    assert "Nobody." in words_of(client.get(f"{PAGE}?line=quadriceps&answer=no"))
    for wrong in ("line=nothing&answer=yes", "line=quadriceps&answer=nothing"):
        answer = client.get(f"{PAGE}?{wrong}")
        assert (answer.status_code, "Solvang" in words_of(answer)) == (200, False)


def test_an_injury_registered_as_an_episode_of_its_own_counts_without_an_event(harbour):
    first = operated(harbour, "Liv Tornquist", care_state="discharged", care_reason="rupture",
                     injury_date=date(2026, 6, 1))  # fmt: skip
    for knee, kind, day in ((first.knee, "revision", 1), ("left", "waiting", 3)):
        EpisodeFactory(patient=first.patient, site=harbour.harbour, knee=knee, kind=kind,
                       injury_date=date(2026, 11, day))  # fmt: skip
    before = operated(harbour, "Petra Solvang", injury_date=date(2026, 6, 1))
    EpisodeFactory(
        patient=before.patient, site=harbour.harbour, knee="left", injury_date=date(2019, 5, 1)
    )
    said = words_of(signed_in(harbour.lead).get(PAGE))
    assert "Graft rupture 1 of 5 on record 4 of 5 none on record" in said
    assert "ACL injury of the other knee 3 of 5 on record 2 of 5 none on record" in said


def test_the_ended_are_counted_unless_a_care_state_is_asked_for(harbour):
    gone = operated(harbour, "Gone", care_state="discharged", care_reason="rupture")
    EventFactory(episode=gone, event="graft_rupture")
    operated(harbour, "Near")
    client = signed_in(harbour.lead)
    assert "Graft rupture 1 of 2 on record 1 of 2 none on record" in words_of(client.get(PAGE))
    followed = words_of(client.get(f"{PAGE}?care=followed"))
    assert "Graft rupture 1 of 1 none on record" in followed
    assert client.get(f"{PAGE}?care=nothing").status_code == 422


def test_the_filters_are_those_of_the_caseload(harbour):
    operated(harbour, "Near")
    far = operated(harbour, "Far")
    care.Surgery.objects.filter(episode=far).update(graft="allograft", graft_from="donor")
    client = signed_in(harbour.lead)
    assert "1 episode counted." in words_of(client.get(f"{PAGE}?graft=allograft"))
    link = f"{PAGE}?care=all&amp;graft=allograft&amp;line=clot&amp;answer=none#behind"
    page = client.get(f"{PAGE}?graft=allograft").content.decode()
    assert link in page or link.replace("care=all&amp;graft=allograft",
                                        "graft=allograft&amp;care=all") in page  # fmt: skip


def test_only_ones_own_sites_are_counted(harbour):
    operated(harbour, "Near")
    assert "1 episode counted." in words_of(signed_in(harbour.clinician).get(PAGE))
    assert "0 episodes counted." in words_of(signed_in(harbour.outsider).get(PAGE))
    assert signed_in(harbour.desk).get(PAGE).status_code == 403


@pytest.mark.parametrize("number", [1, 3])
def test_the_page_costs_the_same_for_one_row_and_for_three(harbour, number):
    for row in range(number):
        episode = operated(harbour, f"Row {row}")
        measured(harbour, episode, quadriceps_torque=(100, 91), flags={"giving_way": False})
        EventFactory(episode=episode, date=TODAY - timedelta(days=row))
    client = signed_in(harbour.lead)
    client.get(PAGE)
    with CaptureQueriesContext(connection) as asked:
        client.get(f"{PAGE}?line=no_giving_way&answer=no")
    assert len(asked) == 16


def test_the_six_of_a_patient_open_from_the_patient_page(cast):
    measured(cast, cast.episode, quadriceps_torque=(158, 121), effusion=(None, 1),
           flags={"giving_way": False})  # fmt: skip
    EventFactory(
        episode=cast.episode, event="return_to_training", limb="none", date=date(2026, 11, 20)
    )
    client = signed_in(cast.clinician)
    address = f"/episodes/{cast.episode.uid}/outcomes"
    assert f'hx-get="{address}"' in client.get(f"/patients/{cast.ines.uid}/").content.decode()
    region = client.get(address, headers={"HX-Request": "true"})
    assert "<html" not in region.content.decode()
    for line in (
        "No giving way Yes 25 Nov 2026",
        "Return to sport On record 20 Nov 2026",
        "Quadriceps over 90 % of the other side No , 77 % 25 Nov 2026",
        "Hamstrings over 90 % of the other side Not recorded",
        "At most mild effusion Yes , trace 25 Nov 2026",
        "A patient-reported outcome Not recorded",
    ):
        assert line in words_of(region), line
