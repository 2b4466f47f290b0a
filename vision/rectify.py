"""A photograph and a tape reading to a picture of the board at true scale, with its error in mm."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import hypot, isfinite

import numpy as np
from numpy.typing import ArrayLike, NDArray

from vision.adjust import adjusted
from vision.arris import on_the_arris
from vision.contradict import contradiction
from vision.edges import FittedEdge
from vision.errors import VisionError
from vision.evidence import Evidence, Readings, Sheet
from vision.frame import Frame
from vision.gate import Gated, gated
from vision.lens import LensPrior, unknown_lens
from vision.misread import unseen
from vision.offers import SURE, offer
from vision.outline import snapped
from vision.photo import Photo
from vision.shape import edge_bends
from vision.straight_on import check_scale, straight_on
from vision.ticks import LINE_PX, TAPPED_PX, line_near
from vision.waney import waney_outline
from vision.waney_faces import OtherFace, laid_over
from vision.waney_scale import laid_across, with_widths_seen

__all__ = ["TrueScale", "on_arrises", "true_scale"]

Tick = tuple[tuple[float, float], float]

_LEAST_SHOWN_PX = 1.0  # of a board's own edge; less cannot be told from blur
_FAR_FROM_EDGES_MM = 6.0  # corners are tapped to a few pixels, of about 1 mm
_FAR_FROM_TAPED_MM = 4.0  # half of what a waney board may seem wider or narrower than taped
_UNSURE_SEAT_PX = 3.0


@dataclass(frozen=True, eq=False)
class TrueScale:
    """A board seen straight on.

    Parameters
    ----------
    picture : ndarray of uint8, [height, width, 3]
        RGB; pixel (0, 0) is the upper left corner of the board as seen, and the
        picture covers exactly its length x width.
    px_per_mm : float
    length_mm, width_mm : float
    frame : Frame
        Between pixels of the photograph and millimetres of the board as seen.
    outline_mm : tuple of (float, float)
        The board's outline in the picture: its ends may be out of square and its
        edges bowed [mm].
    error_mm : float
        Even the board's worst place is off by less, 19 times of 20; near the ends
        it is better: see `error_along`.
    error_across_mm : float
        The same across the grain alone.
    error_along : tuple of (float, float, float)
        (x, error along the grain, error across it) at stations along the board [mm].
    lens : LensPrior
        The lens as this photograph leaves it known; `vision.lens` pools several.
    lens_learnt : bool
        Whether this photograph's own edges were let correct the lens.
    apart_mm : float
        By how much a waney face laid over the other one may lie apart of it, across; in no other error.
    notes : tuple of str
        What the maker should know, one sentence each.
    """

    picture: NDArray[np.uint8]
    px_per_mm: float
    length_mm: float
    width_mm: float
    frame: Frame
    outline_mm: tuple[tuple[float, float], ...]
    error_mm: float
    error_across_mm: float
    error_along: tuple[tuple[float, float, float], ...]
    lens: LensPrior
    lens_learnt: bool
    apart_mm: float = 0.0
    notes: tuple[str, ...] = ()


def true_scale(
    photo: Photo,
    corners_px: ArrayLike,
    length_mm: float,
    width_mm: float,
    *,
    px_per_mm: float = 2.0,
    lens: LensPrior | None = None,
    widths_mm: Sequence[tuple[float, float]] = (),
    ticks: Sequence[Tick] = (),
    sheets: Sequence[Sheet] = (),
    snap: bool = True,
    straight_mm: float = 1.5,
    parallel_mm: float = 0.5,
    waney: bool = False,
    shown_mm: float | None = None,
    lies_mm: tuple[float, float] | None = None,
    other: OtherFace | None = None,
    thickness_mm: float | None = None,
) -> TrueScale:
    """The board of a photograph at true scale.

    Parameters
    ----------
    photo : Photo
    corners_px : array-like, [4, 2]
        Corners of the board in the photograph, (x, y), in board order.
    length_mm, width_mm : float
        What the tape says; the width at its widest.
    px_per_mm : float
        Scale of the picture.
    lens : LensPrior or None
        The phone's lens, if its profile is known.
    widths_mm : sequence of (station, width)
        Widths read at stations from the datum end [mm]; two or more say how far
        the board tapers, which one width cannot.
    ticks : sequence of ((x, y), reading)
        Pencil ticks: place in the photograph [px] and tape reading [mm]. A line seen
        beside the place is taken for the tick.
    sheets : sequence of Sheet
        Marker sheets found in the photograph.
    snap : bool
        Whether the corners and ticks are moved to the edges and lines found beside them.
    straight_mm, parallel_mm : float
        How far the edges may bow, and be out of parallel when one width was read,
        one standard deviation [mm]: 1.5 and 0.5 for boards as sawn, 0.2 for jointed ones.
    waney : bool
        Whether the edges are as they grew: they say nothing of the scale then, are
        followed point by point, and the picture covers all of them.
    shown_mm : float or None
        The least width the picture of a waney board shall have, as both its faces share one
        frame: what is seen lies in its middle, and half of what it is seen narrower or wider than read is
        added to the error across. A board with one straight edge is laid by that edge instead.
    lies_mm : (float, float) or None
        Between which places across that picture the face of a waney board lies, if it was measured.
    other : OtherFace or None
        The other face in a picture of that width: the narrower one is laid over the wider one.
    thickness_mm : float or None
        The board's, if it lies on a bench: tells how much of its own edges shows beside its face.

    Raises
    ------
    VisionError
        A reading or a corner that cannot be; the message says which.
    """
    _check_size("length", length_mm)
    _check_size("width", width_mm)
    check_scale(px_per_mm, length_mm, width_mm)
    corners = np.asarray(corners_px, dtype=np.float64)
    Frame.from_corners(corners, length_mm, width_mm)  # refuses corners that make no board
    edges: tuple[FittedEdge | None, ...] = (None,) * 4
    if snap:
        found = snapped(photo.rgb, corners, straight=not waney)
        corners, edges = found.corners_px, found.edges
    prior = lens or unknown_lens(photo.width_px, photo.height_px, photo.focal_35mm)
    places, ticks_px = _on_their_lines(
        photo, Frame.from_corners(corners, length_mm, width_mm, prior.lens), ticks, width_mm, snap
    )
    readings = Readings(
        length=length_mm,
        widths=tuple(widths_mm) if len(widths_mm) > 1 else ((None, width_mm),),
        ticks=places,
        straight_mm=straight_mm,
        parallel_mm=parallel_mm,
        ticks_px=ticks_px,
    )
    evidence = Evidence(
        corners_px=corners,
        edges_px=tuple(None if edge is None or not edge.clear else edge.points_px for edge in edges),
        readings=readings,
        prior=prior,
        diagonal_px=hypot(photo.width_px, photo.height_px),
        sheets=tuple(sheets),
    )
    if thickness_mm is not None and not waney:
        evidence = on_arrises(photo, evidence, edges, thickness_mm)
    if waney:
        evidence = with_widths_seen(photo.rgb, evidence)
    made = _result(photo, gated(evidence), evidence, width_mm, px_per_mm, waney)
    if waney:
        return _with_waney_edges(photo, made, shown_mm, lies_mm, other, thickness_mm)
    return _doubting_straight_edges(made, np.asarray(corners_px, dtype=np.float64))


def _on_their_lines(
    photo: Photo, frame: Frame, ticks: Sequence[Tick], width_mm: float, snap: bool
) -> tuple[tuple[Tick, ...], tuple[float, ...]]:
    """Ticks moved onto the lines seen beside them, and how well each place is known then [px]."""
    places, spreads = [], []
    for at, reading in ticks:
        line = line_near(photo.rgb, at, frame, width_mm) if snap else None
        places.append(((float(line[0]), float(line[1])) if line is not None else at, reading))
        spreads.append(TAPPED_PX if line is None else LINE_PX)
    return tuple(places), tuple(spreads)


def _doubting_straight_edges(made: TrueScale, corners_px: NDArray[np.float64]) -> TrueScale:
    """The same, with a word where corners set by hand lie far beside the straight edges laid through.

    A waney board taken for square is laid by lines that are no edges: 40 mm wrong along, and sure of it.
    """
    across = made.frame.to_mm(corners_px)[:, 1] - np.array([0.0, 0.0, made.width_mm, made.width_mm])
    off = float(np.abs(across).max())
    if off <= _FAR_FROM_EDGES_MM:
        return made
    said = (
        f"the corners lie up to {off:.0f} mm beside the straight edges seen; put them on the edges, or, if "
        "the long edges are as they grew, say that the board is waney"
    )
    return replace(made, notes=(*made.notes, said))


def _with_waney_edges(
    photo: Photo,
    made: TrueScale,
    shown_mm: float | None,
    lies_mm: tuple[float, float] | None,
    other: OtherFace | None,
    thickness_mm: float | None,
) -> TrueScale:
    """The same board with its edges followed, and the picture as wide as they need, or as asked."""
    try:
        ring = np.array(waney_outline(photo.rgb, made.frame, made.length_mm, made.width_mm))
    except VisionError as error:
        return _in_the_middle(photo, replace(made, notes=(*made.notes, str(error))), shown_mm or 0.0)
    laid = laid_across(ring, made.length_mm, made.width_mm, shown_mm, lies_mm)
    seen = [made.frame.to_mm(one.at_px) for one in other.same] if other else ()
    laid = laid_over(ring, laid, other, shown_mm, thickness_mm, seen)
    frame = Frame(laid.turn @ made.frame.to_board, made.frame.lens)
    ring = ring @ laid.turn[:2, :2].T + laid.turn[:2, 2]
    width, more = laid.width_mm, laid.aside_mm
    ring = np.clip(ring, 0.0, [made.length_mm, width])
    along = tuple((x, a, b + more) for x, a, b in made.error_along)
    notes = (*made.notes, *laid.notes)
    if abs(made.width_mm - laid.seen_mm) / 2 > max(_FAR_FROM_TAPED_MM, made.error_across_mm):
        notes = (
            *notes,
            f"the board is seen {laid.seen_mm:.0f} mm wide and the widest reading is {made.width_mm:g} mm; "
            "read the width where it is widest, and at both ends",
        )
    return replace(
        made,
        picture=straight_on(photo.rgb, frame, made.length_mm, width, made.px_per_mm),
        width_mm=width,
        frame=frame,
        outline_mm=tuple((float(x), float(y)) for x, y in ring),
        error_mm=max(hypot(a, b) for _, a, b in along) if more else made.error_mm,
        error_across_mm=made.error_across_mm + more,
        error_along=along,
        apart_mm=laid.apart_mm,
        notes=notes,
    )


def _in_the_middle(photo: Photo, made: TrueScale, shown_mm: float) -> TrueScale:
    """The same board in the middle of a picture as wide as asked, if that is wider."""
    move = (shown_mm - made.width_mm) / 2
    if move <= 0:
        return made
    frame = Frame(np.array([[1, 0, 0], [0, 1, move], [0, 0, 1.0]]) @ made.frame.to_board, made.frame.lens)
    return replace(
        made,
        picture=straight_on(photo.rgb, frame, made.length_mm, shown_mm, made.px_per_mm),
        width_mm=shown_mm,
        frame=frame,
        outline_mm=tuple((x, y + move) for x, y in made.outline_mm),
    )


def on_arrises(
    photo: Photo, evidence: Evidence, edges: tuple[FittedEdge | None, ...], thickness_mm: float
) -> Evidence:
    """The evidence with those long edges moved onto the arris beside which the board's own edge shows."""
    # An edge taken for face makes the board seem too wide, as if seen less aslant: that is left open.
    standing = adjusted(replace(evidence, seat_px=_UNSURE_SEAT_PX))
    points = list(evidence.edges_px)
    for side in (0, 2):
        edge = edges[side]
        if edge is None or points[side] is None or edge.side_px > 0:
            continue
        # The edge's points run round the board: along the far edge from its far end.
        run = (0.05, 0.95) if side == 0 else (0.95, 0.05)
        shows = standing.edge_shows_px(side, thickness_mm, run)
        if shows.mean() < _LEAST_SHOWN_PX:
            continue
        _, along = edge.line
        inward = np.array([-along[1], along[0]])
        points[side] = on_the_arris(photo.rgb, edge, inward, np.maximum(shows, 0.0).tolist()).points_px
    return replace(evidence, edges_px=tuple(points))


