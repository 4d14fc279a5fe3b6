"""Drawn figures with a known drop: their points as a page would post them, and a still of them."""

from io import BytesIO
from math import cos, radians, sin
from typing import Any
from uuid import uuid4

from django.http import QueryDict
from PIL import Image, ImageDraw

from outcomes.core.angles import MEDIAL
from outcomes.core.kinds import Limb, View
from outcomes.forms.pictures import PictureForm

SIZE = (900, 1200)
APART = {View.FRONT: 240.0, View.BACK: 100.0}
"""One pixel is one millimetre."""
Spot = tuple[float, float]


def figure(*, drop: float, tilt: float, view: View, limb: Limb) -> dict[str, Spot]:
    """The points of someone on one leg; ``tilt`` is how far the camera was turned, in degrees."""
    side, half = MEDIAL[view, limb], APART[view] / 2
    lean = radians(drop)
    upright = {
        "stance": (-side * half * cos(lean), -half * sin(lean)),
        "swing": (side * half * cos(lean), half * sin(lean)),
        "hip": (-side * 95.0, 90.0),
        "knee": (-side * 60.0, 330.0),
        "ankle": (-side * 80.0, 600.0),
        "level_a": (-400.0, -120.0),
        "level_b": (400.0, -120.0),
    }
    a = radians(tilt)
    return {
        name: (450 + x * cos(a) - y * sin(a), 450 + x * sin(a) + y * cos(a))
        for name, (x, y) in upright.items()
    }


def posted(spots: dict[str, Spot], *, view: View, **more: Any) -> dict[str, str]:
    """What the page sends; points to a tenth of a pixel, as its script writes them."""
    return {
        "key": str(uuid4()),
        "view": view.value,
        "width": str(SIZE[0]),
        "height": str(SIZE[1]),
        "per_pixel": "1",
        **{name: f"{x:.1f},{y:.1f}" for name, (x, y) in spots.items()},
        **more,
    }


def read(sent: dict[str, str], *, limb: Limb) -> PictureForm:
    """The form that the page's echo makes of it."""
    data = QueryDict(mutable=True)
    data.update(sent)
    return PictureForm(data, limb=limb)


def still(spots: dict[str, Spot], *, kind: str = "PNG", **options: Any) -> bytes:
    """A drawing of the figure as a file of this kind."""
    image = Image.new("RGB", SIZE, "#e9e3d6")
    pen = ImageDraw.Draw(image)
    pen.line([spots["stance"], spots["swing"]], fill="#1e2328", width=3)
    pen.line([spots["hip"], spots["knee"], spots["ankle"]], fill="#1e2328", width=3)
    pen.line([spots["level_a"], spots["level_b"]], fill="#857d6d", width=2)
    for x, y in spots.values():
        pen.ellipse([x - 5, y - 5, x + 5, y + 5], fill="#d55e00")
    kept = BytesIO()
    image.save(kept, kind, **options)
    return kept.getvalue()
