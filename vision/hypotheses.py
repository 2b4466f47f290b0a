"""Rough places where the board may be in a photograph, from colour and texture against the ground.

Worked at 800 pixels, where a board is still some twenty pixels wide.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.frame import in_board_order
from vision.straight import merit, straight_quads

__all__ = ["WORK_PX", "paper_hulls", "rough_quads"]

WORK_PX = 800
_MOST = 4  # places looked at closely
_SEED = 20  # GrabCut draws its first colour clusters at random


def rough_quads(rgb: NDArray[np.uint8]) -> list[NDArray[np.float64]]:
    """Four-cornered places that may be the board, best guess first.

    Parameters
    ----------
    rgb : ndarray of uint8, [height, width, 3]

    Returns
    -------
    list of ndarray, [4, 2]
        Corners (x, y) in pixels of `rgb`, in board order.
    """
    scale = WORK_PX / max(rgb.shape[:2])
    size = (round(rgb.shape[1] * scale), round(rgb.shape[0] * scale))
    small = np.asarray(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    quads = _mask_quads(small) + straight_quads(small)
    quads.sort(key=lambda quad: -merit(small, quad))
    return [in_board_order((quad + 0.5) / scale - 0.5) for quad in _different(quads)[:_MOST]]


def _different(quads: list[NDArray[np.float64]]) -> list[NDArray[np.float64]]:
    """Those that are not almost one before them."""
    kept: list[NDArray[np.float64]] = []
    for quad in quads:
        ordered = in_board_order(quad)
        if all(np.abs(ordered - in_board_order(other)).max() > 4.0 for other in kept):
            kept.append(quad)
    return kept


def _mask_quads(small: NDArray[np.uint8]) -> list[NDArray[np.float64]]:
    """Four-cornered pieces of the wood mask, the largest first."""
    mask = _wood_mask(small)
    quads = []
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask)
    for k in sorted(range(1, count), key=lambda k: -stats[k, cv2.CC_STAT_AREA])[:4]:
        if stats[k, cv2.CC_STAT_AREA] < 0.004 * mask.size:
            continue
        contours, _ = cv2.findContours(
            (labels == k).astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE
        )
        hull = cv2.convexHull(max(contours, key=len))
        quads.append(np.asarray(cv2.approxPolyN(hull, 4, ensure_convex=True), dtype=np.float64).reshape(4, 2))
    return quads


def _wood_mask(small: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """1 where GrabCut sees something unlike the picture's border, sheets of paper left out."""
    lab = np.asarray(cv2.cvtColor(small, cv2.COLOR_RGB2LAB), dtype=np.float32)
    lab = np.asarray(cv2.GaussianBlur(lab, (0, 0), 1.5), dtype=np.float32)
    far = _distance_to_border_colours(lab)
    level = np.clip(far * 8, 0, 255).astype(np.uint8)
    cut, _ = cv2.threshold(level, 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    seed = np.full(level.shape, cv2.GC_PR_BGD, dtype=np.uint8)
    seed[level > cut] = cv2.GC_PR_FGD
    seed[level < cut / 2] = cv2.GC_BGD
    seed[_sheets(small)] = cv2.GC_BGD
    likely = np.isin(seed, (cv2.GC_FGD, cv2.GC_PR_FGD))
    if not likely.any() or likely.all():
        return np.zeros(level.shape, dtype=np.uint8)  # a picture of one colour
    cv2.setRNGSeed(_SEED)
    bgr = np.ascontiguousarray(small[..., ::-1])
    whole = (0, 0, small.shape[1], small.shape[0])
    ground, wood = np.zeros((1, 65)), np.zeros((1, 65))
    cv2.grabCut(bgr, seed, whole, ground, wood, 4, cv2.GC_INIT_WITH_MASK)
    mask = np.isin(seed, (cv2.GC_FGD, cv2.GC_PR_FGD)).astype(np.uint8)
    return np.asarray(cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((5, 5), np.uint8)), dtype=np.uint8)


def _distance_to_border_colours(lab: NDArray[np.float32]) -> NDArray[np.float32]:
    """Per pixel, how far its colour is from the nearest of the border's colours [Lab units]."""
    ring = max(4, round(0.03 * max(lab.shape[:2])))
    inner = np.ones(lab.shape[:2], dtype=bool)
    inner[ring:-ring, ring:-ring] = False
    cv2.setRNGSeed(_SEED)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 20, 0.5)
    _, _, centres = cv2.kmeans(lab[inner], 5, None, stop, 2, cv2.KMEANS_PP_CENTERS)  # type: ignore[call-overload]
    off = lab[:, :, None, :] - centres[None, None]
    off[..., 0] *= 0.5  # light falls off across a bench; colour does not
    return np.asarray(np.sqrt((off**2).sum(-1)).min(-1), dtype=np.float32)


def _sheets(small: NDArray[np.uint8]) -> NDArray[np.bool_]:
    """Where a sheet of paper lies, and a little round it."""
    answer = np.zeros(small.shape[:2], dtype=np.uint8)
    for hull in paper_hulls(small):
        cv2.fillConvexPoly(answer, np.rint(hull).astype(np.int32), 1)
    return np.asarray(cv2.dilate(answer, np.ones((9, 9), np.uint8)), dtype=np.bool_)


def paper_hulls(small: NDArray[np.uint8]) -> list[NDArray[np.float64]]:
    """Convex outlines of what is bright, without grain and compact, the largest first.

    Parameters
    ----------
    small : ndarray of uint8, [height, width, 3]
        RGB, some 800 pixels wide.

    Returns
    -------
    list of ndarray, [n, 2]
    """
    grey = np.asarray(cv2.cvtColor(small, cv2.COLOR_RGB2GRAY), dtype=np.float32)
    mean = cv2.blur(grey, (7, 7))
    rough = np.sqrt(np.maximum(cv2.blur(grey * grey, (7, 7)) - mean**2, 0))
    plain = ((grey > np.percentile(grey, 97) * 0.9) & (rough < 6)).astype(np.uint8)
    plain = np.asarray(cv2.morphologyEx(plain, cv2.MORPH_OPEN, np.ones((5, 5), np.uint8)), dtype=np.uint8)
    found = []
    for contour in cv2.findContours(plain, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)[0]:
        _, (w, h), _ = cv2.minAreaRect(contour)
        area = float(cv2.contourArea(contour))
        if area > 0.002 * grey.size and max(w, h) < 2.2 * min(w, h) and area > 0.8 * w * h:
            found.append((area, np.asarray(cv2.convexHull(contour), dtype=np.float64).reshape(-1, 2)))
    return [hull for _, hull in sorted(found, key=lambda pair: -pair[0])]
