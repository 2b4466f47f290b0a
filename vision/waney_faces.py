r"""How a waney board's narrower face lies over its wider one.

Bark slopes, and otherwise at one edge than at the other, so neither outline tells where across the other
face lies. By the middles of both it is known to a good part of the thickness. What a maker reads, or
marks as one place on both faces, tells it to a millimetre::

    end of the board:     ____________ front       out: the back's arris lies beyond the front's,
                    out >/            \                  bark is seen from above
                        /______________\ back
                        |   |                      under: it lies set in, 0 > out
                        +---+ read with a rule, a square held to the front's arris

All is weighed by least squares: a shift across and a turn, which begin as the middles say.
"""

from dataclasses import dataclass, replace
from math import ceil, hypot

import numpy as np
from numpy.typing import ArrayLike, NDArray

from vision.waney_scale import Laid

__all__ = ["APART", "OtherFace", "Over", "Same", "edges_at", "laid_over", "lies_over", "narrower"]

Floats = NDArray[np.float64]

APART = 0.42
"""By how much, as a part of the thickness, faces laid by their middles lie apart at most, 97 % of boards.

By our wood model, whose logs are up to 5 % out of round in two waves, 2.5 % in three.
"""

_SHIFT, _TURN = 0.15, 0.19  # standard deviations of that, in the middle and from end to end, the same way
_MOST = 0.7  # of the thickness: farther from the middles no board of the model lies (0.49)
_RULE_MM = 0.5  # a rule is read to +-1 mm, 19 times of 20
_ARRIS_MM = 0.8  # both outlines at a place, as they are followed in photographs
_SAME_MM = 1.95  # a place tapped to 1.5 px on both faces, bored straight to a degree: 1.7, and some room
_ODD_MM = 3.5  # what readings that hold do not differ by
_SURE = 2.24  # standard deviations that hold both ends, 19 times of 20
_COLUMN_MM = 2.0
_END_MM = 12.0  # an end need not be square: so near to it a long edge may be cut off already
_ROOM_MM, _STEP_MM = 2.0, 5.0  # as `vision.waney_scale` widens a picture


@dataclass(frozen=True)
class Same:
    """One place of both faces: a hole bored straight through, a nail.

    Parameters
    ----------
    name : str
    at_px : (float, float)
        In this face's photograph.
    other_mm : (float, float)
        On the other face, as seen from this one.
    photo : int
        Of several photographs, which.
    """

    name: str
    at_px: tuple[float, float]
    other_mm: tuple[float, float]
    photo: int = 0


@dataclass(frozen=True)
class OtherFace:
    """The other face of a waney board, all as seen from this one.

    Parameters
    ----------
    outline_mm : sequence of (float, float)
        In the picture of the frame that both share.
    out_mm : tuple of (x, float)
        By how much this face's edge lies outside the other's at stations along it, 0 > inside [mm].
    on_lower : bool
        Whether that was read on the lower edge, as seen.
    same : tuple of Same
    """

    outline_mm: ArrayLike
    out_mm: tuple[tuple[float, float], ...] = ()
    on_lower: bool = False
    same: tuple[Same, ...] = ()


@dataclass(frozen=True)
class Over:
    """How a face is to be moved to lie over the other one.

    Parameters
    ----------
    shift_mm, turn_mm : float
        Down in the middle of its length, and by how much more at the far end than at the near one.
    apart_mm : float
        By how much it may lie apart then, anywhere along the board, 19 times of 20.
    note : str
        One sentence where readings cannot be.
    """

    shift_mm: float
    turn_mm: float
    apart_mm: float
    note: str = ""


def narrower(ring: Floats, other: Floats, length_mm: float) -> bool:
    """Whether the first of two outlines, [n, 2], is the narrower one, on average."""
    x = np.linspace(_COLUMN_MM, length_mm - _COLUMN_MM, 51)
    widths = [float(np.mean(lower - upper)) for upper, lower in (edges_at(one, x) for one in (ring, other))]
    return widths[0] < widths[1]


