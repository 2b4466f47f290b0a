"""The photograph of the back registered to the front: how the board was turned over between them.

Both pictures are at true scale with the datum end as it was seen, so only four
mappings are possible::

    front            rolled           tumbled          the front again   the front again,
    (x, y)           (x, W - y)       (L - x, y)       (x, y)            end for end (L - x, W - y)

What goes right through the wood decides: knots (which lean, so they are compared
smeared out), splits, a waney or tapered outline, sapwood along one edge.
"""

from dataclasses import dataclass
from math import sqrt

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.affinity import affine_transform
from shapely.geometry import Polygon

from layout.outline import Outline
from layout.stock import Turn
from vision.turn_outlines import rolled_by_outlines

__all__ = ["Registration", "registered"]

_WORK = 0.5  # px per mm at which the faces are compared
_LEAN_MM = 8.0  # a knot wanders about this far from face to face
_REACH_MM = 12.0
_RIM_MM = 3.0  # of a waney outline: bark that was taken for wood
_SURE = 2.0  # evidence, in standard deviations of chance, that one turn is better than another
_SAME_FACE = 0.55  # correlation of fine grain that only the same face gives


@dataclass(frozen=True)
class Registration:
    """How the back lies to the front.

    Parameters
    ----------
    turned : Turn
        As the maker said, or as found when he did not say.
    better : Turn or None
        The other turn, when the pictures speak for it: offer it.
    sure : bool
        Whether the pictures say enough to decide at all.
    same_face : bool
        The second photograph shows the front again.
    evidence : float
        For rolled over tumbled, in standard deviations of chance.
    shift_mm : tuple of (float, float)
        By how much features of the back lie beside those of the front in the board
        frame; (0, 0) where too little goes through to tell.
    message : str
        One sentence fit to show; empty when all is well.
    """

    turned: Turn
    better: Turn | None
    sure: bool
    same_face: bool
    evidence: float
    shift_mm: tuple[float, float]
    message: str = ""


def registered(
    front: NDArray[np.uint8],
    back: NDArray[np.uint8],
    px_per_mm: float,
    *,
    turned: Turn | None = None,
    front_outline: Outline | None = None,
    back_outline: Outline | None = None,
    waney_mm: float | None = None,
) -> Registration:
    """How the board was turned over between the two photographs.

    Parameters
    ----------
    front, back : ndarray of uint8, [height, width, 3]
        True-scale pictures as seen, of one size to a few millimetres.
    px_per_mm : float
    turned : Turn or None
        What the maker says he did.
    front_outline, back_outline : Outline or None
        Outlines as seen, for a waney or tapered board [mm].
    waney_mm : float or None
        The thickness of a waney board: its outlines are compared as bark slopes, and what lies beside
        them is not looked at.
    """
    size = (
        max(16, round(front.shape[1] / px_per_mm * _WORK)),
        max(8, round(front.shape[0] / px_per_mm * _WORK)),
    )
    if waney_mm is not None:
        front, back = _wood_alone(front, front_outline, px_per_mm), _wood_alone(back, back_outline, px_per_mm)
    a, b = _features(front, size), _features(back, size)
    rolled, tumbled = b[::-1], b[:, ::-1]
    score_rolled, shift_rolled = _best(a, rolled)
    score_tumbled, shift_tumbled = _best(a, tumbled)
    evidence = (score_rolled - score_tumbled) / _chance(a, b)
    if waney_mm is not None and front_outline is not None and back_outline is not None:
        evidence += rolled_by_outlines(front_outline, back_outline, size[0] / _WORK, waney_mm)
    else:
        evidence += _outline_evidence(front_outline, back_outline, size)
    evidence += _across_evidence(front, back)
    found = Turn.ROLLED if evidence >= 0 else Turn.TUMBLED
    sure = abs(evidence) >= _SURE
    same = _same_face(front, back, px_per_mm)
    said = turned or found
    better = found if sure and found is not said else None
    score, shift = (score_rolled, shift_rolled) if said is Turn.ROLLED else (score_tumbled, shift_tumbled)
    through = score / _chance(a, b) >= 3.0
    return Registration(
        turned=said,
        better=better,
        sure=sure,
        same_face=same,
        evidence=float(evidence),
        shift_mm=shift if through and better is None else (0.0, 0.0),
        message=_message(same, better, sure, turned),
    )


def _message(same: bool, better: Turn | None, sure: bool, said: Turn | None) -> str:
    if same:
        return "both photographs show the same face; photograph the other one"
    if better is not None:
        how = "rolled over its long edge" if better is Turn.ROLLED else "tumbled end over end"
        return f"the board looks as if it was {how}; change the turn, or keep it if you are sure"
    if not sure and said is None:
        return "nothing seen goes through this board; say whether it was rolled or tumbled"
    return ""


def _wood_alone(picture: NDArray[np.uint8], outline: Outline | None, px_per_mm: float) -> NDArray[np.uint8]:
    """The picture with what lies beside the wood, bark and bench, coloured as the wood is on the whole."""
    if outline is None:
        return picture
    wood = np.zeros(picture.shape[:2], dtype=np.uint8)
    cv2.fillPoly(wood, [np.rint(np.array(outline) * px_per_mm).astype(np.int32)], 1)
    rim = max(1, round(_RIM_MM * px_per_mm))
    inside = cv2.erode(wood, np.ones((2 * rim + 1, 1), dtype=np.uint8)).astype(bool)
    if not inside.any():
        return picture
    alone = picture.copy()
    alone[~inside] = np.median(picture[inside][::101], axis=0).astype(np.uint8)
    return alone


