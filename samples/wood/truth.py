"""What is true of a sawn board: outlines of its faces and of every fault, and their depth.

The outlines are contours of the solids themselves on the two faces, so front
and back agree by construction.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np
from shapely import Polygon
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry
from skimage.measure import find_contours

from layout.outline import Outline, normal_outline, rectangle
from layout.stock import Board, Defect, DefectKind, Face, Price, Where, Wish
from samples.wood.faults import Branch, Fault, Points
from samples.wood.noise import Floats
from samples.wood.sawn import SawnBoard

__all__ = ["Known", "board_as_known", "defects_of", "face_outline", "known_faults"]

_LEAST_AREA = 1.0  # [mm2] below this a fault cannot be seen
_LEAN = 15.0  # [mm] a fissure this far aside on the other face is one that leans
_FISSURES = (DefectKind.SPLIT, DefectKind.SHAKE, DefectKind.CHECK)
_FINE = 0.25  # [mm] step across the grain


@dataclass(frozen=True)
class Known:
    """One fault as it shows.

    Parameters
    ----------
    id : str
    kind : dict of Face to DefectKind
        What it looks like on each face it shows on.
    shows : dict of Face to tuple of Outline
        Its outlines in the board frame [mm].
    depth : dict of Face to float
        How far it reaches from each face it shows on [mm].
    """

    id: str
    kind: dict[Face, DefectKind]
    shows: dict[Face, tuple[Outline, ...]]
    depth: dict[Face, float]


def known_faults(board: SawnBoard) -> tuple[Known, ...]:
    """Every fault that shows on a face of the board."""
    found = []
    for fault in board.faults:
        x = _window(board, fault)
        if x is None:
            continue
        y = np.arange(0, board.width + _FINE / 2, _FINE, dtype=np.float32)
        shows: dict[Face, tuple[Outline, ...]] = {}
        kind: dict[Face, DefectKind] = {}
        for face in Face:
            points = board.points(x[None, :], y[:, None], board.depth_of(face))
            outlines = _outlines(_in_wood(board, fault, points), x, y)
            if outlines:
                shows[face] = outlines
                kind[face] = fault.kind_among(points) if isinstance(fault, Branch) else fault.kind
        if shows:
            found.append(Known(fault.id, kind, shows, _depths(board, fault, tuple(shows), x)))
    return tuple(found)


def defects_of(known: Known) -> tuple[Defect, ...]:
    """The fault as the layout wants it, in the board frame.

    One through defect where both faces show the same kind and the outlines meet
    or nearly so, with the hull of both: the solid runs between. Otherwise, and for
    sapwood, whose two outlines both count, one defect per outline: of depth None
    ("right through, seen on its own face only") if it does pass through the board,
    else of its known depth.
    """
    front, back = known.shows.get(Face.FRONT, ()), known.shows.get(Face.BACK, ())
    kinds = set(known.kind.values())
    if len(front) == len(back) == len(kinds) == 1 and kinds != {DefectKind.SAPWOOD}:
        one, two = Polygon(front[0]), Polygon(back[0])
        if one.distance(two) < (_LEAN if known.kind[Face.FRONT] in _FISSURES else 2.0):
            both = _plain(one.union(two).convex_hull)
            return (Defect(known.id, known.kind[Face.FRONT], both, Where.THROUGH, None, Wish.MAY_HIDE),)
    through = bool(front) and bool(back)
    found = []
    for face, outlines in known.shows.items():
        for number, outline in enumerate(outlines, start=1):
            name = known.id if len(known.shows) == len(outlines) == 1 else f"{known.id} {face} {number}"
            depth = None if through else round(known.depth[face], 1)
            found.append(Defect(name, known.kind[face], outline, Where(face.value), depth, Wish.MAY_HIDE))
    return tuple(found)


def face_outline(board: SawnBoard, face: Face) -> Outline:
    """Outline of one face in the board frame [mm]; of the largest piece, if bark cuts it in two."""
    if not board.waney:
        return rectangle(0.0, 0.0, board.length, board.width)
    x = np.linspace(0, board.length, int(board.length / 4) + 1, dtype=np.float32)
    y = np.linspace(0, board.width, int(board.width / 0.5) + 1, dtype=np.float32)
    wood = board.log.bark_edge(board.points(x[None, :], y[:, None], board.depth_of(face)).grown)
    outlines = _outlines(wood, x, y)
    if not outlines:
        raise ValueError(f"board {board.id}: no wood on its {face} face; saw it nearer the pith")
    return max(outlines, key=lambda ring: Polygon(ring).area)


def board_as_known(board: SawnBoard, price: Price | None = None) -> Board:
    """The board with all its faults, as the layout knows boards."""
    return Board(
        id=board.id,
        front=face_outline(board, Face.FRONT),
        back=face_outline(board, Face.BACK),
        thickness=board.thickness,
        species=board.log.species.name,
        defects=tuple(d for known in known_faults(board) for d in defects_of(known)),
        turned=board.turned,
        price=price or Price(0.0),
        grain=float(np.degrees(board.slope)),
    )


def _window(board: SawnBoard, fault: Fault) -> Floats | None:
    """Board x at which to look for a fault, None if it is not in the board."""
    low, high = fault.reach()
    low, high = max(low - board.x0 - 8, 0.0), min(high - board.x0 + 8, board.length)
    if high - low < 1:
        return None
    step = 0.5 if high - low < 150 else 1.0 if high - low < 400 else 6.0
    return np.linspace(low, high, int((high - low) / step) + 2, dtype=np.float32)


def _in_wood(board: SawnBoard, fault: Fault, points: Points) -> Floats:
    inside = fault.inside(points)
    if board.waney:
        inside = np.minimum(inside, board.log.bark_edge(points.grown))
    return np.asarray(inside, np.float32)


def _outlines(inside: Floats, x: Floats, y: Floats) -> tuple[Outline, ...]:
    """Contours at 0 as outlines [mm]; the picture is closed along its border."""
    if not (inside > 0).any():
        return ()
    framed = np.pad(inside.astype(np.float64), 1, constant_values=-1e-3)
    step_x, step_y = float(x[1] - x[0]), float(y[1] - y[0])
    rings = []
    for line in find_contours(framed, 0.0):  # type: ignore[no-untyped-call]
        px = np.clip(float(x[0]) + (line[:, 1] - 1) * step_x, float(x[0]), float(x[-1]))
        py = np.clip(float(y[0]) + (line[:, 0] - 1) * step_y, float(y[0]), float(y[-1]))
        if len(line) < 4:
            continue
        shape = Polygon(np.column_stack([px, py])).buffer(0)
        rings.append(shape)
    return tuple(normal_outline(_plain(shape), "fault") for shape in _without_holes(rings))


def _without_holes(shapes: list[Polygon]) -> list[Polygon]:
    """The outermost of the shapes that are large enough to see."""
    large = sorted((s for s in shapes if s.area >= _LEAST_AREA), key=lambda s: -s.area)
    kept: list[Polygon] = []
    for shape in large:
        if not any(other.contains(shape.representative_point()) for other in kept):
            kept.append(shape)
    return kept


def _plain(shape: BaseGeometry) -> Outline:
    """One closed ring round a shape, with points that do not matter left out."""
    whole = max(shape.geoms, key=lambda g: g.area) if isinstance(shape, MultiPolygon) else shape
    simple = whole.simplify(0.15)
    if not isinstance(simple, Polygon):
        raise ValueError(f"a fault's outline came out as a {simple.geom_type}")
    ring = simple.exterior.coords[:-1]
    return normal_outline(tuple((round(px, 2), round(py, 2)) for px, py in ring), "fault")


def _depths(board: SawnBoard, fault: Fault, faces: tuple[Face, ...], x: Floats) -> dict[Face, float]:
    """How far the fault reaches from each face it shows on: the first clear depth to half a mm [mm]."""
    y = np.arange(0, board.width + 0.25, 0.5, dtype=np.float32)

    @cache
    def filled(z: float) -> bool:
        return bool((_in_wood(board, fault, board.points(x[None, ::2], y[:, None], z)) > 0).any())

    depths = {}
    for face in faces:

        def gone(depth: float, face: Face = face) -> bool:
            return not filled(depth if face is Face.FRONT else board.thickness - depth)

        # in steps of 3 mm first, then finely within the step in which it ends
        coarse = next((d for d in np.arange(3.0, board.thickness, 3.0) if gone(float(d))), board.thickness)
        fine = (float(d) for d in np.arange(coarse - 2.5, coarse + 0.25, 0.5) if 0 < d <= board.thickness)
        depths[face] = next((d for d in fine if gone(d)), board.thickness)
    return depths
