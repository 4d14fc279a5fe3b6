"""The tokens: the committed style sheet, and contrast computed from them.

Relative luminance and contrast ratio as defined by WCAG 2.2 (W3C Recommendation, terms "relative
luminance" and "contrast ratio"); criteria 1.4.3 (text, at least 4.5 to 1) and 1.4.11 (marks,
graph strokes, edges of controls, at least 3 to 1).
"""

import pytest

from outcomes.charts.tokens import STYLE_SHEET, TOKENS, style_sheet


def luminance(colour: str) -> float:
    """Relative luminance of #RRGGBB, 0 to 1 (WCAG 2.2)."""
    shares = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    red, green, blue = (
        share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4 for share in shares
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, 1 to 21 (WCAG 2.2)."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def of_role(role: str) -> list[tuple[str, str]]:
    return [(token.name, token.value) for token in TOKENS if token.role == role]


SURFACES = of_role("surface")


@pytest.mark.parametrize(
    ("colour", "on_white"),
    [
        ("#000000", 21.0), ("#0072B2", 5.19), ("#D55E00", 3.87), ("#009E73", 3.42),
        ("#CC79A7", 3.06), ("#56B4E9", 2.31), ("#E69F00", 2.25), ("#F0E442", 1.32),
    ],
)  # fmt: skip
def test_contrast_of_the_okabe_ito_colours_on_white(colour: str, on_white: float) -> None:
    """The palette is Okabe and Ito's; the ratios were computed on their own for the project's
    reference sheet on standards, section 4.3. Black on white is 21 to 1 in WCAG itself."""
    assert round(contrast(colour, "#FFFFFF"), 2) == on_white


def test_the_surfaces_are_the_three_of_the_design() -> None:
    assert SURFACES == [
        ("paper", "#FBF8F1"), ("page", "#FFFEFA"), ("involved-page", "#FCF1EA"),
    ]  # fmt: skip


@pytest.mark.parametrize("surface", SURFACES, ids=lambda surface: surface[0])
@pytest.mark.parametrize("text", of_role("text"), ids=lambda text: text[0])
def test_words_reach_4_5(text: tuple[str, str], surface: tuple[str, str]) -> None:
    assert contrast(text[1], surface[1]) >= 4.5


@pytest.mark.parametrize("surface", SURFACES, ids=lambda surface: surface[0])
@pytest.mark.parametrize("mark", of_role("mark"), ids=lambda mark: mark[0])
def test_marks_reach_3(mark: tuple[str, str], surface: tuple[str, str]) -> None:
    assert contrast(mark[1], surface[1]) >= 3.0


def test_light_words_on_filled_ink_reach_4_5() -> None:
    colours = dict(of_role("surface") + of_role("text"))
    assert contrast(colours["page"], colours["ink"]) >= 4.5


@pytest.mark.parametrize("mark", of_role("mark"), ids=lambda mark: mark[0])
@pytest.mark.parametrize("band", ["wedge", "involved-band", "other-band", "grid", "hairline"])
def test_decoration_is_paler_than_every_mark(mark: tuple[str, str], band: str) -> None:
    colours = dict(of_role("pale"))
    assert luminance(colours[band]) > luminance(mark[1])


def test_the_committed_style_sheet_is_the_one_the_table_writes() -> None:
    assert STYLE_SHEET.read_text(encoding="utf-8") == style_sheet()


def test_names_are_unique() -> None:
    names = [token.name for token in TOKENS]
    assert len(names) == len(set(names))
