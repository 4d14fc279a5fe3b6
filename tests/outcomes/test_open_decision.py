"""Who decides, and what lists cannot tell, stand with every list of criteria."""

import csv
import io
import re
from dataclasses import replace

import pytest

from outcomes.core.values import Mark
from outcomes.letters.content import drafted, letter_content
from outcomes.letters.printing import Sheet, html_of
from outcomes.models.record import Decision
from outcomes.queries.honest import HONEST
from outcomes.queries.opened import MARK
from outcomes.services import status
from tests.outcomes.letters.stories import ENVELOPE, usual
from tests.outcomes.story import week_15
from tests.outcomes.test_decisions import address, form, post
from tests.web import signed_in, words_of

SENTENCE = "Decision open: physiotherapist with surgeon and patient."
MET = "recorded as met"


def pages(cast) -> dict[str, str]:
    """Every page that lists criteria or counts them."""
    knee = f"/episodes/{cast.episode.uid}"
    return {
        "patient": f"/patients/{cast.ines.uid}/",
        "milestone": f"{knee}/milestones/running",
        "decision": f"{knee}/decisions?milestone=running",
        "published sets": f"{knee}/published-sets",
        "caseload": "/caseload/",
    }


@pytest.fixture
def at_15(cast):
    week_15(cast)
    status.rebuild(episode_ids=[cast.episode.pk])
    return cast


def test_no_list_of_criteria_stands_without_it(at_15):
    client = signed_in(at_15.clinician)
    for name, page in pages(at_15).items():
        said = words_of(client.get(page))
        assert (name, MET in said, SENTENCE in said) == (name, True, True)
    file = signed_in(at_15.lead).post("/caseload/export").content.decode("utf-8")
    rows = list(csv.DictReader(io.StringIO(file, newline="")))
    assert [(row["criteria_in_all"], row["decision"]) for row in rows] == [("7", SENTENCE)]


@pytest.mark.parametrize(("decided", "stands"), [("", True), ("Decision recorded today.", False)])
def test_a_letter_says_it_until_a_decision_is_recorded(decided, stands):
    facts = usual()
    facts = replace(facts, ahead=replace(facts.ahead, decision=decided))
    content = letter_content(facts=facts, typed=drafted(facts=facts), envelope=ENVELOPE)
    sheet = Sheet(content=content, facts=facts, paper="A4", to_spell=(), unspelled=())
    html = html_of(sheet=sheet)
    assert (SENTENCE in html) is stands
    assert (decided in html) is True


def test_every_other_milestone_of_the_page_says_open_or_when_it_was_decided(at_15):
    said = words_of(signed_in(at_15.clinician).get(pages(at_15)["patient"]))
    counts = [part[:90] for part in said.split(f" {MET}, ")[2:]]
    assert len(counts) >= 2
    assert [part for part in counts if "Decision open" not in part] == []


def test_a_decision_that_was_taken_back_or_is_not_yet_leaves_it_open(at_15):
    post(at_15, form(at_15, "running", course="not_yet", recheck_on=""))
    said = words_of(signed_in(at_15.clinician).get(address(at_15)))
    assert said.count(SENTENCE) == 1
    post(
        at_15,
        form(at_15, "running", why_unmet="run-walk on grass", risk_discussed="swelling"),
    )
    said = words_of(signed_in(at_15.clinician).get(address(at_15)))
    assert said.count(SENTENCE) == 1


def test_a_decision_names_what_was_not_recorded_as_met(at_15):
    told = {"why_unmet": "run-walk on grass", "risk_discussed": "swelling, new injury"}
    post(at_15, form(at_15, "running", **told))
    evidence = Decision.objects.get().evidence
    missing = [
        one for one in evidence["results"] if one["hard"] and one["result"].startswith("not_")
    ]
    said = words_of(signed_in(at_15.clinician).get(address(at_15)))
    listed = said.partition("Not recorded as met then: ")[2].partition(" Why it goes ahead:")[0]
    assert len(missing) == 2
    assert [one for one in missing if one["sentence"].rstrip(".") not in listed] == []
    post(at_15, form(at_15))
    said = words_of(signed_in(at_15.clinician).get(address(at_15)))
    assert said.count("Not recorded as met then:") == 1


def test_what_lists_cannot_tell_is_one_tap_away(at_15):
    client = signed_in(at_15.clinician)
    for name in ("patient", "milestone", "decision"):
        response = client.get(pages(at_15)[name])
        (folded,) = re.findall(
            r'<details class="honest"><summary>.*?</details>', response.content.decode(), re.S
        )
        assert folded.count("<li>") == len(HONEST) == 7
        for one in HONEST:
            assert one.text in words_of(response).replace("\u00a0", " ")
    assert words_of(client.get(address(at_15))).count("What such a list cannot tell") == 1


def test_each_of_them_names_its_source_with_its_mark():
    lines = [one.line for one in HONEST]
    assert [line for line in lines if not any(f": {word}" in line for word in MARK.values())] == []
    assert lines[1].endswith(
        "(p = 0.075). Grindem 2016: read in the source (doi 10.1136/bjsports-2016-096031)."
    )
    assert {one.source.mark for one in HONEST} == {Mark.SEEN, Mark.MEMORY}
