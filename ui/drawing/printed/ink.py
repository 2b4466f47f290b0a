"""A scene drawn on a PDF page as vectors, and the typeface registered for it."""

from functools import lru_cache
from io import BytesIO
from typing import Any

import cv2
import numpy as np
from reportlab import rl_config
from reportlab.lib.colors import Color, HexColor
from reportlab.lib.utils import ImageReader
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import Flowable

from ui.drawing.fonts import BASELINE, font_bytes
from ui.drawing.scene import Ground, Pen, Scene, Shape, Words
from ui.drawing.vector import jpeg_bytes

__all__ = ["BOLD", "MM", "PLAIN", "SceneFlowable", "draw_scene", "register_fonts"]

MM = 72 / 25.4  # points
PLAIN, BOLD = "Sheet", "Sheet-Bold"
_DPI = 220  # of a photograph on paper
rl_config.useA85 = 0  # binary streams: a fifth smaller, and a second less for a dozen photographs


def register_fonts() -> None:
    """Make the typeface known to the PDF library; once is enough."""
    if PLAIN not in pdfmetrics.getRegisteredFontNames():
        pdfmetrics.registerFont(TTFont(PLAIN, BytesIO(font_bytes(False))))
        pdfmetrics.registerFont(TTFont(BOLD, BytesIO(font_bytes(True))))
        pdfmetrics.registerFontFamily(PLAIN, normal=PLAIN, bold=BOLD, italic=PLAIN, boldItalic=BOLD)


def draw_scene(canvas: Any, scene: Scene, left: float, top: float, scale: float) -> None:
    """Draw a scene with its upper left corner at (left, top).

    Parameters
    ----------
    canvas : reportlab Canvas
    scene : Scene
    left, top : float
        On the page, from its lower left corner [points].
    scale : float
        Points of paper to a millimetre of wood.
    """
    x0, y0 = scene.extent[0], scene.extent[1]
    canvas.saveState()
    canvas.setLineJoin(1)
    for item in scene.items:
        if isinstance(item, Shape):
            _shape(canvas, item, left - x0 * scale, top + y0 * scale, scale)
        elif isinstance(item, Words):
            _words(canvas, item, left - x0 * scale, top + y0 * scale, scale)
        else:
            _ground(canvas, item, left - x0 * scale, top + y0 * scale, scale)
    canvas.restoreState()


def _shape(canvas: Any, item: Shape, left: float, top: float, scale: float) -> None:
    path = canvas.beginPath()
    for ring in (item.points, *item.holes):
        for rank, (x, y) in enumerate(ring):
            step = path.lineTo if rank else path.moveTo
            step(left + x * scale, top - y * scale)
        if item.closed:
            path.close()
    if item.fill:
        canvas.setFillColor(_colour(item.fill))
        canvas.setFillAlpha(item.opacity)
    if item.pen:
        _take(canvas, item.pen, scale)
    canvas.drawPath(path, stroke=int(item.pen is not None), fill=int(item.fill is not None), fillMode=0)
    if item.fill and item.opacity < 1:
        canvas.setFillAlpha(1)


@lru_cache(maxsize=64)
def _colour(name: str) -> Color:
    return HexColor(name)


def _take(canvas: Any, pen: Pen, scale: float) -> None:
    canvas.setStrokeColor(_colour(pen.colour))
    canvas.setLineWidth(pen.width * scale)
    canvas.setDash([each * scale for each in pen.dash] if pen.dash else [])


def _words(canvas: Any, item: Words, left: float, top: float, scale: float) -> None:
    x, y = left + item.x * scale, top - item.y * scale
    size = item.size * scale
    canvas.setFillColor(_colour(item.colour))
    canvas.setFont(BOLD if item.bold else PLAIN, size)
    write = {"start": canvas.drawString, "middle": canvas.drawCentredString, "end": canvas.drawRightString}
    if not item.upwards:
        write[item.anchor](x, y - BASELINE * size, item.text)
        return
    canvas.saveState()
    canvas.translate(x + BASELINE * size, y)
    canvas.rotate(90)
    write[item.anchor](0, 0, item.text)
    canvas.restoreState()


def _ground(canvas: Any, item: Ground, left: float, top: float, scale: float) -> None:
    x0, y0, x1, y1 = item.box
    wide, high = (x1 - x0) * scale, (y1 - y0) * scale
    most = max(1, round(wide / 72 * _DPI))
    rgb = item.rgb
    if rgb.shape[1] > most:
        size = (most, max(1, round(most * rgb.shape[0] / rgb.shape[1])))
        rgb = cv2.resize(rgb, size, interpolation=cv2.INTER_AREA).astype(np.uint8, copy=False)
    canvas.drawImage(_Jpeg(jpeg_bytes(rgb)), left + x0 * scale, top - y1 * scale, wide, high)


class _Jpeg(ImageReader):  # type: ignore[misc]
    """A JPEG file put into the PDF as it is, and told apart by its bytes instead of its decoded pixels."""

    def __init__(self, data: bytes) -> None:
        super().__init__(BytesIO(data))
        self._file, self._dataA = data, None

    def getRGBData(self) -> bytes:  # noqa: N802
        return self._file


class SceneFlowable(Flowable):  # type: ignore[misc]
    """A scene in the run of a page, as wide as the column, or as high as it may be."""

    def __init__(self, scene: Scene, most_high: float) -> None:
        super().__init__()
        self.scene, self.most_high = scene, most_high
        self.scale = 1.0

    def wrap(self, wide: float, high: float) -> tuple[float, float]:
        x0, y0, x1, y1 = self.scene.extent
        self.scale = min(wide / (x1 - x0), min(self.most_high, high) / (y1 - y0))
        self.width, self.height = (x1 - x0) * self.scale, (y1 - y0) * self.scale
        return self.width, self.height

    def draw(self) -> None:
        draw_scene(self.canv, self.scene, 0.0, self.height, self.scale)
