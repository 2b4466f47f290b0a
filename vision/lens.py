"""Lens distortion: what bends a straight board in a photograph, and how to undo it.

The radial model of OpenCV's camera: with x, y measured from the lens's centre in
focal lengths and r^2 = x^2 + y^2, a point that a perfect lens would show at (x, y)
is shown at (x, y) (1 + k1 r^2 + k2 r^4).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import hypot, isfinite

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["FILM_DIAGONAL_MM", "Lens", "LensPrior", "focal_px", "pooled", "resized", "unknown_lens"]

FILM_DIAGONAL_MM = hypot(36.0, 24.0)
_SAME_FORM = 0.004  # 4000 x 3000 and 1024 x 768, with their rounding
_PHONE_35MM = 26.0  # main camera of most phones; common practice, no source


@dataclass(frozen=True)
class Lens:
    """A lens with radial distortion.

    Parameters
    ----------
    centre_px : tuple of float
        Where its axis meets the picture, (x, y).
    focal_px : float
        Focal length [px].
    k1, k2 : float
        Radial terms; negative k1 is barrel.
    """

    centre_px: tuple[float, float]
    focal_px: float
    k1: float = 0.0
    k2: float = 0.0

    def __post_init__(self) -> None:
        if not (isfinite(self.focal_px) and self.focal_px > 0):
            raise ValueError(f"lens: focal length {self.focal_px} px; give a number above 0")
        if not all(isfinite(k) for k in (self.k1, self.k2)):
            raise ValueError(f"lens: k1 {self.k1}, k2 {self.k2}; give finite numbers")

    def bent(self, straight_px: ArrayLike) -> NDArray[np.float64]:
        """Where this lens shows the points that a perfect one would show at `straight_px`, [..., 2]."""
        xy = (np.asarray(straight_px, dtype=np.float64) - self.centre_px) / self.focal_px
        r2 = np.sum(xy**2, axis=-1, keepdims=True)
        return np.asarray(xy * (1 + self.k1 * r2 + self.k2 * r2**2) * self.focal_px + self.centre_px)

    def straight(self, bent_px: ArrayLike) -> NDArray[np.float64]:
        """The inverse of `bent`, to well under a thousandth of a pixel, [..., 2]."""
        seen = (np.asarray(bent_px, dtype=np.float64) - self.centre_px) / self.focal_px
        far = np.sqrt(np.sum(seen**2, axis=-1, keepdims=True))
        r = far.copy()
        for _ in range(12):  # Newton on r (1 + k1 r^2 + k2 r^4) = far
            r2 = r * r
            slope = 1 + r2 * (3 * self.k1 + 5 * self.k2 * r2)
            step = (r * (1 + r2 * (self.k1 + self.k2 * r2)) - far) / np.maximum(slope, 0.2)
            r = r - step
            if np.all(np.abs(step) < 1e-10):
                break
        ratio = np.where(far > 1e-12, r / np.where(far > 1e-12, far, 1.0), 1.0)
        return np.asarray(seen * ratio * self.focal_px + self.centre_px)


@dataclass(frozen=True)
class LensPrior:
    """What is known of the lens before the photograph is looked at.

    Parameters
    ----------
    lens : Lens
    focal_spread : float
        One standard deviation of the focal length, as a part of it.
    centre_spread : float
        Of the centre, as a part of the picture's diagonal.
    k1_spread : float
    """

    lens: Lens
    focal_spread: float = 0.04
    centre_spread: float = 0.01
    k1_spread: float = 0.07  # phones bend a picture by up to 0.1 or so; as far as tried, no source


def focal_px(width_px: int, height_px: int, focal_35mm: float | None) -> float:
    """Focal length in pixels, from what the camera wrote down or, failing that, a phone's usual one [px]."""
    return hypot(width_px, height_px) * (focal_35mm or _PHONE_35MM) / FILM_DIAGONAL_MM


def unknown_lens(width_px: int, height_px: int, focal_35mm: float | None) -> LensPrior:
    """What may be said of a phone nobody has calibrated: a plain lens, with the doubt that belongs to it."""
    centre = ((width_px - 1) / 2, (height_px - 1) / 2)
    focal = focal_px(width_px, height_px, focal_35mm)
    return LensPrior(Lens(centre, focal), focal_spread=0.05 if focal_35mm else 0.2)


def resized(prior: LensPrior, of: tuple[int, int], to: tuple[int, int]) -> LensPrior | None:
    """A lens for pictures of another size by the same camera; None unless they have the same form.

    Parameters
    ----------
    prior : LensPrior
    of, to : (int, int)
        Width and height of the pictures it is for, and of those wanted [px].
    """
    if of == to:
        return prior
    turned = (of[0] > of[1]) != (to[0] > to[1])
    wide, high = (of[1], of[0]) if turned else of
    times = to[0] / wide
    if abs(to[1] / high / times - 1.0) > _SAME_FORM:
        return None
    x, y = prior.lens.centre_px
    # Which way the phone was turned is not written down: a turned picture's centre is about the middle.
    centre = ((to[0] - 1) / 2, (to[1] - 1) / 2)
    if not turned:
        centre = ((x + 0.5) * times - 0.5, (y + 0.5) * times - 0.5)
    away = hypot(x - (of[0] - 1) / 2, y - (of[1] - 1) / 2) / hypot(*of) if turned else 0.0
    return replace(
        prior,
        lens=replace(prior.lens, centre_px=centre, focal_px=prior.lens.focal_px * times),
        # A camera may cut a little off a smaller picture.
        focal_spread=prior.focal_spread if times == 1.0 else hypot(prior.focal_spread, 0.01),
        centre_spread=hypot(prior.centre_spread, away),
    )


def pooled(before: LensPrior, seen: Sequence[LensPrior]) -> LensPrior:
    """The lens as several photographs by one phone leave it known.

    One board cannot tell its own crook from the lens well; ten boards, whose crooks
    have nothing to do with one another, can.

    Parameters
    ----------
    before : LensPrior
        What each of them started from.
    seen : sequence of LensPrior
        What each made of it (`vision.rectify.TrueScale.lens`), at the same picture size.
    """
    # k1 / focal^2 does not depend on what each took for the focal length.
    scale = before.lens.focal_px**2
    known = 1.0 / before.k1_spread**2
    weight, total = known, known * before.lens.k1
    for one in seen:
        per = scale / one.lens.focal_px**2
        gained = max(0.0, 1.0 / (one.k1_spread * per) ** 2 - known)
        # Undo the pull of the common start, so that it counts once.
        own = (one.lens.k1 * per * (known + gained) - known * before.lens.k1) / gained if gained > 0 else 0.0
        weight += gained
        total += gained * own
    return replace(before, lens=replace(before.lens, k1=total / weight), k1_spread=weight**-0.5)
