"""Two patients open at once, on one tablet: neither page writes into the other's record."""

from decimal import Decimal

from outcomes.models.record import Reading
from tests.factories.clinic import EpisodeFactory, PatientFactory
from tests.outcomes.paper import Paper, open_visit
from tests.web import signed_in


def heading(paper: Paper) -> str:
    html: str = paper.response.content.decode()
    return html.partition("<h1")[2].partition("</h1>")[0]


def test_two_patients_open_at_once_keep_apart(cast):
    petra = PatientFactory(name="Petra Solvang")
    EpisodeFactory(patient=petra, site=cast.harbour, responsible=cast.clinician)
    client = signed_in(cast.clinician)
    mine = Paper(client, open_visit(cast))
    other = Paper(client, open_visit(cast, patient=petra))
    assert ("Ines Marlow" in heading(mine), "Petra Solvang" in heading(mine)) == (True, False)
    assert ("Ines Marlow" in heading(other), "Petra Solvang" in heading(other)) == (False, True)
    mine.type({"v:pain_worst_24h:right": "2"}).save()
    other.type({"v:pain_worst_24h:right": "7"}).save()
    mine.read(client.get(mine.address))
    other.read(client.get(other.address))
    assert [paper.sign().status_code for paper in (mine, other)] == [302, 302]
    kept = Reading.objects.values_list("visit__patient__name", "measure", "limb", "value")
    assert {(name, measure, limb, value) for name, measure, limb, value in kept} == {
        ("Ines Marlow", "pain_worst_24h", "right", Decimal(2)),
        ("Petra Solvang", "pain_worst_24h", "right", Decimal(7)),
    }
