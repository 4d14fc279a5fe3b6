"""Stills from outside, encoded afresh: nothing of the file that came is kept but its pixels."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from hashlib import sha256
from io import BytesIO
from typing import Final

from PIL import Image, ImageOps, UnidentifiedImageError

MOST_BYTES: Final = 8_000_000
MOST_PIXELS: Final = 40_000_000
LONGEST_SIDE: Final = 2400
ENDINGS: Final = {"JPEG": (".jpg", ".jpeg"), "PNG": (".png",), "WEBP": (".webp",)}
TAILS: Final = {"JPEG": b"\xff\xd9", "PNG": b"IEND\xaeB`\x82"}
PAGES: Final = (b"<script", b"<html", b"<!doctype", b"<iframe", b"<?php")
"""Beginnings of what a browser or a server would run; no camera writes them into a picture."""


class StillRefused(ValueError):
    """The file is not taken; the message says what to choose instead."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Still:
    """A picture as it is kept: a JPEG upright, without metadata, with its SHA-256."""

    content: bytes
    width: int
    height: int
    sha256: str


def still_from(*, content: bytes, name: str) -> Still:
    """The still of a file that was sent. ``name`` is looked at for its ending and not kept.

    Bytes and pixels are bounded before anything is decoded. Raises ``StillRefused`` with a
    sentence for what is empty, too large, of another kind than it says, or more than a picture.
    """
    if not content:
        raise StillRefused("The file is empty. Choose the picture again.")
    if len(content) > MOST_BYTES:
        raise StillRefused(
            f"The file is larger than {MOST_BYTES // 1_000_000} MB. Take it smaller."
        )
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            return _encoded(_opened(content, name))
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as bomb:
        raise _too_many_pixels() from bomb
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError) as broken:
        if isinstance(broken, StillRefused):
            raise
        raise StillRefused("This file is not a JPEG, PNG or WebP picture.") from broken


def _opened(content: bytes, name: str) -> Image.Image:
    """The picture with its header read and nothing decoded."""
    image = Image.open(BytesIO(content), formats=list(ENDINGS))
    kind = image.format or ""
    if not name.lower().endswith(ENDINGS[kind]):
        raise StillRefused(f"The name of the file does not end like a {kind} picture.")
    if image.width * image.height > MOST_PIXELS:
        raise _too_many_pixels()
    whole = content.rstrip(b"\0")
    tail = TAILS.get(kind)
    size = 8 + int.from_bytes(content[4:8], "little")
    ended = whole.endswith(tail) if tail else len(content) in (size, size + 1)
    if not ended or any(one in content.lower() for one in PAGES):
        raise StillRefused("The file is cut short or holds more than a picture. Take it again.")
    return image


def _encoded(image: Image.Image) -> Still:
    upright = ImageOps.exif_transpose(image)
    plain = Image.new("RGB", upright.size, "white")
    shown = upright.convert("RGBA")
    plain.paste(shown, mask=shown)
    plain.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    kept = BytesIO()
    plain.save(kept, "JPEG", quality=88)
    content = kept.getvalue()
    return Still(
        content=content,
        width=plain.width,
        height=plain.height,
        sha256=sha256(content).hexdigest(),
    )


def _too_many_pixels() -> StillRefused:
    most = MOST_PIXELS // 1_000_000
    return StillRefused(f"The picture has more than {most} million pixels. Take it smaller.")