def lies_over(
    placed: Floats,
    below: Floats,
    length_mm: float,
    thickness_mm: float,
    out_mm: ArrayLike = (),
    on_lower: bool = False,
    same: ArrayLike = (),
) -> Over:
    """How a narrower face lies over the wider one.

    Parameters
    ----------
    placed, below : ndarray, [n, 2]
        Outlines of the narrower and of the wider face as seen from the narrower, in one frame [mm].
    length_mm, thickness_mm : float
    out_mm : array-like, [n, 2]
        As `OtherFace` has it.
    on_lower : bool
    same : array-like, [n, 3]
        Places of both: x, y on the narrower face, y on the wider one [mm].
    """
    x = np.linspace(_COLUMN_MM, length_mm - _COLUMN_MM, 151)
    apart = np.mean(edges_at(below, x), axis=0) - np.mean(edges_at(placed, x), axis=0)
    turn, shift = (float(value) for value in np.polyfit(x / length_mm - 0.5, apart, 1))
    by_middles = Over(shift, turn, APART * thickness_mm)
    told = _asked(placed, below, out_mm, on_lower, same)
    if not len(told):
        return by_middles
    part, rest = told[:, 0] / length_mm - 0.5, told[:, 1] - shift - turn * (told[:, 0] / length_mm - 0.5)
    far = int(np.abs(rest).argmax())
    if abs(rest[far]) > _MOST * thickness_mm:
        return replace(by_middles, note=_cannot_be(told[far, 0], rest[far], thickness_mm))
    look = np.column_stack([np.ones_like(part), part])
    weight = 1.0 / told[:, 2] ** 2
    known = np.diag([(_SHIFT * thickness_mm) ** -2, (_TURN * thickness_mm) ** -2])
    spread = np.linalg.inv(look.T @ (look * weight[:, None]) + known)
    more = spread @ look.T @ (weight * rest)
    off = rest - look @ more
    ends = np.array([[1.0, -0.5], [1.0, 0.5]])
    said = _SURE * float(np.sqrt(np.einsum("ij,jk,ik->i", ends, spread, ends)).max())
    odd = int(np.abs(off).argmax())
    note = "" if abs(off[odd]) <= _ODD_MM else _disagree(told[odd, 0], off[odd])
    said = max(said, _SURE * float(np.abs(off).max())) if note else said
    return Over(shift + float(more[0]), turn + float(more[1]), min(said, by_middles.apart_mm), note)


def laid_over(
    ring: Floats,
    laid: Laid,
    other: OtherFace | None,
    shown_mm: float | None,
    thickness_mm: float | None,
    seen: ArrayLike = (),
) -> Laid:
    """A narrower face laid over the wider one, and owning to what is left open of where it lies.

    Parameters
    ----------
    ring : ndarray, [n, 2]
    laid : Laid
        As `vision.waney_scale.laid_across` lays it.
    other : OtherFace or None
        In a picture as wide as shown.
    shown_mm, thickness_mm : float or None
    seen : array-like, [n, 2]
        Where the places of `other.same` are seen on this face, in the ring's millimetres.
    """
    if other is None or shown_mm is None or thickness_mm is None or not laid.by_middles:
        return laid
    below = np.asarray(other.outline_mm, dtype=np.float64) + np.array([0.0, (laid.width_mm - shown_mm) / 2])
    length_mm = float(ring[:, 0].max())
    if not narrower(ring, below, length_mm):
        return laid
    turn, move = laid.turn[:2, :2].T, laid.turn[:2, 2]
    here = np.asarray(seen, dtype=np.float64).reshape(-1, 2) @ turn + move
    there = np.array([one.other_mm for one in other.same], dtype=np.float64).reshape(-1, 2)
    same = np.column_stack([here, there[:, 1] + (laid.width_mm - shown_mm) / 2])
    over = lies_over(ring @ turn + move, below, length_mm, thickness_mm, other.out_mm, other.on_lower, same)
    moved = _moved(laid, ring, -over.shift_mm, -over.turn_mm)
    notes = tuple(one for one in (over.note, _lengthwise(other.same, here, there)) if one)
    return replace(moved, aside_mm=0.0, apart_mm=over.apart_mm, notes=notes)


