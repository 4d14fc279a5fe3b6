"""What the vendored fonts can print: signs become words, other scripts are spelled."""

import re
from pathlib import Path

import pytest

from outcomes.letters.pdf import FACES, STATIC, font_rules, unprintable
from outcomes.letters.spelling import MISSING, plain, spelled, texts, to_spell
from tests.outcomes.letters.stories import usual


@pytest.mark.parametrize(
    ("typed", "printed"),
    [
        ("flexion ≤ 90°", "flexion at most 90°"),
        ("LSI ≥90 % → hop", "LSI at least 90 % to hop"),
        ("Zoe\u0308 Nguye\u0302\u0303n", "Zoë Nguyễn"),
    ],
)
def test_signs_become_words_and_letters_are_composed(typed, printed):
    assert plain(typed) == printed
    assert unprintable(text=printed) == []


def test_words_that_no_font_has_are_found_one_by_one():
    text = "Ines محمد 王小明 Ελένη ☃? محمد"
    assert to_spell(text=text) == ["محمد", "☃?"]
    assert unprintable(text=text) == [*list("محد"), "☃"]


def test_a_spelling_reaches_every_text_and_what_is_not_spelled_is_marked():
    facts = usual(patient="محمد Marlow", letterhead=("Clinic", "한 Road"), goal="≥ 90")
    printed = spelled(facts, spellings={"محمد": "Mohammed"})
    assert printed.patient == "Mohammed Marlow"
    assert printed.letterhead == ("Clinic", f"{MISSING} Road")
    assert printed.goal == "at least 90"
    assert (printed.rows, printed.trend, printed.on) == (facts.rows, facts.trend, facts.on)
    assert unprintable(text="\n".join(texts(printed))) == []


def test_only_the_faces_that_a_text_needs_are_named():
    def families(text):
        return re.findall(r'font-family: "(.*?)"', font_rules(text=text))

    assert families("Ines") == ["Ledger"]
    assert families("Erdoğan Ελένη") == ["Ledger", "Ledger Ext", "Ledger Wide", "Ledger Wide"]
    assert families("王小明") == ["Ledger", "Ledger Han"]


def test_the_families_are_those_of_the_screens_in_their_order():
    screens = (STATIC / "css" / "fonts.css").read_text(encoding="utf-8")
    named = re.findall(r'font-family: "(.*?)";\s*src: url\("\.\./(.*?)"\)', screens)
    assert named == [(face.family, f"vendor/fonts/{face.file}") for face in FACES]
    letter = (STATIC / "css" / "letter.css").read_text(encoding="utf-8")
    order = ", ".join(f'"{name}"' for name in dict.fromkeys(face.family for face in FACES))
    assert set(re.findall(r"font-family: (.*?);", letter)) == {order}
    assert Path(STATIC / "draft.svg").read_text(encoding="utf-8").count("<text") == 1
