"""Every measure goes the whole way: typed, signed, said on the patient page, in letters, drawn."""

import re
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest

from clinic.permissions import Actor
from outcomes.catalogue.order import ORDER
from outcomes.core.derived import all_derived
from outcomes.core.status import StatusToday, judge
from outcomes.core.values import EpisodeFacts, Limb, Reading
from outcomes.letters.rows import status_rows
from outcomes.models.record import Reading as ReadingRow
from outcomes.queries.ledger_lines import ledger_lines
from outcomes.queries.trends import Course, Ground, course_of
from outcomes.services import drafts
from tests.core.builders import PROTOCOL, after, facts, visits
from tests.outcomes.every_measure import CATALOGUE, DERIVED, TYPED, readings_of, texts_of
from tests.outcomes.paper import Paper, open_visit
from tests.outcomes.test_patient_page import get
from tests.web import signed_in

WEEK_30, WEEK_40 = after(weeks=30), after(weeks=40)
RAW = re.compile(r"[{}\[\]_]|\bNone\b|\bDecimal\b")


def cells_of(page) -> list[tuple[str, ...]]:
    """Of each line of the ledger: both cells, or the one value of a measure without limbs."""
    found = []
    for line in re.findall(
        r'<tr[^>]*>\s*<td class="left".*?</tr>', page.content.decode(), flags=re.S
    ):
        cells = re.findall(r'<td class="(?:left|right)">(.*?)</td>', line, flags=re.S)
        whole = re.search(r'<summary><span class="value">(.*?)</span>', line)
        sides = tuple(" ".join(re.sub(r"<[^>]+>", " ", cell).split()) for cell in cells)
        found.append((whole[1],) if whole else sides)
    return found


def test_what_is_typed_in_one_visit_stands_on_the_patient_page(cast):
    visit = open_visit(cast)
    actor = Actor(staff_id=cast.clinician.pk, site_id=cast.harbour.pk, request_id=uuid4())
    texts = {k: v for code, (typed, _) in TYPED.items() for k, v in texts_of(code, typed).items()}
    drafts.save(actor=actor, visit_id=visit.pk, typed=texts, shown={}, sheet="one")
    assert Paper(signed_in(cast.clinician), visit).sign().status_code == 302
    assert set(ReadingRow.objects.values_list("measure", flat=True)) == set(TYPED)
    said = {code: shown for code, (_, shown) in TYPED.items()} | DERIVED
    assert said.keys() == CATALOGUE.keys()
    assert dict(zip(ORDER, cells_of(get(cast)), strict=True)) == said


def record(code: str) -> list[Reading]:
    """A measure read in weeks 30 and 40, alike; of a derived one what it is made from."""
    derived = CATALOGUE[code].derived
    codes = [code] if derived is None else derived.inputs
    return [
        reading
        for week, on in enumerate((WEEK_30, WEEK_40))
        for one in codes
        for reading in readings_of(one, TYPED[one][0], on=on, ref=100 * week)
    ]


def judged(read: list[Reading], who: EpisodeFacts) -> StatusToday:
    return judge(
        facts=who,
        catalogue=CATALOGUE,
        protocol=PROTOCOL,
        readings=read,
        restrictions=(),
        visits=visits(last_on=WEEK_40),
        red_flags=(),
        on=WEEK_40,
    )


def course(code: str, read: list[Reading], who: EpisodeFacts, status: StatusToday) -> Course:
    made = [d.reading for d in all_derived(catalogue=CATALOGUE, readings=read) if d.reading]
    ground = Ground(
        numbers="/numbers/CODE",
        facts=who,
        readings=[*read, *made],
        measures=CATALOGUE,
        milestones=status.milestones,
        marks={},
        heads={Limb.LEFT: "left, other side", Limb.RIGHT: "right, operated"},
        happened=(),
        on=WEEK_40 + timedelta(days=1),
    )
    found = course_of(ground=ground, code=code)
    assert found is not None
    return found


@pytest.mark.parametrize("code", CATALOGUE)
def test_lines_letters_and_courses_speak_in_words(code):
    read, who = record(code), facts(knee=Limb.RIGHT)
    status = judged(read, who)
    shared: dict[str, Any] = {
        "statuses": status.measures,
        "measures": CATALOGUE,
        "facts": who,
        "on": WEEK_40,
    }
    lines = ledger_lines(**shared, body_mass=None, milestones=status.milestones)
    line = next(one for one in lines if one.code == code)
    assert (line.left.value, line.right.value, line.whole) != ("", "", "")
    drawn = course(code, read, who, status)
    texts = [line.name, line.how, line.opener, line.finding, line.whole, drawn.chart.title]
    texts += [text for _, told in line.opened.parts for text in told]
    for row in status_rows(**shared, lines=lines, cuts={}):
        texts += [row.before, row.change, row.symmetry, row.whole]
    assert [text for text in [*texts, *drawn.notes] if RAW.search(text)] == []