def _asked(placed: Floats, below: Floats, out_mm: ArrayLike, on_lower: bool, same: ArrayLike) -> Floats:
    """What each reading asks for: station, move down, its standard deviation, [n, 3] [mm]."""
    read = np.asarray(out_mm, dtype=np.float64).reshape(-1, 2)
    x = read[:, 0]
    by_rule = np.zeros((0, 3))
    if x.size:
        inside = np.clip(x, _END_MM, max(float(placed[:, 0].max()) - _END_MM, _END_MM))
        mine, theirs = (edges_at(one, inside)[int(on_lower)] for one in (placed, below))
        down = theirs - mine + (read[:, 1] if on_lower else -read[:, 1])
        by_rule = np.column_stack([x, down, np.full_like(x, hypot(_RULE_MM, _ARRIS_MM))])
    both = np.asarray(same, dtype=np.float64).reshape(-1, 3)
    by_places = np.column_stack([both[:, 0], both[:, 2] - both[:, 1], np.full(len(both), _SAME_MM)])
    return np.concatenate([by_rule, by_places])


def _cannot_be(x: float, far_mm: float, thickness_mm: float) -> str:
    return (
        f"what was read of how the back lies over the front cannot be: at {x:.0f} mm as seen it would lie "
        f"{abs(far_mm):.0f} mm beside what the widths of both faces say, in a board {thickness_mm:.0f} mm "
        "thick; read it again (out where bark is seen beside the front from above, under where none is)"
    )


def _disagree(x: float, off_mm: float) -> str:
    return (
        f"what was read of how the back lies over the front does not agree: at {x:.0f} mm as seen it is "
        f"{abs(off_mm):.0f} mm beside the rest; read it again"
    )


def _lengthwise(same: tuple[Same, ...], here: Floats, there: Floats) -> str:
    """One sentence where places of both faces do not lie at one length."""
    along = here[:, 0] - there[:, 0] if len(same) else np.zeros(1)
    worst = int(np.abs(along).argmax())
    if abs(along[worst]) <= _ODD_MM:
        return ""
    return (
        f"{same[worst].name} lies {abs(along[worst]):.0f} mm farther along one face than along the other; "
        "an end may not be square, or the pictures need lines read with the tape"
    )


def _moved(laid: Laid, ring: Floats, up_mm: float, turn_mm: float) -> Laid:
    """The outline moved up and turned back by so much, in a picture widened where it would leave it."""
    length_mm = float(ring[:, 0].max())
    slope = turn_mm / length_mm
    spin = np.eye(3)
    spin[:2, :2] = np.array([[1.0, slope], [-slope, 1.0]]) / np.hypot(1.0, slope)
    pivot = np.array([length_mm / 2, laid.width_mm / 2])
    spin[:2, 2] = pivot - spin[:2, :2] @ pivot - [0.0, up_mm]
    turn = spin @ laid.turn
    y = ring @ turn[1, :2] + turn[1, 2]
    beyond = max(-float(y.min()), float(y.max()) - laid.width_mm) - _ROOM_MM
    more = _STEP_MM * ceil(max(beyond, 0.0) / _STEP_MM)
    turn[1, 2] += more
    return replace(laid, turn=turn, width_mm=laid.width_mm + 2 * more)


def edges_at(ring: Floats, x: Floats) -> tuple[Floats, Floats]:
    """Least and greatest y of an outline at stations along it; held where it does not reach."""
    ends = np.roll(ring, -1, axis=0)
    run = ends[:, 0] - ring[:, 0]
    low, high = np.minimum(ring[:, 0], ends[:, 0]), np.maximum(ring[:, 0], ends[:, 0])
    crossed = (low[:, None] <= x) & (x <= high[:, None]) & (np.abs(run) > 1e-9)[:, None]
    part = (x - ring[:, :1]) / np.where(np.abs(run) > 1e-9, run, 1.0)[:, None]
    y = ring[:, 1:] + part * (ends[:, 1] - ring[:, 1])[:, None]
    known = crossed.any(axis=0)
    upper = np.where(crossed, y, np.inf).min(axis=0)[known]
    lower = np.where(crossed, y, -np.inf).max(axis=0)[known]
    return np.interp(x, x[known], upper), np.interp(x, x[known], lower)
