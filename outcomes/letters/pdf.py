"""HTML to a tagged PDF (PDF/UA-1): the only module that imports the PDF library."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Final
from urllib.parse import unquote, urlparse

STATIC: Final = Path(__file__).resolve().parent.parent.parent / "static"
FONTS: Final = "vendor/fonts"


@dataclass(frozen=True, slots=True)
class Face:
    """One vendored font file under a family name of its own.

    ``weight`` is a descriptor, and empty for a file that draws every weight: given one, the
    library would embed a bold whose widths disagree with its glyphs.
    """

    family: str
    file: str
    weight: str = ""


FACES: Final = (
    Face("Ledger", "atkinson-hyperlegible-next-latin-wght-normal.woff2"),
    Face("Ledger Ext", "atkinson-hyperlegible-next-latin-ext-wght-normal.woff2"),
    Face("Ledger Wide", "noto-sans.woff2", "font-weight: 400"),
    Face("Ledger Wide", "noto-sans-bold.woff2", "font-weight: 700"),
    Face("Ledger Han", "droid-sans-fallback.woff2"),
)
"""The families of fonts.css in their order: what none of them has cannot be printed."""


class LettersOff(Exception):
    """The PDF library's native packages are missing; the message says what to install."""


def render(*, html: str) -> bytes:
    """Render finished HTML to the bytes of a PDF/UA-1 document.

    Relative addresses are files below ``static/``; nothing is fetched from anywhere else.
    Raises ``LettersOff`` where the native libraries are missing.
    """
    library = _library()
    document = library.HTML(string=html, base_url=STATIC.as_uri() + "/", url_fetcher=_fetcher())
    pdf: bytes = document.write_pdf(pdf_variant="pdf/ua-1")
    return pdf


def off() -> str:
    """What to install where letters cannot be made; empty where they can."""
    try:
        _library()
    except LettersOff as missing:
        return str(missing)
    return ""


def unprintable(*, text: str) -> list[str]:
    """The characters that no vendored face has, each once, in order of appearance."""
    return [c for c in dict.fromkeys(text) if c not in " \n" and _family(c) is None]


def font_rules(*, text: str) -> str:
    """The style rules of just those faces that a text needs, so that few files are read.

    A font that is not named here is never looked for: every glyph of a letter is ours.
    """
    families = {_family(char) for char in set(text)} | {FACES[0].family}
    return "\n".join(
        f'@font-face {{ font-family: "{face.family}"; '
        f'src: url("{FONTS}/{face.file}") format("woff2"); {face.weight} }}'
        for face in FACES
        if face.family in families
    )


@cache
def _family(char: str) -> str | None:
    """The first family that has the character."""
    return next((face.family for face in FACES if ord(char) in _glyphs(face.file)), None)


def _library() -> Any:
    try:
        import weasyprint
    except OSError as error:
        raise LettersOff(
            "Letters are off: the PDF library needs Pango. "
            "On Debian install libpango-1.0-0 and libpangoft2-1.0-0, then restart."
        ) from error
    return weasyprint


def _fetcher() -> Any:
    """A fetcher that knows files below ``static/`` and data in the page itself, nothing else."""
    from weasyprint.urls import FatalURLFetchingError, URLFetcher

    class OwnFilesOnly(URLFetcher):  # type: ignore[misc]
        """Refuse everything that is not ours, and stop the rendering."""

        def fetch(self, url: str, headers: Any = None) -> Any:
            """One of our own files, or data."""
            place = urlparse(url)
            own = Path(unquote(place.path)).resolve().is_relative_to(STATIC)
            if place.scheme != "data" and not (place.scheme == "file" and own):
                raise FatalURLFetchingError(f"not a file of ours: {url}")
            return super().fetch(url, headers)

    return OwnFilesOnly()


@cache
def _glyphs(file: str) -> frozenset[int]:
    from fontTools.ttLib import TTFont

    with TTFont(STATIC / FONTS / file, lazy=True) as font:
        return frozenset(font.getBestCmap())
