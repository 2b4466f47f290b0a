"""One stretch of board made ready for the suggesters: its colour, and what clear grain would look like there.

Clear wood looks alike along the grain and changes across it. So the colour
expected at a point is the mean of its neighbours along the grain, leaving out
the odd ones. Figure does not run quite straight: the mean is taken along a
fan of directions, and the darkest explanation wins. What then stays darker
than its background is no ring, no ray and no shadow, but something in the way
of the grain.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.suggest.fissures import Fissure, Ground, fissures_on
from vision.suggest.learned import chances_of
from vision.suggest.lines import Lines, lines_of
from vision.suggest.regions import median_of

__all__ = ["CORE_MM", "MARGIN_MM", "Surface", "surface_of", "surfaces_along"]

Plane = NDArray[np.float32]

CORE_MM = 800.0  # a stretch answers for this length of board ...
MARGIN_MM = 64.0  # ... and looks this far beyond it on either side
_ALONG_MM = 90  # length of the mean along the grain
_FAN = (-0.24, -0.12, 0.0, 0.12, 0.24)  # directions tried, as rise over run
# Far from a stretch's middle a leaning line leaves at one edge; it comes in again at the other, so that no
# row is lost, and no mean reaches over the rows without wood that are put between the two edges.
_GAP_MM = 12
_BLACKEST_WOOD = 20.0  # a bed is darker than this [L*], and than two fifths of the board
_LEAST_WEIGHT = np.float32(1e-3)
_OUTLIER = 4.0  # a neighbour this much darker than the mean is left out of it [L*]


@dataclass(frozen=True)
class Surface:
    """A stretch of board at one pixel per millimetre, x along the grain.

    Parameters
    ----------
    rgb : uint8 array [fine rows, fine columns, 3]
        At `fine_px_per_mm`.
    lab : float32 array [rows, columns, 3]
        CIE L*a*b*, L* 0 to 100.
    clear : float32 array [rows, columns, 3]
        The colour clear grain would have there.
    noise : float32 array [rows, columns]
        Usual size of the darkness left over in the neighbourhood [L*].
    wood : bool array [rows, columns]
        False on the bed or bench beyond the board's edge.
    fine : float32 array [rows, columns]
        Lightness at `fine_px_per_mm`, for what is thinner than a millimetre.
    fine_px_per_mm : float
    start_mm : float
        Where the first column lies on the board.
    core_mm : tuple of float
        The part of the board, from and to, that this stretch answers for.
    length_mm : float
        Length of the whole board.
    """

    rgb: NDArray[np.uint8]
    lab: Plane
    clear: Plane
    noise: Plane
    wood: NDArray[np.bool_]
    fine: Plane
    fine_px_per_mm: float
    start_mm: float
    core_mm: tuple[float, float]
    length_mm: float

    @cached_property
    def lines(self) -> Lines:
        """Thin dark lines along the grain."""
        return lines_of(self.fine, self.fine_px_per_mm, self.wood)

    @cached_property
    def fissures(self) -> list[Fissure]:
        """Where the wood may have come apart along the grain."""
        said = None if self.chances is None else self.chances["crack"]
        return fissures_on(Ground(self.lines, self.fine, said, self.ends))

    @cached_property
    def ends(self) -> tuple[float | None, float | None]:
        """Where the board's ends lie on this stretch, None if not on it [mm from its first column]."""
        columns = np.flatnonzero(self.wood.mean(axis=0) > 0.5)
        if len(columns) == 0:
            return None, None
        holds_near, holds_far = self.core_mm[0] <= 0.0, self.core_mm[1] >= self.length_mm - 0.5
        return float(columns[0]) if holds_near else None, float(columns[-1] + 1) if holds_far else None

    @cached_property
    def chances(self) -> Mapping[str, Plane] | None:
        """What the net says, by class; None without its weights."""
        return chances_of(self.rgb, self.wood)

    @cached_property
    def darkness(self) -> Plane:
        """How much darker than clear grain, zero off the wood [L*]."""
        dark: Plane = np.where(self.wood, self.clear[..., 0] - self.lab[..., 0], 0.0).astype(np.float32)
        return dark

    @cached_property
    def colour_shift(self) -> Plane:
        """How far the hue and strength of colour are from clear grain's, zero off the wood [a*b*]."""
        _, red, yellow = cv2.split(self.lab - self.clear)
        shift: Plane = np.where(self.wood, cv2.magnitude(red, yellow), np.float32(0.0))
        return shift


