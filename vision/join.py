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
from vision.overlap import Join, Match, lanes_of, match_of
from vision.tied import Loose, Tied, tied

__all__ = ["ChalkMark", "Join", "JoinedBoard", "Piece", "joined"]


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
    lanes = [lanes_of(piece.picture, piece.length_mm) for piece in pieces]
    matches = [match_of(a, b) for a, b in pairwise(lanes)]
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


def _with_chalk(match: Match, index: int, chalk: Sequence[ChalkMark]) -> Match:
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
    return Match(np.concatenate([own, np.array(both)]), held)


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
