"""One of several overlapping photographs of a long board, brought to true scale by its long edges alone.

Its width, taped, and the lens give how far the camera was; where the piece lies along
the board and the rest of its scale come from joining (`vision.join`).
"""

from math import hypot

import numpy as np
from numpy.typing import ArrayLike

from vision.adjust import adjusted
from vision.edges import FittedEdge
from vision.errors import VisionError
from vision.evidence import Evidence, Readings
from vision.frame import Frame
from vision.join import Piece
from vision.lens import LensPrior, unknown_lens
from vision.outline import snapped
from vision.photo import Photo
from vision.rectify import on_arrises
from vision.straight_on import straight_on

__all__ = ["piece_by", "piece_evidence", "true_piece"]

_SURE = 1.96  # standard deviations that hold 95 % of a normal error
_LENGTH_SPREAD = 0.15  # what the picture alone says of the piece's length, before its edges are looked at


def true_piece(
    photo: Photo,
    corners_px: ArrayLike,
    width_mm: float,
    *,
    open_ends: tuple[bool, bool],
    px_per_mm: float = 2.0,
    lens: LensPrior | None = None,
    straight_mm: float = 1.0,
    thickness_mm: float | None = None,
) -> tuple[Piece, Frame]:
    """A piece of a board at true scale, and the frame from its photograph to the piece's own millimetres.

    Parameters
    ----------
    photo : Photo
    corners_px : array-like, [4, 2]
        Where the piece is cut off, (x, y), in board order: at an open end on the two
        long edges near the picture's rim, at a real end the board's corners.
    width_mm : float
        Taped width.
    open_ends : tuple of bool
        Whether the board runs on beyond the near, and beyond the far end of the piece.
    px_per_mm : float
    lens : LensPrior or None
    straight_mm : float
        How far the edges may bow within the piece.
    thickness_mm : float or None
        The board's: tells how much of its own edges shows beside its face.

    Raises
    ------
    VisionError
        Corners that make no piece of a board.
    """
    evidence, edges = piece_evidence(
        photo, corners_px, width_mm, open_ends=open_ends, lens=lens, straight_mm=straight_mm
    )
    if thickness_mm is not None:
        evidence = on_arrises(photo, evidence, edges, thickness_mm)
    return piece_by(photo, evidence, px_per_mm, lens_known=lens is not None)


def piece_evidence(
    photo: Photo,
    corners_px: ArrayLike,
    width_mm: float,
    *,
    open_ends: tuple[bool, bool],
    lens: LensPrior | None = None,
    straight_mm: float = 1.0,
) -> tuple[Evidence, tuple[FittedEdge | None, ...]]:
    """What is known of a piece, as `true_piece` takes it, and its edges as found.

    Raises
    ------
    VisionError
        Corners that make no piece of a board.
    """
    if not (np.isfinite(width_mm) and width_mm > 0):
        raise VisionError(f"the taped width is {width_mm:g} mm; give a number above 0")
    corners = np.asarray(corners_px, dtype=np.float64)
    Frame.from_corners(corners, 1000.0, width_mm)  # refuses corners that make no board
    sides = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
    guess = width_mm * float((sides[0] + sides[2]) / (sides[1] + sides[3]))
    edges = snapped(photo.rgb, corners, open_ends=open_ends).edges
    evidence = Evidence(
        corners_px=corners,
        edges_px=tuple(None if edge is None or not edge.clear else edge.points_px for edge in edges),
        readings=Readings(
            guess, ((None, width_mm),), tape_mm=_LENGTH_SPREAD * guess, straight_mm=straight_mm
        ),
        prior=lens or unknown_lens(photo.width_px, photo.height_px, photo.focal_35mm),
        diagonal_px=hypot(photo.width_px, photo.height_px),
        open_ends=open_ends,
    )
    return evidence, edges


def piece_by(photo: Photo, evidence: Evidence, px_per_mm: float, *, lens_known: bool) -> tuple[Piece, Frame]:
    """The piece that fits the evidence best, and its frame."""
    made = adjusted(evidence, hold_k1=lens_known)
    length, width_mm = made.values["length"], evidence.readings.width
    picture = straight_on(photo.rgb, made.frame, length, width_mm, px_per_mm)
    spread = float(np.clip(made.spreads["length"] / length, 0.002, 0.05))
    grid = np.stack(
        np.meshgrid(np.linspace(0.0, length, 11), [0.0, width_mm / 2, width_mm], indexing="ij"), axis=-1
    )
    across = _SURE * float(made.error_at(grid)[..., 1].max())
    piece = Piece(
        picture,
        picture.shape[1] / length,
        spread,
        sag_mm=made.along_spread(grid[[0, 5, 10], 1], (-0.5, 1.0, -0.5)),
        lean_mm=made.along_spread(grid[[0, 0, 10, 10], [0, 2, 0, 2]], (1.0, -1.0, -1.0, 1.0)),
        foot_mm=made.foot_mm,
        across_mm=across,
    )
    return piece, made.frame