def surfaces_along(picture: NDArray[np.uint8], px_per_mm: float) -> Iterator[Surface]:
    """The stretches of a board one after the other, so that memory does not grow with its length.

    Parameters
    ----------
    picture : uint8 array [rows, columns, 3]
        True-scale RGB picture, x along the grain.
    px_per_mm : float
    """
    length = picture.shape[1] / px_per_mm
    count = max(1, round(length / CORE_MM))
    for index in range(count):
        core = (length * index / count, length * (index + 1) / count)
        first = max(0, int((core[0] - MARGIN_MM) * px_per_mm))
        last = min(picture.shape[1], int(np.ceil((core[1] + MARGIN_MM) * px_per_mm)))
        yield surface_of(picture[:, first:last], px_per_mm, first / px_per_mm, core, length)


def surface_of(
    picture: NDArray[np.uint8],
    px_per_mm: float,
    start_mm: float = 0.0,
    core_mm: tuple[float, float] | None = None,
    length_mm: float | None = None,
) -> Surface:
    """One stretch of board, from its pixels.

    Parameters
    ----------
    picture : uint8 array [rows, columns, 3]
        True-scale RGB picture of the stretch, x along the grain.
    px_per_mm : float
    start_mm, core_mm, length_mm
        Place of the stretch on its board; by default it is the whole board.
    """
    whole = picture.shape[1] / px_per_mm
    coarse = _at_scale(picture, px_per_mm, 1.0)
    lab = np.asarray(cv2.cvtColor(coarse.astype(np.float32) / 255, cv2.COLOR_RGB2LAB), dtype=np.float32)
    wood = _wood(lab[..., 0])
    clear = _clear_grain(lab, wood)
    fine_scale = 2.0 if px_per_mm >= 1.5 else 1.0
    fine = _at_scale(picture, px_per_mm, fine_scale)
    grey = np.asarray(cv2.cvtColor(fine, cv2.COLOR_RGB2GRAY), dtype=np.float32) * np.float32(100 / 255)
    return Surface(
        rgb=fine,
        lab=lab,
        clear=clear,
        noise=_usual_size(clear[..., 0] - lab[..., 0], wood),
        wood=wood,
        fine=grey,
        fine_px_per_mm=fine_scale,
        start_mm=start_mm,
        core_mm=core_mm or (start_mm, start_mm + whole),
        length_mm=length_mm if length_mm is not None else start_mm + whole,
    )


def _at_scale(picture: NDArray[np.uint8], px_per_mm: float, wanted: float) -> NDArray[np.uint8]:
    if px_per_mm == wanted:
        return picture
    rows = max(1, round(picture.shape[0] * wanted / px_per_mm))
    columns = max(1, round(picture.shape[1] * wanted / px_per_mm))
    way = cv2.INTER_AREA if px_per_mm > wanted else cv2.INTER_LINEAR
    return np.asarray(cv2.resize(picture, (columns, rows), interpolation=way), dtype=np.uint8)


def _wood(lightness: Plane) -> NDArray[np.bool_]:
    """False where a dark bed shows beyond the edges: a dark run inwards from the border, steady along it."""
    wood = np.ones(lightness.shape, np.bool_)
    border = (lightness[0], lightness[-1], lightness[:, 0], lightness[:, -1])
    if min(float(side.min()) for side in border) >= _BLACKEST_WOOD:
        return wood
    dark = lightness < min(_BLACKEST_WOOD, 0.4 * median_of(lightness))
    for flip in (False, True):
        side = dark[::-1] if flip else dark
        depth = _steady(np.where(side.all(axis=0), side.shape[0], np.argmin(side, axis=0)))
        if depth.any():
            bed = np.arange(side.shape[0])[:, None] < depth[None, :]
            wood &= ~(bed[::-1] if flip else bed)
        end = dark[:, ::-1] if flip else dark
        depth = _steady(np.where(end.all(axis=1), end.shape[1], np.argmin(end, axis=1)))
        if depth.any():
            bed = np.arange(end.shape[1])[None, :] < depth[:, None]
            wood &= ~(bed[:, ::-1] if flip else bed)
    return wood