def _result(
    photo: Photo,
    answer: Gated,
    evidence: Evidence,
    width_mm: float,
    px_per_mm: float,
    waney: bool,
) -> TrueScale:
    made = answer.made
    length_mm = evidence.readings.length
    stations = np.linspace(0.0, length_mm, 21)
    grid = np.stack(np.meshgrid(stations, [0.0, width_mm / 2, width_mm]), axis=-1)
    off = SURE * made.error_at(grid).max(axis=0)
    return TrueScale(
        picture=straight_on(photo.rgb, made.frame, length_mm, width_mm, px_per_mm),
        px_per_mm=px_per_mm,
        length_mm=length_mm,
        width_mm=width_mm,
        frame=made.frame,
        outline_mm=_outline(made.values, length_mm, width_mm),
        error_mm=float(np.hypot(off[:, 0], off[:, 1]).max()),
        error_across_mm=float(off[:, 1].max()),
        error_along=tuple((float(x), float(a), float(b)) for x, (a, b) in zip(stations, off, strict=True)),
        lens=answer.lens,
        lens_learnt=answer.learnt,
        notes=tuple(_notes(answer, evidence, width_mm, waney)),
    )


def _outline(board: dict[str, float], length_mm: float, width_mm: float) -> tuple[tuple[float, float], ...]:
    """The outline the adjustment found, inside the picture; a plain rectangle where it is nearly one."""
    part = np.linspace(0.0, 1.0, 9)
    upper, bent = edge_bends(board, part)
    lower = board["width"] + board["taper"] * (part - 0.5) + bent
    near, far = board["skew near"] * board["width"] / 2, board["skew far"] * board["width"] / 2
    left = np.interp(part, [0, 1], [-near, board["length"] - far])
    right = np.interp(part, [0, 1], [near, board["length"] + far])
    ring = np.concatenate([np.stack([left, upper], axis=1), np.stack([right, lower], axis=1)[::-1]])
    ring = np.clip(ring, 0.0, [length_mm, width_mm])
    plain = np.concatenate(
        [
            np.stack([part * length_mm, 0 * part], 1),
            np.stack([part * length_mm, 0 * part + width_mm], 1)[::-1],
        ]
    )
    if np.abs(ring - plain).max() < 0.5:
        return ((0.0, 0.0), (length_mm, 0.0), (length_mm, width_mm), (0.0, width_mm))
    return tuple((float(x), float(y)) for x, y in ring)


def _notes(answer: Gated, evidence: Evidence, width_mm: float, waney: bool) -> list[str]:
    notes = []
    if any(edge is None for edge in (evidence.edges_px[1::2] if waney else evidence.edges_px)):
        notes.append("an edge of the board could not be followed; its corners are taken as they were set")
    # Readings that contradict one another are to be put right before further ones are made.
    odd = contradiction(evidence, answer.made)
    said = [odd] if odd else [unseen(evidence, answer.made), offer(evidence, answer, width_mm)]
    return [*notes, *(one for one in said if one)]


def _check_size(what: str, value: float) -> None:
    if not (isfinite(value) and value > 0):
        raise VisionError(f"the taped {what} is {value:g} mm; give a number above 0")
    if value > 20_000:
        raise VisionError(f"the taped {what} is {value:g} mm; that is longer than 20 m, give millimetres")
