"""HTML to a tagged PDF (PDF/UA-1): the only module that imports the PDF library."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any, Final
from urllib.parse import unquote, urlparse

STATIC: Final = Path(__file__).resolve().parent.parent.parent / "static"
FONTS: Final = STATIC / "vendor" / "fonts"
FACES: Final = (
    "atkinson-hyperlegible-next-latin-wght-normal.woff2",
    "atkinson-hyperlegible-next-latin-ext-wght-normal.woff2",
    "noto-sans.woff2",
    "droid-sans-fallback.woff2",
)
"""The faces that letter.css names, in order: what none of them has cannot be printed."""


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


def available() -> bool:
    """Whether letters can be made on this machine."""
    try:
        _library()
    except LettersOff:
        return False
    return True


def unprintable(*, text: str) -> list[str]:
    """The characters that no vendored face has, each once, in order of appearance."""
    known = _glyphs()
    return list(dict.fromkeys(c for c in text if ord(c) not in known and not c.isspace()))


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
def _glyphs() -> frozenset[int]:
    from fontTools.ttLib import TTFont

    found: set[int] = set()
    for face in FACES:
        with TTFont(FONTS / face, lazy=True) as font:
            found |= set(font.getBestCmap())
    return frozenset(found)