def _steady(depth: NDArray[np.intp]) -> NDArray[np.float64]:
    """Running median, so that a black knot at the edge is not taken for the bed; one millimetre to spare."""
    if not depth.any():
        return np.zeros(len(depth))
    half = min(40, (len(depth) - 1) // 2)
    padded = np.pad(depth, half, mode="edge")
    middle = np.median(np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1), axis=1)
    return np.asarray(np.where(middle > 0, middle + 1, 0), dtype=np.float64)


def _clear_grain(lab: Plane, wood: NDArray[np.bool_]) -> Plane:
    """Mean along the darkest of a fan of directions, outliers left out."""
    rows, columns = wood.shape
    short = (max(1, columns // 2), rows)  # clear grain changes slowly along itself: half as many columns do
    half = np.asarray(cv2.resize(lab, short, interpolation=cv2.INTER_AREA), dtype=np.float32)
    weight = cv2.resize(wood.astype(np.uint8), short, interpolation=cv2.INTER_NEAREST).astype(np.float32)
    known = cv2.merge([*(plane * weight for plane in cv2.split(half)), weight])
    known = cv2.copyMakeBorder(known, 0, _GAP_MM, 0, 0, cv2.BORDER_CONSTANT, value=(0, 0, 0, 0))
    best: Plane | None = None
    for rise in _FAN:
        mean = _mean_along(np.asarray(known, dtype=np.float32), 2 * rise)
        if best is None:
            best = mean
        else:
            cv2.copyTo(mean, (mean[..., 0] < best[..., 0]).astype(np.uint8), best)
    assert best is not None
    best = best[:rows]
    return np.asarray(cv2.resize(best, (columns, rows), interpolation=cv2.INTER_LINEAR), dtype=np.float32)


def _mean_along(known: Plane, rise: float) -> Plane:
    """Colour along one direction, of what is known: L*, a*, b* times weight, and weight (nought or one)."""
    size = (known.shape[1], known.shape[0])
    lean = np.array([[1.0, 0.0, 0.0], [rise, 1.0, -rise * size[0] / 2]], np.float64)
    nearest = cv2.INTER_NEAREST
    if rise:
        way = nearest | cv2.WARP_INVERSE_MAP
        known = np.asarray(cv2.warpAffine(known, lean, size, flags=way, borderMode=cv2.BORDER_WRAP))
    lightness, inside = (np.asarray(known[..., channel], order="C") for channel in (0, 3))
    usual = _blurred(lightness) / np.maximum(_blurred(inside), _LEAST_WEIGHT)
    ordinary = inside * (np.abs(lightness - usual) < _OUTLIER)
    weight = ordinary + inside * np.float32(0.02)
    total = cv2.split(_blurred(known * cv2.merge([weight] * 4)))
    share = np.maximum(total[3], _LEAST_WEIGHT)
    mean = cv2.merge([np.asarray(plane / share, dtype=np.float32) for plane in total[:3]])
    if rise:
        mean = cv2.warpAffine(mean, lean, size, flags=nearest, borderMode=cv2.BORDER_WRAP)
    return np.asarray(mean, dtype=np.float32)


def _blurred(plane: Plane) -> Plane:
    return np.asarray(cv2.blur(plane, (_ALONG_MM // 2, 1), borderType=cv2.BORDER_REFLECT), dtype=np.float32)


def _usual_size(rest: Plane, wood: NDArray[np.bool_]) -> Plane:
    """Root mean square of what is left over near a point, the largest left out; at least one step of L*."""
    weight = wood.astype(np.float32)
    clipped = np.minimum(np.square(rest), 36.0) * weight
    window = (201, 41)
    mean = cv2.blur(clipped, window) / np.maximum(cv2.blur(weight, window), 1e-3)
    return np.asarray(np.sqrt(np.maximum(mean, 1.0)), dtype=np.float32)
