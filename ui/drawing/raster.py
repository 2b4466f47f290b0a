"""A scene as an array of pixels."""

from functools import lru_cache
from math import ceil

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from ui.drawing.fonts import BASELINE, picture_font
from ui.drawing.scene import Ground, Scene, Shape, Words, dashed

__all__ = ["scene_pixels"]

_SHIFT = 4  # OpenCV draws at a sixteenth of a pixel
_Picture = NDArray[np.uint8]


def scene_pixels(scene: Scene, px_per_mm: float) -> _Picture:
    """The scene drawn at a scale, RGB uint8 [height, width, 3]; words always on top."""
    x0, y0, x1, y1 = scene.extent
    wide, high = max(1, ceil((x1 - x0) * px_per_mm)), max(1, ceil((y1 - y0) * px_per_mm))
    picture = np.full((high, wide, 3), 255, dtype=np.uint8)
    for item in scene.items:
        if isinstance(item, Ground):
            _ground(picture, item, (x0, y0), px_per_mm)
        elif isinstance(item, Shape):
            _shape(picture, item, (x0, y0), px_per_mm)
    for words in scene.words():
        _write(picture, words, (x0, y0), px_per_mm)
    return picture


def _ground(picture: _Picture, item: Ground, origin: tuple[float, float], scale: float) -> None:
    left, top = round((item.box[0] - origin[0]) * scale), round((item.box[1] - origin[1]) * scale)
    right, foot = round((item.box[2] - origin[0]) * scale), round((item.box[3] - origin[1]) * scale)
    size = (max(1, right - left), max(1, foot - top))
    smaller = size[0] < item.rgb.shape[1]
    scaled = cv2.resize(item.rgb, size, interpolation=cv2.INTER_AREA if smaller else cv2.INTER_CUBIC)
    part = picture[max(top, 0) : foot, max(left, 0) : right]
    part[:] = scaled[max(-top, 0) :, max(-left, 0) :][: part.shape[0], : part.shape[1]]


def _points_px(points: object, origin: tuple[float, float], scale: float) -> NDArray[np.float64]:
    # OpenCV's whole numbers are pixel middles: half a pixel back from the pixel's corner
    return (np.asarray(points, dtype=np.float64) - origin) * scale - 0.5


def _shape(picture: _Picture, item: Shape, origin: tuple[float, float], scale: float) -> None:
    at = _points_px(item.points, origin, scale)
    if item.fill is not None:
        rings = [at, *(_points_px(hole, origin, scale) for hole in item.holes)]
        _fill(picture, rings, _rgb(item.fill), item.opacity)
    if item.pen is not None:
        thick, colour = max(1, round(item.pen.width * scale)), _rgb(item.pen.colour)
        if item.pen.dash:
            ring = [*item.points, item.points[0]] if item.closed else list(item.points)
            lines, closed = _points_px(dashed(ring, item.pen.dash), origin, scale), False
        else:
            lines, closed = at[None], item.closed
        whole = np.rint(lines * 2**_SHIFT).astype(np.int32)
        cv2.polylines(picture, list(whole), closed, colour, thick, cv2.LINE_AA, _SHIFT)


def _fill(
    picture: _Picture, rings: list[NDArray[np.float64]], colour: tuple[int, int, int], opacity: float
) -> None:
    whole = [np.rint(ring * 2**_SHIFT).astype(np.int32) for ring in rings]
    if opacity >= 1.0:
        cv2.fillPoly(picture, whole, colour, cv2.LINE_AA, _SHIFT)
        return
    high, wide = picture.shape[:2]
    left, top = np.clip(np.floor(rings[0].min(axis=0)).astype(int) - 1, 0, (wide, high))
    right, foot = np.clip(np.ceil(rings[0].max(axis=0)).astype(int) + 2, 0, (wide, high))
    part = picture[top:foot, left:right]
    if part.size == 0:
        return
    over, corner = part.copy(), np.array([left, top], dtype=np.int32) * 2**_SHIFT
    cv2.fillPoly(over, [ring - corner for ring in whole], colour, cv2.LINE_AA, _SHIFT)
    part[:] = cv2.addWeighted(over, opacity, part, 1 - opacity, 0)


def _write(picture: _Picture, words: Words, origin: tuple[float, float], scale: float) -> None:
    """Blend a line of words in, through a mask of its own size."""
    size = max(1, round(words.size * scale))
    mask = _mask(words.text, size, words.bold, words.upwards)
    if words.upwards:
        left = round((words.x - origin[0]) * scale) - size
        top = round((words.box[3] - origin[1]) * scale) + 2 - mask.shape[0]
    else:
        left = round((words.box[0] - origin[0]) * scale) - 2
        top = round((words.y - origin[1]) * scale) - size
    x0, y0 = max(left, 0), max(top, 0)
    part = picture[y0 : max(top + mask.shape[0], 0), x0 : max(left + mask.shape[1], 0)]
    if part.size:
        share = mask[y0 - top :, x0 - left :][: part.shape[0], : part.shape[1]]
        ink = np.full_like(part, _rgb(words.colour))
        part[:] = cv2.blendLinear(ink, np.ascontiguousarray(part), np.ascontiguousarray(share), 1 - share)


@lru_cache(maxsize=512)  # both faces of a board carry much the same words
def _mask(text: str, size_px: int, bold: bool, upwards: bool) -> NDArray[np.float32]:
    """How much of each pixel a line of words covers, 0 to 1."""
    font = picture_font(size_px, bold)
    mask = Image.new("L", (ceil(font.getlength(text)) + 4, 2 * size_px), 0)
    ImageDraw.Draw(mask).text((2, size_px * (1 + BASELINE)), text, fill=255, font=font, anchor="ls")
    if upwards:
        mask = mask.transpose(Image.Transpose.ROTATE_90)
    return np.asarray(mask, dtype=np.float32) * np.float32(1 / 255)


def _rgb(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)
