"""A long board from overlapping photographs: each squared, joined, squared again by its neighbours, joined.

The long edges of a piece hardly say how far the camera leant over one of them, and a
lean of five degrees makes a board seem 4 mm a metre longer against its width. But it
makes one edge run shorter than the other too, and that its neighbours see: so after a
first joining each piece is told which of its places lie square across from one another::

    p1 . . . . p2      p and q at one place along the board, by the first joining
    q1 . . . . q2
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from vision.edges import FittedEdge
from vision.evidence import Evidence
from vision.frame import Frame
from vision.join import ChalkMark, JoinedBoard, Piece, joined
from vision.lens import LensPrior
from vision.photo import Photo
from vision.piece import piece_by, piece_evidence
from vision.rectify import on_arrises
from vision.straight_on import straight_on
from vision.tied import Tied

__all__ = ["PartSeen", "PhotosJoined", "joined_photos"]

_TWICE = 2.0  # what neighbours say of a lean is used again in the second joining: it counts half here
_LEAST_MM = 0.3
_STATIONS = (0.02, 0.5, 0.98)  # of a piece, where it is told what lies square across


@dataclass(frozen=True, eq=False)
class PartSeen:
    """One of the photographs.

    Parameters
    ----------
    photo : Photo
    corners_px : array-like, [4, 2]
        Where the piece is cut off, as `vision.piece.true_piece` takes them.
    width_mm : float
        Taped about its middle.
    px_per_mm : float
        Scale of its picture.
    """

    photo: Photo
    corners_px: ArrayLike
    width_mm: float
    px_per_mm: float = 2.0


@dataclass(frozen=True, eq=False)
class PhotosJoined:
    """The board, and its pieces as they were joined.

    Parameters
    ----------
    board : JoinedBoard
    pieces : tuple of Piece
    frames : tuple of Frame
        From each photograph to its piece's own millimetres.
    """

    board: JoinedBoard
    pieces: tuple[Piece, ...]
    frames: tuple[Frame, ...]


def joined_photos(
    parts: Sequence[PartSeen],
    length_mm: float,
    *,
    lens: LensPrior | None = None,
    thickness_mm: float | None = None,
    shown_mm: float | None = None,
    chalk: Callable[[Sequence[Frame]], Sequence[ChalkMark]] = lambda _: (),
) -> PhotosJoined:
    """The board from photographs that overlap.

    Parameters
    ----------
    parts : sequence of PartSeen
        From the datum end; the first begins at it, the last ends at the far end.
    length_mm : float
        Taped length of the whole board.
    lens : LensPrior or None
        The phone's lens, if it is known.
    thickness_mm : float or None
        The board's.
    shown_mm : float or None
        How much of the width is shown; None for what was taped at each piece.
    chalk : callable
        Chalk marks, given the frames of the photographs.

    Raises
    ------
    VisionError
        Corners that make no piece of a board, or pieces that do not make up its length.
    """
    known = [
        piece_evidence(
            part.photo, part.corners_px, part.width_mm, open_ends=(n > 0, n < len(parts) - 1), lens=lens
        )
        for n, part in enumerate(parts)
    ]
    first = _squared(parts, known, lens, thickness_mm, shown_mm)
    board = joined([piece for piece, _ in first], length_mm, chalk=chalk([frame for _, frame in first]))
    trusted = [not join.weak for join in board.joins]
    told = [
        (_told(evidence, edges, *made, (n, board.places)) if _held(n, trusted) else (evidence, edges))
        for n, ((evidence, edges), made) in enumerate(zip(known, first, strict=True))
    ]
    again = _squared(parts, told, lens, thickness_mm, shown_mm)
    pieces, frames = zip(*again, strict=True)
    return PhotosJoined(joined(pieces, length_mm, chalk=chalk(frames)), pieces, frames)


Known = tuple[Evidence, tuple[FittedEdge | None, ...]]


def _squared(
    parts: Sequence[PartSeen],
    known: Sequence[Known],
    lens: LensPrior | None,
    thickness_mm: float | None,
    shown_mm: float | None,
) -> list[tuple[Piece, Frame]]:
    """Each piece at true scale by what is known of it so far."""
    answer = []
    for part, (evidence, edges) in zip(parts, known, strict=True):
        if thickness_mm is not None:
            evidence = on_arrises(part.photo, evidence, edges, thickness_mm)
        piece, frame = piece_by(part.photo, evidence, part.px_per_mm, lens_known=lens is not None)
        if shown_mm is not None:
            picture = straight_on(part.photo.rgb, frame, piece.length_mm, shown_mm, part.px_per_mm)
            piece = replace(piece, picture=picture, px_per_mm=picture.shape[1] / piece.length_mm)
        answer.append((piece, frame))
    return answer


def _held(number: int, trusted: Sequence[bool]) -> bool:
    """Whether every join beside a piece is to be trusted."""
    return all(trusted[max(0, number - 1) : number + 1])


def _told(
    evidence: Evidence,
    edges: tuple[FittedEdge | None, ...],
    piece: Piece,
    frame: Frame,
    joined_as: tuple[int, Tied],
) -> Known:
    """What is known of a piece, with the places that lie square across from one another."""
    number, places = joined_as
    spread = max(_LEAST_MM, _TWICE**0.5 * float(places.lean_spreads[number]) / 2)
    width = evidence.readings.width
    level = []
    for part in _STATIONS:
        x = places.along(number, part * piece.length_mm)
        above, below = (float(places.within(number, x, v)) for v in (-0.5, 0.5))
        p, q = frame.to_px(np.array([[above, 0.0], [below, width]]))
        level.append((_point(p), _point(q), spread))
    return replace(evidence, level_px=tuple(level)), edges


def _point(at: NDArray[np.float64]) -> tuple[float, float]:
    return float(at[0]), float(at[1])
