"""The PDF of a letter: PDF/UA-1, one page, our fonts only, and nobody else's data.

PDF/UA-1 is ISO 14289-1; its machine checks (Matterhorn protocol) are done by page-validation, and
what it does not look at is read from the file. A person still has to judge reading order and sense.
"""

import re
import subprocess
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import page as validator
import pikepdf
import pytest

from outcomes.letters.content import drafted, letter_content
from outcomes.letters.facts import LetterFacts
from outcomes.letters.pdf import FACES, render
from outcomes.letters.printing import Sheet, html_of
from tests.outcomes.letters.stories import ENVELOPE, QUADRICEPS, usual


def finished(facts: LetterFacts, *, paper: str = "A4", signed: bool = True) -> str:
    """A letter of these facts as the HTML that is printed."""
    envelope = replace(ENVELOPE, signed=signed)
    content = letter_content(facts=facts, typed=drafted(facts=facts), envelope=envelope)
    sheet = Sheet(content=content, facts=facts, paper=paper, to_spell=(), unspelled=())
    return html_of(sheet=sheet)


def printed(facts: LetterFacts, **given: Any) -> bytes:
    """A letter of these facts as a PDF."""
    return render(html=finished(facts, **given))


def full(rows: int, criteria: int) -> LetterFacts:
    """Ines with so many measures and criteria; the further measures are like the last one."""
    facts = usual()
    more = (replace(QUADRICEPS, code=f"own_{n}") for n in range(rows - len(facts.rows)))
    lines = facts.ahead.lines * criteria
    return usual(rows=(*facts.rows, *more), ahead=replace(facts.ahead, lines=lines))


def kept(folder: Path, content: bytes) -> Path:
    path = folder / "letter.pdf"
    path.write_bytes(content)
    return path


def words_on_pages(path: Path) -> list[str]:
    text = subprocess.run(["pdftotext", path, "-"], capture_output=True, text=True, check=True)
    return [" ".join(one.split()) for one in text.stdout.split("\f")[:-1]]


def findings(path: Path) -> list[str]:
    report = validator.validate_pdf(str(path), profile=validator.ValidationProfile.PDF_UA_1)
    return [] if report.is_compliant else [str(one) for one in report.failures]


def structure(pdf: pikepdf.Pdf) -> list[Any]:
    """Every element of the structure tree, in reading order."""

    def below(node: Any) -> list[Any]:
        children = node.get("/K", [])
        found = [node] if "/S" in node else []
        for child in children if isinstance(children, pikepdf.Array) else [children]:
            if isinstance(child, pikepdf.Dictionary) and "/S" in child:
                found += below(child)
        return found

    return below(pdf.Root.StructTreeRoot)


def families(pdf: pikepdf.Pdf) -> set[str]:
    """The families of all embedded fonts; raises for one that is not embedded."""
    found = set()
    for one in pdf.objects:
        if isinstance(one, pikepdf.Dictionary) and one.get("/Type") == "/FontDescriptor":
            assert "/FontFile2" in one or "/FontFile3" in one
            name = str(one.FontName)[1:].partition("+")[2]
            found.add(name.removesuffix("-Bold").replace("-", " "))
    return found


def short(**changes: Any) -> LetterFacts:
    """A letter without drawings and tables, where only its words matter."""
    return usual(rows=(), trend=None, **changes)


