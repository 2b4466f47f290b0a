"""One picture of a long board from overlapping pieces of it.

Each piece has been brought to true scale by its own edges; what is left is where
it lies along the board, a small error of its scale, and that its middle lies a
little too near to one end. Neighbours are compared along the grain only, lane by lane::

    piece i      |==========[ overlap ]          x = start_i + stretch_i u + sag_i 4 p (1 - p)
    piece i+1             [ overlap ]==========|  u along the piece, p = u / its length

and the pairs found, the ends, the tape and any chalk marks go into one linear
least squares. Chaining homographies from photo to photo instead lets the length
drift by centimetres.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.errors import VisionError
from vision.tied import Loose, Tied, tied

__all__ = ["ChalkMark", "Join", "JoinedBoard", "Piece", "joined"]

_LANES = 10
_WORK = 2.0  # px per mm at which pieces are compared
_LEAST_OVERLAP_MM = 50.0
_WINDOWS = 4
_STRONG = 0.25  # correlation a join should have
_DISTINCT = 1.35  # best correlation over the best one elsewhere
_VERY_STRONG, _HARDLY_DISTINCT = 0.6, 1.05  # even grain is like itself a little farther on
_HALF = 0.22  # middle of the lanes of one half, from the middle of the board, as a part of its width
_APART_MM = 5.0  # as far as the two halves of a board may differ
_STEADY_MM = 2.0  # as far as the windows of one overlap may disagree


@dataclass(frozen=True, eq=False)
class Piece:
    """A true-scale picture of a part of a board, x along the grain from left to right.

    Parameters
    ----------
    picture : ndarray of uint8, [height, width, 3]
    px_per_mm : float
    spread : float
        How true its own millimetres are along the grain, as a part of them: 0.005
        when it was squared by its edges and the camera's lens alone.
    sag_mm : float
        How far its middle may lie from half-way between its ends, one standard
        deviation [mm]: a piece's ends tell its perspective only as well as their widths.
    lean_mm : float
        How much shorter one edge may be than the other because the camera leant over
        it, one standard deviation [mm].
    foot_mm : float or None
        Over which of its places the camera stood [mm]; None for its middle.
    across_mm : float
        How far 95 % of its places may be off across the grain [mm].
    """

    picture: NDArray[np.uint8]
    px_per_mm: float
    spread: float = 0.005
    sag_mm: float = 0.5
    lean_mm: float = 1.0
    foot_mm: float | None = None
    across_mm: float = 1.5

    @property
    def length_mm(self) -> float:
        return int(self.picture.shape[1]) / self.px_per_mm


@dataclass(frozen=True)
class ChalkMark:
    """A chalk line across the board that is seen in one piece.

    Parameters
    ----------
    piece : int
        Which piece, from the datum end.
    at_mm : float
        Where in it, from its left [mm].
    name : str
        The same name in two pieces is the same line.
    reading_mm : float or None
        Its tape reading from the datum end, if it was read.
    part : float
        Where across the board it was set, 0 at the upper edge to 1 at the lower.
    """

    piece: int
    at_mm: float
    name: str
    reading_mm: float | None = None
    part: float = 0.5


@dataclass(frozen=True)
class Join:
    """How two neighbours were joined.

    Parameters
    ----------
    overlap_mm : float
    correlation : float
        Of the grain in the overlap, -1 to 1.
    distinct : float
        That correlation over the best one at any other shift.
    spread_mm : float
        How far the windows of the overlap disagree.
    weak : bool
        Not to be trusted: the maker must look, or chalk a line and photograph again.
    by_chalk : bool
        Held by a chalk mark.
    """

    overlap_mm: float
    correlation: float
    distinct: float
    spread_mm: float
    weak: bool
    by_chalk: bool = False


@dataclass(frozen=True, eq=False)
class JoinedBoard:
    """The whole board.

    Parameters
    ----------
    picture : ndarray of uint8, [height, width, 3]
    px_per_mm : float
    length_mm : float
        As taped.
    untied_mm : float
        The length the pieces alone would have given.
    joins : tuple of Join
    starts_mm, stretches, sags_mm : tuple of float
        Where each piece begins, by what its millimetres were stretched, and by how much
        its middle was moved.
    error_mm : float
        95 % of places are off by less, from joining alone; not to be used while a join is weak.
    places : Tied
        Between places of a piece and of the board.
    notes : tuple of str
    """

    picture: NDArray[np.uint8]
    px_per_mm: float
    length_mm: float
    untied_mm: float
    joins: tuple[Join, ...]
    starts_mm: tuple[float, ...]
    stretches: tuple[float, ...]
    sags_mm: tuple[float, ...]
    error_mm: float
    places: Tied
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class _Match:
    """Pairs (u in the left piece, u in the right one [mm], place across), and what to think of them."""

    pairs: NDArray[np.float64]
    join: Join


def joined(
    pieces: Sequence[Piece],
    length_mm: float,
    *,
    chalk: Sequence[ChalkMark] = (),
    tape_mm: float = 0.7,
    px_per_mm: float | None = None,
) -> JoinedBoard:
    """The board from its pieces.

    Parameters
    ----------
    pieces : sequence of Piece
        From the datum end; the first begins at it, the last ends at the far end.
    length_mm : float
        Taped length of the whole board.
    chalk : sequence of ChalkMark
    tape_mm : float
        How well the tape was read, one standard deviation [mm].
    px_per_mm : float or None
        Scale of the answer; None for that of the first piece.

    Raises
    ------
    VisionError
        Fewer than two pieces, or pieces too short to overlap.
    """
    if len(pieces) < 2:
        raise VisionError(f"{len(pieces)} piece cannot be joined; give two or more, from the datum end on")
    if sum(piece.length_mm for piece in pieces) < length_mm:
        raise VisionError(
            f"the pieces are {sum(p.length_mm for p in pieces):.0f} mm long together and the board is "
            f"{length_mm:g} mm; photograph it with overlaps"
        )
    lanes = [_lanes(piece) for piece in pieces]
    matches = [_match(a, b) for a, b in pairwise(lanes)]
    matches = [_with_chalk(match, i, chalk) for i, match in enumerate(matches)]
    known = [_loose(piece) for piece in pieces]
    pairs = [match.pairs for match in matches]
    read = [
        (mark.piece, mark.at_mm, mark.part - 0.5, mark.reading_mm)
        for mark in chalk
        if mark.reading_mm is not None
    ]
    places = tied(known, pairs, read, length_mm, tape_mm)
    scale = px_per_mm or pieces[0].px_per_mm
    joins = tuple(match.join for match in matches)
    return JoinedBoard(
        picture=_composed(pieces, places, length_mm, scale),
        px_per_mm=scale,
        length_mm=length_mm,
        untied_mm=float(tied(known, pairs, (), None, tape_mm).along(-1, pieces[-1].length_mm)),
        joins=joins,
        starts_mm=tuple(float(start) for start in places.starts),
        stretches=tuple(float(stretch) for stretch in places.stretches),
        sags_mm=tuple(float(sag) for sag in places.sags),
        error_mm=places.error_mm,
        places=places,
        notes=tuple(_notes(joins)),
    )


def _loose(piece: Piece) -> Loose:
    foot = piece.length_mm / 2 if piece.foot_mm is None else piece.foot_mm
    return Loose(piece.length_mm, piece.spread, piece.sag_mm, piece.lean_mm, foot)


def _lanes(piece: Piece) -> NDArray[np.float32]:
    """Grey value along the grain in lanes across the board, slow changes of light taken out, [lane, x]."""
    grey = np.asarray(cv2.cvtColor(piece.picture, cv2.COLOR_RGB2GRAY), dtype=np.float32)
    columns = max(8, round(piece.length_mm * _WORK))
    inner = grey[round(0.06 * grey.shape[0]) : max(1, round(0.94 * grey.shape[0]))]
    lanes = np.asarray(cv2.resize(inner, (columns, _LANES), interpolation=cv2.INTER_AREA), dtype=np.float32)
    lanes = np.log(np.maximum(lanes, 4.0))
    slow = cv2.GaussianBlur(lanes, (0, 0), sigmaX=12.0 * _WORK, sigmaY=0.01, borderType=cv2.BORDER_REFLECT)
    fine = cv2.GaussianBlur(lanes - slow, (0, 0), sigmaX=0.5 * _WORK, sigmaY=0.01)
    fine = np.asarray(fine, dtype=np.float32)
    limit = 3.0 * np.std(fine, axis=1, keepdims=True)
    return np.clip(fine, -limit, limit)  # one black knot shall not outweigh all the grain


def _match(left: NDArray[np.float32], right: NDArray[np.float32]) -> _Match:
    """Where the right piece lies on the left one."""
    scores = _scores(left, right)
    best = int(np.argmax(scores))
    apart = np.abs(np.arange(scores.size) - best) > 4.0 * _WORK
    rival = float(scores[apart].max()) if np.any(apart) else 0.0
    shift = best  # column of the left piece over the right one's first
    overlap = left.shape[1] - shift
    pairs, spread = _fine_pairs(left, right, shift, overlap)
    correlation = float(scores[best])
    distinct = correlation / max(rival, 1e-3)
    clear = distinct >= _DISTINCT or (correlation >= _VERY_STRONG and distinct >= _HARDLY_DISTINCT)
    weak = correlation < _STRONG or not clear or spread > _STEADY_MM or len(pairs) < 2
    return _Match(_by_halves(left, right, pairs), Join(overlap / _WORK, correlation, distinct, spread, weak))


def _by_halves(
    left: NDArray[np.float32], right: NDArray[np.float32], pairs: NDArray[np.float64]
) -> NDArray[np.float64]:
    """The pairs, found anew along the upper and the lower half of the board where both are clear, [n, 3]."""
    whole = np.column_stack([pairs, np.zeros(len(pairs))])
    if not len(pairs):
        return whole
    offset = float(np.median(pairs[:, 0] - pairs[:, 1]))
    shift = round(offset * _WORK)
    found = []
    for half, v in ((slice(None, _LANES // 2), -_HALF), (slice(_LANES // 2, None), _HALF)):
        own, _ = _fine_pairs(left[half], right[half], shift, left.shape[1] - shift)
        own = own[np.abs(own[:, 0] - own[:, 1] - offset) < _APART_MM]
        if len(own) < 2:
            return whole
        found.append(np.column_stack([own, np.full(len(own), v)]))
    return np.concatenate(found)


def _scores(left: NDArray[np.float32], right: NDArray[np.float32]) -> NDArray[np.float64]:
    """Correlation of the two at each shift; shifts with too little overlap count as -1."""
    width = left.shape[1]
    scores = np.full(width, -1.0)
    least = int(_LEAST_OVERLAP_MM * _WORK)
    for shift in range(max(1, width - right.shape[1]), width - least):
        a, b = left[:, shift:], right[:, : width - shift]
        up = float(np.sum(a * b))
        down = float(np.sqrt(np.sum(a * a) * np.sum(b * b)))
        # A short overlap agrees by chance: its correlation counts less.
        scores[shift] = up / max(down, 1e-9) - 1.0 / np.sqrt(_LANES * (width - shift) / _WORK / 2.0)
    return scores


def _fine_pairs(
    left: NDArray[np.float32], right: NDArray[np.float32], shift: int, overlap: int
) -> tuple[NDArray[np.float64], float]:
    """Pairs of places [mm] from windows of the overlap, and their spread about a straight line [mm]."""
    reach = round(5.0 * _WORK)
    size = max(int(overlap / _WINDOWS), int(30 * _WORK))
    pairs = []
    for start in np.linspace(0, max(0, overlap - size), _WINDOWS):
        low = int(start)
        window = right[:, low : low + size]
        begin = max(0, shift + low - reach)
        field = left[:, begin : shift + low + size + reach]
        if field.shape[1] <= window.shape[1] or window.shape[1] < 20:
            continue
        score = np.asarray(cv2.matchTemplate(field, window, cv2.TM_CCORR_NORMED)).ravel()
        peak = int(score.argmax())
        if score[peak] < 0.15 or peak in (0, score.size - 1):
            continue
        a, b, c = (float(v) for v in score[peak - 1 : peak + 2])
        part = (a - c) / (2 * (a - 2 * b + c)) if a - 2 * b + c < -1e-9 else 0.0
        middle = low + window.shape[1] / 2
        pairs.append(((begin + peak + part + window.shape[1] / 2) / _WORK, middle / _WORK))
    if not pairs:
        return np.zeros((0, 2)), float("inf")
    found = np.array(pairs)
    offset = found[:, 0] - found[:, 1]
    kept = np.abs(offset - np.median(offset)) <= max(
        1.0, 3 * float(np.median(np.abs(offset - np.median(offset))))
    )
    spread = float(offset.max() - offset.min()) if len(offset) > 1 else float("inf")
    return found[kept], spread


def _with_chalk(match: _Match, index: int, chalk: Sequence[ChalkMark]) -> _Match:
    """A weak join is held by chalk lines seen in both pieces, and its own pairs are dropped."""
    left = {mark.name: mark for mark in chalk if mark.piece == index}
    right = {mark.name: mark for mark in chalk if mark.piece == index + 1}
    both = [
        (left[name].at_mm, right[name].at_mm, (left[name].part + right[name].part) / 2 - 0.5)
        for name in left
        if name in right
    ]
    if not both:
        return match
    join = match.join
    own_offset = np.median(match.pairs[:, 0] - match.pairs[:, 1]) if len(match.pairs) else np.inf
    agrees = abs(own_offset - np.mean([a - b for a, b, _ in both])) < 3.0
    own = match.pairs if agrees else np.zeros((0, 3))
    held = Join(join.overlap_mm, join.correlation, join.distinct, join.spread_mm, weak=False, by_chalk=True)
    return _Match(np.concatenate([own, np.array(both)]), held)


def _composed(pieces: Sequence[Piece], places: Tied, length_mm: float, px_per_mm: float) -> NDArray[np.uint8]:
    """The pieces laid over one another, each in the light of the one before, fading in the overlaps."""
    rows = max(round(p.picture.shape[0] / p.px_per_mm * px_per_mm) for p in pieces)
    x = (np.arange(round(length_mm * px_per_mm)) + 0.5) / px_per_mm
    total = np.zeros((rows, x.size, 3), dtype=np.float32)
    weight = np.zeros(x.size, dtype=np.float32)
    for number, piece in enumerate(pieces):
        u = places.within(number, x)
        slant = places.within(number, x, 0.5) - u
        on = np.flatnonzero((u >= -1.0) & (u <= piece.length_mm + 1.0))
        if on.size == 0:
            continue
        v = (np.arange(rows, dtype=np.float32) + 0.5) / rows * 2.0 - 1.0
        middle, more = (u[on] * piece.px_per_mm - 0.5).astype(np.float32), slant[on] * piece.px_per_mm
        at = middle + v[:, None] * more.astype(np.float32)
        height = piece.picture.shape[0]
        down = ((np.arange(rows) + 0.5) / rows * height - 0.5).astype(np.float32)
        source = np.asarray(piece.picture, dtype=np.uint8)
        part = cv2.remap(
            source,
            at,
            np.repeat(down[:, None], on.size, axis=1),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        ).astype(np.float32)
        fade = np.minimum(u[on], piece.length_mm - u[on]).astype(np.float32)
        fade = np.clip(fade, 0.05, 80.0)
        shared = on[weight[on] > 0]
        if shared.size > 20:
            before = total[:, shared] / weight[shared][None, :, None]
            now = part[:, shared - on[0]]
            part *= np.clip(
                np.median(before, axis=(0, 1)) / np.maximum(np.median(now, axis=(0, 1)), 1.0), 0.6, 1.7
            )
        total[:, on] += part * fade[None, :, None]
        weight[on] += fade
    return np.clip(total / np.maximum(weight, 1e-6)[None, :, None], 0, 255).astype(np.uint8)


def _notes(joins: Sequence[Join]) -> list[str]:
    return [
        f"pieces {i} and {i + 1} do not fit together surely; "
        "chalk a line across the board where they overlap and photograph both again"
        for i, join in enumerate(joins, start=1)
        if join.weak
    ]