def _features(picture: NDArray[np.uint8], size: tuple[int, int]) -> NDArray[np.float32]:
    """How unlike its own grain each place is: dark spots, smeared as far as a knot may lean."""
    small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    lab = np.asarray(cv2.cvtColor(small, cv2.COLOR_RGB2LAB), dtype=np.float32)
    light = lab[..., 0]
    along = cv2.blur(light, (max(3, round(250 * _WORK)) | 1, 3), borderType=cv2.BORDER_REFLECT)
    dark = np.maximum(along - light, 0.0)
    limit = 6.0 * float(np.median(dark)) + 2.0
    dark = np.clip(dark - 0.35 * limit, 0.0, limit)
    smeared = cv2.GaussianBlur(np.asarray(dark), (0, 0), _LEAN_MM * _WORK, borderType=cv2.BORDER_REPLICATE)
    rim = max(1, round(4 * _WORK))
    smeared[:rim], smeared[-rim:], smeared[:, :rim], smeared[:, -rim:] = 0, 0, 0, 0
    return np.asarray(smeared, dtype=np.float32)


def _best(a: NDArray[np.float32], b: NDArray[np.float32]) -> tuple[float, tuple[float, float]]:
    """Best correlation of two feature maps within reach, and the shift of b there [mm]."""
    reach = round(_REACH_MM * _WORK)
    if min(a.std(), b.std()) < 1e-6:
        return 0.0, (0.0, 0.0)
    padded = cv2.copyMakeBorder(b, reach, reach, reach, reach, cv2.BORDER_CONSTANT, value=float(b.mean()))
    score = np.asarray(cv2.matchTemplate(padded, a, cv2.TM_CCOEFF_NORMED))
    row, column = np.unravel_index(int(score.argmax()), score.shape)
    shift = ((int(column) - reach) / _WORK, (int(row) - reach) / _WORK)
    return float(score[row, column]), shift


def _chance(a: NDArray[np.float32], b: NDArray[np.float32]) -> float:
    """The correlation that chance gives two maps of so few features: from b slid round along the board."""
    step = max(1, a.shape[1] // 24)
    scores = [
        _correlation(a, np.roll(flipped, slid * step, axis=1))
        for flipped in (b[::-1], b[:, ::-1])
        for slid in range(4, 21)
    ]
    return max(float(np.std(scores)) * 1.5, 0.08)


def _correlation(a: NDArray[np.float32], b: NDArray[np.float32]) -> float:
    x, y = a - a.mean(), b - b.mean()
    return float(np.sum(x * y) / max(1e-9, sqrt(float(np.sum(x * x)) * float(np.sum(y * y)))))


def _across_evidence(front: NDArray[np.uint8], back: NDArray[np.uint8]) -> float:
    """Sapwood along one edge: the colour across the board, compared either way up; at most one deviation."""
    bands = []
    for picture in (front, back):
        lab = cv2.cvtColor(cv2.resize(picture, (64, 24), interpolation=cv2.INTER_AREA), cv2.COLOR_RGB2LAB)
        band = np.median(np.asarray(lab, dtype=np.float32)[2:-2], axis=1)
        bands.append(
            band[:, 1:] - band[:, 1:].mean(axis=0)
        )  # colour, not light, which falls off across a bench
    a, b = bands
    if min(float(np.abs(a).max()), float(np.abs(b).max())) < 2.5:
        return 0.0
    size = max(1e-6, sqrt(float(np.sum(a * a)) * float(np.sum(b * b))))
    return float(np.clip((np.sum(a * b[::-1]) - np.sum(a * b)) / size, -1.0, 1.0))


def _outline_evidence(front: Outline | None, back: Outline | None, size: tuple[int, int]) -> float:
    """A waney or tapered board fits its own outline one way only; a rectangle fits both."""
    if front is None or back is None:
        return 0.0
    length, width = size[0] / _WORK, size[1] / _WORK
    shape, seen = Polygon(front), Polygon(back)
    rolled = affine_transform(seen, (1, 0, 0, -1, 0, width))
    tumbled = affine_transform(seen, (-1, 0, 0, 1, length, 0))
    misfits = [shape.symmetric_difference(other).area / length for other in (rolled, tumbled)]  # mean, in mm
    # Wane itself differs from face to face, so the ratio counts, beyond a millimetre.
    return float(np.clip(3.0 * np.log((misfits[1] + 1.0) / (misfits[0] + 1.0)), -4.0, 4.0))


def _same_face(front: NDArray[np.uint8], back: NDArray[np.uint8], px_per_mm: float) -> bool:
    """Fine grain agrees only when the same face was photographed twice, either way round."""
    size = (max(32, round(front.shape[1] / px_per_mm)), max(16, round(front.shape[0] / px_per_mm)))
    a, b = (_fine(picture, size) for picture in (front, back))
    for seen in (b, b[::-1, ::-1]):
        scores = []
        for start in np.linspace(0.05, 0.75, 5):
            low = int(start * size[0])
            window = seen[8:-8, low : low + size[0] // 5]
            field = a[:, max(0, low - 8) : low + size[0] // 5 + 8]
            if min(window.shape) > 4 and window.std() > 0 and field.shape[1] >= window.shape[1]:
                scores.append(float(np.max(cv2.matchTemplate(field, window, cv2.TM_CCOEFF_NORMED))))
        if scores and float(np.median(scores)) >= _SAME_FACE:
            return True
    return False


def _fine(picture: NDArray[np.uint8], size: tuple[int, int]) -> NDArray[np.float32]:
    grey = cv2.cvtColor(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), cv2.COLOR_RGB2GRAY)
    grey = np.asarray(grey, dtype=np.float32)
    return np.asarray(grey - cv2.GaussianBlur(grey, (0, 0), 6.0), dtype=np.float32)