@pytest.fixture(scope="module")
def two_pages(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A signed letter that needs a second page."""
    return kept(tmp_path_factory.mktemp("two"), printed(full(26, 1)))


@pytest.mark.parametrize(("paper", "width", "height"), [("A4", 210, 297), ("Letter", 215.9, 279.4)])
def test_a_usual_letter_is_one_page_of_tagged_pdf(tmp_path, paper, width, height):
    path = kept(tmp_path, printed(full(9, 7), paper=paper))
    assert findings(path) == []
    with pikepdf.open(path) as pdf:
        assert len(pdf.pages) == 1
        box = [float(side) / 72 * 25.4 for side in pdf.pages[0].MediaBox]
        assert box == pytest.approx([0, 0, width, height], abs=0.1)
        root = pdf.Root
        assert root.MarkInfo.Marked
        assert str(root.Lang) == "en"
        assert root.ViewerPreferences.DisplayDocTitle
        assert pdf.docinfo["/Title"] == "Letter about Ines Marlow, record H-0412, 25 Nov 2026"
        assert "/JavaScript" not in root.get("/Names", {})
        assert not pdf.is_encrypted
        assert families(pdf) == {"Ledger"}
        _check_structure(structure(pdf))


def _check_structure(tree: list[Any]) -> None:
    names = [str(node.S)[1:] for node in tree]
    levels = [int(name[1]) for name in names if re.fullmatch(r"H\d", name)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(later - before <= 1 for before, later in pairwise(levels))
    alts = [str(node.get("/Alt", "")) for node in tree if str(node.S) == "/Figure"]
    assert alts == [
        "Limb against limb: quadriceps and extension",
        *["Recorded as met, borderline"] * 7,
        "Quadriceps symmetry rises 17 points in 9 weeks",
    ]
    cells = [node for node in tree if str(node.S) == "/TD"]
    assert len(cells) == 9 * 4 + 7 * 2
    assert all(_headers(cell) for cell in cells)
    assert names.count("Table") == 2


def _headers(cell: Any) -> list[Any]:
    attributes = cell.get("/A", [])
    rows = attributes if isinstance(attributes, pikepdf.Array) else [attributes]
    return [one.Headers for one in rows if "/Headers" in one]


def test_the_left_limb_is_the_left_column_of_the_table():
    html = finished(usual())
    table = html.partition('<table class="letter-status">')[2].partition("</table>")[0]
    rows = [
        [
            " ".join(re.sub(r"<[^>]+>", " ", cell).split())
            for cell in re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row, flags=re.S)
        ]
        for row in table.split("<tr>")[1:]
    ]
    assert rows == [
        ["Measure and method", "Left, other side", "Right, operated", "Symmetry",
         "Before, and change"],
        ["Extension", "straight", "lacks 1°", "1° short of the other side, error about 3°",
         "lacks 2° (4 Nov): 1° more extension: no real change"],
        ["Quadriceps, N·m fixed dynamometer, knee angle 90°", "158.0 2.53 N·m/kg",
         "121.0 1.94 N·m/kg", "LSI 77 %, error about 7 points",
         "109.0 N·m, LSI 70 % (4 Nov): up 7: no real change"],
    ]  # fmt: skip


def test_each_page_names_the_patient_and_the_numbers_are_there(two_pages):
    pages = words_on_pages(two_pages)
    assert len(pages) == 2
    for number, words in enumerate(pages, 1):
        assert "Ines Marlow, record H-0412, letter 1a2b3c4d" in words
        assert f"page {number} of 2" in words
    for found in ("158.0", "121.0", "LSI 77 %", "109.0 N·m, LSI 70 % (4 Nov)", "1.94 N·m/kg"):
        assert found in pages[0]
    assert "draft" not in " ".join(pages).lower()


def test_a_draft_says_so_in_words_and_across_each_page(tmp_path, two_pages):
    path = kept(tmp_path, printed(full(26, 1), signed=False))
    assert findings(path) == []
    assert "Draft, not signed" in words_on_pages(path)[0]
    assert [count > 1000 for count in _pale_on_pages(path)] == [True, True]
    assert _pale_on_pages(two_pages) == [0, 0]


def _pale_on_pages(path: Path) -> list[int]:
    """On each page, how many dots have the colour of the word across a draft."""
    command = ["pdftoppm", "-r", "40", str(path), str(path.with_suffix(""))]
    subprocess.run(command, check=True)
    pages = sorted(path.parent.glob("letter-*.ppm"))
    dots = [re.findall(rb"(?s)...", page.read_bytes().split(b"\n", 3)[3]) for page in pages]
    return [page.count(bytes.fromhex("EDE9E0")) for page in dots]


@pytest.mark.parametrize(
    ("name", "fonts"),
    [
        ("Zoë Łukasiewicz-Őry", {"Ledger", "Ledger Ext"}),
        ("Ελένη Δρακάκη", {"Ledger", "Ledger Wide"}),
        ("Nguyễn Thu Hà", {"Ledger", "Ledger Wide"}),
        ("王小明", {"Ledger", "Ledger Han"}),
    ],
)
def test_names_of_other_scripts_are_printed_with_our_fonts(tmp_path, name, fonts):
    path = kept(tmp_path, printed(short(patient=name)))
    assert findings(path) == []
    with pikepdf.open(path) as pdf:
        assert families(pdf) == fonts
        assert fonts <= {face.family for face in FACES}
    assert f"{name}, record H-0412" in words_on_pages(path)[0]


def test_ten_letters_at_once_hold_only_their_own_patient(tmp_path):
    marks = [f"H-{number:04d}" for number in range(1000, 1010)]

    def one(mark: str) -> str:
        folder = tmp_path / mark
        folder.mkdir()
        facts = short(patient=f"Person {mark}", number=mark)
        return " ".join(words_on_pages(kept(folder, printed(facts))))

    with ThreadPoolExecutor(max_workers=10) as threads:
        said = list(threads.map(one, marks))
    assert [set(re.findall(r"H-\d{4}", text)) for text in said] == [{mark} for mark in marks]


def test_nothing_is_fetched_from_elsewhere():
    from weasyprint.urls import FatalURLFetchingError

    with pytest.raises(FatalURLFetchingError, match="not a file of ours"):
        render(html='<img src="https://example.org/a.png" alt="">')
    with pytest.raises(FatalURLFetchingError, match="not a file of ours"):
        render(html='<link rel="stylesheet" href="../manage.py">')
