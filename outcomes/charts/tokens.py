"""The design tokens: one table that writes ``static/css/tokens.css`` and colours every drawing.

``python -m outcomes.charts.tokens`` writes the style sheet; a test holds the committed file to
this table and computes every contrast from it.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal

Role = Literal["surface", "text", "mark", "pale", "size"]
"""What a token is for, and so which contrast it must reach against every surface.

``surface``: a page colour. ``text``: words, at least 4.5 to 1. ``mark``: marks, graph strokes and
edges of controls, at least 3 to 1. ``pale``: decoration whose meaning always stands in words as
well. ``size``: a length or a font, no colour.
"""

STYLE_SHEET: Final = Path(__file__).resolve().parents[2] / "static" / "css" / "tokens.css"


@dataclass(frozen=True, slots=True)
class Token:
    """One named value of the look: the CSS custom property ``--name``."""

    name: str
    value: str
    role: Role
    meaning: str


TOKENS: Final[tuple[Token, ...]] = (
    Token("paper", "#FBF8F1", "surface", "the sheet everything lies on"),
    Token("page", "#FFFEFA", "surface", "a page of the ledger, a field, a panel"),
    Token("involved-page", "#FCF1EA", "surface", "the page of the operated or injured limb"),
    Token("ink", "#1E2328", "text", "words, actions, results, symmetry"),
    Token("soft", "#565C63", "text", "second words: dates, units, sources"),
    Token("involved", "#D55E00", "mark", "mark and line of the operated or injured limb"),
    Token("other", "#0072B2", "mark", "mark and line of the other limb"),
    Token("edge", "#857D6D", "mark", "edge of a field or a button, the line for even"),
    Token("hairline", "#DCD4C4", "pale", "line between rows"),
    Token("grid", "#E9E3D6", "pale", "grid line of a chart"),
    Token("wedge", "#E2D6BC", "pale", "measurement error around the beam or a line of symmetry"),
    Token("involved-band", "#F7DCCA", "pale", "measurement error around the involved limb's line"),
    Token("other-band", "#D3E4EF", "pale", "measurement error around the other limb's line"),
    Token(
        "font",
        '"Ledger", "Ledger Ext", "Ledger Wide", "Ledger Han", sans-serif',
        "size",
        "the families of fonts.css, in their order",
    ),
    Token("text", "1.125rem", "size", "running text on a tablet"),
    Token("text-small", "0.9375rem", "size", "second words"),
    Token("text-large", "1.375rem", "size", "heading of a page"),
    Token("number", "1.875rem", "size", "a value being entered"),
    Token("target", "3rem", "size", "least side of anything that is touched (48 px)"),
    Token("gap", "0.5rem", "size", "least distance between two of them (8 px)"),
    Token("space", "1rem", "size", "between parts"),
    Token("space-large", "2rem", "size", "between sections, and the page's side margin"),
    Token("corner", "0.1875rem", "size", "rounding of a field or a button"),
    Token("measure", "38rem", "size", "longest line of running text"),
    Token("wide", "80rem", "size", "widest page"),
)

COLOUR: Final[dict[str, str]] = {
    token.name: token.value for token in TOKENS if token.value.startswith("#")
}
FONT: Final = "Ledger, Ledger Ext, Ledger Wide, sans-serif"
"""The family as an SVG presentation attribute takes it."""


def style_sheet() -> str:
    """Return the text of ``tokens.css``: every token as a custom property with its meaning."""
    lines = [f"  --{token.name}: {token.value}; /* {token.meaning} */" for token in TOKENS]
    head = "/* Written by python -m outcomes.charts.tokens: change the table there. */"
    return "\n".join([head, ":root {", *lines, "}", ""])


def main() -> None:
    """Write the style sheet."""
    STYLE_SHEET.parent.mkdir(parents=True, exist_ok=True)
    STYLE_SHEET.write_text(style_sheet(), encoding="utf-8")


if __name__ == "__main__":
    main()
