"""A scene as SVG at true scale: one millimetre of wood is one millimetre of drawing."""

from base64 import b64encode
from collections.abc import Sequence
from xml.sax.saxutils import escape, quoteattr

import cv2
import numpy as np
from numpy.typing import NDArray

from layout.outline import Point
from ui.drawing.fonts import BASELINE
from ui.drawing.scene import Ground, Scene, Shape, Words

__all__ = ["jpeg_bytes", "scene_svg"]

_QUALITY = 88


def scene_svg(scene: Scene, title: str) -> str:
    """The scene as SVG text; layers become groups, their name the class with hyphens for spaces."""
    x0, y0, x1, y1 = scene.extent
    wide, high = x1 - x0, y1 - y0
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_n(wide)}mm" height="{_n(high)}mm" '
        f'viewBox="{_n(x0)} {_n(y0)} {_n(wide)} {_n(high)}" '
        "font-family=\"'Bitstream Vera Sans','DejaVu Sans',Verdana,sans-serif\">",
        f"<title>{escape(title)}</title>",
        f'<rect x="{_n(x0)}" y="{_n(y0)}" width="{_n(wide)}" height="{_n(high)}" fill="#ffffff"/>',
    ]
    open_layer = None
    for item in scene.items:
        if item.layer != open_layer:
            if open_layer is not None:
                lines.append("</g>")
            lines.append(f"<g class={quoteattr(item.layer.replace(' ', '-'))}>")
            open_layer = item.layer
        lines.append(_element(item))
    if open_layer is not None:
        lines.append("</g>")
    lines.append("</svg>")
    return "\n".join(lines) + "\n"


def _element(item: Ground | Shape | Words) -> str:
    if isinstance(item, Ground):
        return _picture(item)
    return _path(item) if isinstance(item, Shape) else _words(item)


def _picture(item: Ground) -> str:
    x0, y0, x1, y1 = item.box
    data = b64encode(jpeg_bytes(item.rgb)).decode("ascii")
    return (
        f'<image x="{_n(x0)}" y="{_n(y0)}" width="{_n(x1 - x0)}" height="{_n(y1 - y0)}" '
        f'preserveAspectRatio="none" href="data:image/jpeg;base64,{data}"/>'
    )


def _path(item: Shape) -> str:
    style = f'fill="{item.fill}"' if item.fill else 'fill="none"'
    if item.fill and item.opacity < 1:
        style += f' fill-opacity="{_n(item.opacity)}"'
    if item.pen:
        style += f' stroke="{item.pen.colour}" stroke-width="{_n(item.pen.width)}" stroke-linejoin="round"'
        if item.pen.dash:
            style += f' stroke-dasharray="{" ".join(_n(each) for each in item.pen.dash)}"'
    if item.holes:
        style += ' fill-rule="evenodd"'
    steps = _steps(item.points) + ("Z" if item.closed else "")
    steps += "".join(_steps(hole) + "Z" for hole in item.holes)
    return f'<path d="{steps}" {style}/>'


def _steps(points: Sequence[Point]) -> str:
    return "M" + "L".join(f"{_n(x)} {_n(y)}" for x, y in points)


def _words(item: Words) -> str:
    weight = ' font-weight="bold"' if item.bold else ""
    down = BASELINE * item.size
    x, y = (item.x + down, item.y) if item.upwards else (item.x, item.y + down)
    turn = f' transform="rotate(-90 {_n(x)} {_n(y)})"' if item.upwards else ""
    return (
        f'<text x="{_n(x)}" y="{_n(y)}" font-size="{_n(item.size)}" fill="{item.colour}" '
        f'text-anchor="{item.anchor}"{weight}{turn}>{escape(item.text)}</text>'
    )


def jpeg_bytes(rgb: NDArray[np.uint8]) -> bytes:
    """A picture as JPEG; the same pixels always give the same bytes."""
    fine, data = cv2.imencode(
        ".jpg", cv2.cvtColor(rgb, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, _QUALITY]
    )
    if not fine:
        raise ValueError(f"a picture of shape {rgb.shape} cannot be written as JPEG; give RGB uint8 rows")
    return bytes(data)


def _n(value: float) -> str:
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("", "-0") else text
