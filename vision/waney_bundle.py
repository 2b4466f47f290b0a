r"""One adjustment of several overlapping photographs of a waney board: where each camera stood, and the lens.

A waney board's edges square no part of it, so nothing is squared photograph by photograph. All of them
look at one plane, the board's face, in one frame of millimetres, and everything that is known is weighed
together: pencil lines and the board's ends say where along it a place lies, the widths read say how
large it is seen, and the grain in the overlaps says what two photographs see at one place::

    photo 1  |----w----t-----w----|          t  a line read with the tape
    photo 2             |----w----t-----w----|   w  a width, seen between the two edges
             x = 0                      x = length

The cameras are cameras, not homographies, and of one phone: that is what keeps the chain from drifting.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from vision.evidence import Readings
from vision.frame import Frame
from vision.lens import Lens, LensPrior
from vision.start import pose_of
from vision.waney_scale import SEAT_MM

__all__ = ["Across", "Bundle", "Ends", "Tie", "View", "bundled"]

Floats = NDArray[np.float64]

_SHARED = ("focal", "centre x", "centre y", "k1", "length", "skew near", "skew far", "seat", "seat taper")
_AT = {name: i for i, name in enumerate(_SHARED)}
_LEAN = 0.1  # sine of the angle a phone is held off square, one standard deviation
_LEVEL_MM = 0.3  # the ends' middles lie on the axis, by definition; how well is the corners' affair
_ASIDE_MM = 40.0  # as far off its first guess a photograph may lie across the board
_SEAT_PX = 0.35  # where as a whole an edge seems to lie
_WHOLE = 4.0  # points that all those of an end's edge together weigh as
_STEP = 1e-3
_HELD, _MOST_LENS = 1e-3, 4.0  # spreads
_MOST = 25.0  # spreads, or hundredths of a radian or of the distance: no step leads out of what can be
_NOTHING: Floats = np.zeros((0, 2))


@dataclass(frozen=True)
class Across:
    """A width as one photograph shows it: both edges' places (x, y) [px]; reading, spread, station [mm]."""

    upper_px: tuple[float, float]
    lower_px: tuple[float, float]
    width: float
    spread: float
    station: float


@dataclass(frozen=True, eq=False)
class Ends:
    """A real end of the board in a photograph: its two corners, and its edge if it was seen [n, 2] [px]."""

    corners_px: Floats
    edge_px: Floats | None
    corner_px: float = 1.0
    edge_spread_px: float = 0.5


@dataclass(frozen=True, eq=False)
class View:
    """What one photograph says.

    Parameters
    ----------
    frame : Frame
        A first guess, to the board's millimetres.
    corners_px : ndarray, [4, 2]
        Where the piece is cut off.
    near, far : Ends or None
        The board's own ends where they are seen.
    ticks : tuple of ((x, y), reading, spread)
        Lines read with the tape: place [px], reading and how well both agree [mm].
    across : tuple of Across
    """

    frame: Frame
    corners_px: Floats
    near: Ends | None = None
    far: Ends | None = None
    ticks: tuple[tuple[tuple[float, float], float, float], ...] = ()
    across: tuple[Across, ...] = ()


@dataclass(frozen=True)
class Tie:
    """One spot of the board in two neighbours, known along the grain (axis 0) or across it (1)."""

    left: int
    left_px: tuple[float, float]
    right_px: tuple[float, float]
    axis: int
    spread: float


@dataclass(frozen=True, eq=False)
class Bundle:
    """The outcome: a frame for every photograph into the board's own millimetres, and how sure each is."""

    frames: tuple[Frame, ...]
    lens: LensPrior
    length: float
    misfit: float
    _problem: "_Problem" = field(repr=False)
    _vector: Floats = field(repr=False)
    _covariance: Floats = field(repr=False)

    def error_at(self, view: int, points_mm: Floats) -> Floats:
        """One standard deviation of places as one photograph shows them, along and across, [..., 2] [mm]."""
        seen = self.frames[view].to_px(points_mm)
        slopes = []
        for i in range(self._vector.size):
            step = np.zeros(self._vector.size)
            step[i] = _STEP
            ahead = self._problem.frame(self._vector + step, view).to_mm(seen)
            slopes.append((ahead - self._problem.frame(self._vector - step, view).to_mm(seen)) / (2 * _STEP))
        slope = np.stack(slopes, axis=-1)
        variance = np.einsum("...i,ij,...j->...", slope, self._covariance, slope)
        return np.asarray(np.sqrt(np.maximum(variance, 0.0)))


def bundled(
    views: Sequence[View],
    ties: Sequence[Tie],
    readings: Readings,
    prior: LensPrior,
    *,
    loose_mm: float,
    hold_lens: bool = False,
) -> Bundle:
    """The cameras and the lens that fit everything best.

    Parameters
    ----------
    views : sequence of View
        From the near end on; the first shows it, the last the far end.
    ties : sequence of Tie
    readings : Readings
        The taped length and how well it and the widths were read.
    prior : LensPrior
        Of the phone that took all of them.
    loose_mm : float
        As far off its first guess a photograph may lie along the board, one standard deviation.
    hold_lens : bool
        Leave the lens as it is known.
    """
    problem = _Problem(views, ties, readings, prior, loose_mm)
    most = np.full(problem.size, _MOST)
    most[: _AT["k1"] + 1] = _HELD if hold_lens else _MOST_LENS
    solved = least_squares(
        problem.residuals, np.zeros(problem.size), bounds=(-most, most), ftol=1e-8, xtol=1e-7, max_nfev=40
    )
    vector = np.asarray(solved.x, dtype=np.float64)
    misfit = problem.misfit(vector)
    covariance = np.linalg.pinv(solved.jac.T @ solved.jac) * max(1.0, misfit) ** 2
    spread = float(np.sqrt(covariance[_AT["k1"], _AT["k1"]])) * prior.k1_spread
    lens = problem.lens(vector)
    return Bundle(
        frames=tuple(problem.frame(vector, number) for number in range(len(views))),
        lens=LensPrior(lens, prior.focal_spread, prior.centre_spread, spread),
        length=readings.length + float(vector[_AT["length"]]) * readings.tape_mm,
        misfit=misfit,
        _problem=problem,
        _vector=vector,
        _covariance=covariance,
    )


class _Problem:
    """The residuals, each over its spread, as a function of the unknowns, each in units of its own spread."""

    def __init__(
        self,
        views: Sequence[View],
        ties: Sequence[Tie],
        readings: Readings,
        prior: LensPrior,
        loose_mm: float,
    ) -> None:
        self.loose_mm = loose_mm
        self.views, self.ties, self.readings, self.prior = tuple(views), tuple(ties), readings, prior
        self.size = len(_SHARED) + 6 * len(views)
        self._poses = [pose_of(view.frame, prior.lens) for view in views]
        self._fine = [_px_per_mm(view) for view in views]
        self._begun = [view.frame.to_mm(view.corners_px) for view in views]
        self._pairs = {
            number: [tie for tie in self.ties if tie.left == number] for number in range(len(views) - 1)
        }
        places = [self._places(number) for number in range(len(views))]
        self._points = [np.concatenate(part) for part in places]
        self._cuts = [np.cumsum([len(part) for part in parts])[:-1] for parts in places]
        wide = 2.0 * float(np.hypot(*prior.lens.centre_px))
        self.units = np.array(
            [
                prior.focal_spread,
                prior.centre_spread * wide,
                prior.centre_spread * wide,
                prior.k1_spread,
                readings.tape_mm,
                readings.square,
                readings.square,
                max(SEAT_MM, _SEAT_PX / float(np.mean(self._fine))),
                max(SEAT_MM, _SEAT_PX / float(np.mean(self._fine))),
            ]
        )

    def lens(self, vector: Floats) -> Lens:
        known, plain = self.prior.lens, vector[: len(_SHARED)] * self.units
        centre = (known.centre_px[0] + float(plain[1]), known.centre_px[1] + float(plain[2]))
        return Lens(centre, known.focal_px * float(np.exp(plain[0])), known.k1 + float(plain[3]), known.k2)

    def pose(self, vector: Floats, view: int) -> tuple[Floats, Floats]:
        turn, shift = self._poses[view]
        own = vector[len(_SHARED) + 6 * view :][:6] * 0.01
        spin = np.asarray(cv2.Rodrigues(np.ascontiguousarray(own[:3]))[0], dtype=np.float64)
        return spin @ turn, shift + own[3:] * float(shift[2])

    def frame(self, vector: Floats, view: int) -> Frame:
        turn, shift = self.pose(vector, view)
        lens = self.lens(vector)
        camera = np.array(
            [[lens.focal_px, 0, lens.centre_px[0]], [0, lens.focal_px, lens.centre_px[1]], [0, 0, 1]]
        )
        to_picture = camera @ np.stack([turn[:, 0], turn[:, 1], shift], axis=1)
        return Frame(np.asarray(np.linalg.inv(to_picture / to_picture[2, 2]), dtype=np.float64), lens)

    def residuals(self, vector: Floats) -> Floats:
        return np.concatenate([self._observed(vector), vector[: len(_SHARED)]])

    def misfit(self, vector: Floats) -> float:
        observed = self._observed(vector)
        spare = max(1, observed.size - 6 * len(self.views))
        return float(np.sqrt(np.sum(observed**2) / spare))

    def _observed(self, vector: Floats) -> Floats:
        shared = dict(zip(_SHARED, vector[: len(_SHARED)] * self.units, strict=True))
        rows: list[Floats] = []
        middles, tied = [], []
        for number, view in enumerate(self.views):
            rows.append(self.pose(vector, number)[0][2, :2] / _LEAN)
            at = np.split(self.frame(vector, number).to_mm(self._points[number]), self._cuts[number])
            off = at[0] - self._begun[number]
            cut = np.stack([off[[0, 3]].mean(axis=0), off[[1, 2]].mean(axis=0)])
            rows.append((cut / np.array([self.loose_mm, _ASIDE_MM])).ravel())
            part = at[2][:, 0] / self.readings.length - 0.5
            rows.extend(_own(view, at[1], at[2], at[3], shared["seat"] + shared["seat taper"] * part))
            far = self.readings.length + shared["length"]
            for ends, corners, edge, place, skew in (
                (view.near, at[4], at[5], 0.0, shared["skew near"]),
                (view.far, at[6], at[7], far, shared["skew far"]),
            ):
                if ends is not None:
                    found, middle = _of_end(ends, corners, edge, place, skew)
                    rows.append(found * self._fine[number])
                    middles.append(middle)
            tied.append((at[8], at[9]))
        rows.append(np.array(middles) / _LEVEL_MM)
        for number, pairs in self._pairs.items():
            off = tied[number][0] - tied[number + 1][1]
            axes = np.array([tie.axis for tie in pairs], dtype=int)
            spreads = np.array([tie.spread for tie in pairs])
            rows.append(off[np.arange(len(pairs)), axes] / spreads)
        return np.concatenate(rows)

    def _places(self, number: int) -> list[Floats]:
        """All that is looked up in one photograph [px]: corners, ticks, edges of widths, ends, ties."""
        view = self.views[number]
        ends = [
            places
            for end in (view.near, view.far)
            for places in (
                end.corners_px if end else _NOTHING,
                end.edge_px if end and end.edge_px is not None else _NOTHING,
            )
        ]
        return [
            view.corners_px,
            _points([at for at, _, _ in view.ticks]),
            _points([one.upper_px for one in view.across]),
            _points([one.lower_px for one in view.across]),
            *ends,
            _points([tie.left_px for tie in self._pairs.get(number, [])]),
            _points([tie.right_px for tie in self._pairs.get(number - 1, [])]),
        ]


def _points(places: Sequence[tuple[float, float]]) -> Floats:
    return np.array(places, dtype=np.float64).reshape(-1, 2)


def _own(view: View, ticks: Floats, upper: Floats, lower: Floats, seat: Floats) -> list[Floats]:
    """Residuals of the ticks and the widths of one photograph."""
    readings = np.array([(reading, spread) for _, reading, spread in view.ticks]).reshape(-1, 2)
    widths = np.array([(one.width, one.spread) for one in view.across]).reshape(-1, 2)
    return [
        (ticks[:, 0] - readings[:, 0]) / readings[:, 1],
        (lower[:, 1] - upper[:, 1] - seat - widths[:, 0]) / widths[:, 1],
    ]


def _of_end(ends: Ends, corners: Floats, edge: Floats, at: float, skew: float) -> tuple[Floats, float]:
    """Residuals along the board of a real end, per pixel a mm, and where across its middle lies [mm]."""
    middle = float(corners[:, 1].mean())
    points, spread = corners, ends.corner_px
    if len(edge):
        points, spread = edge, ends.edge_spread_px * float(np.sqrt(len(edge) / _WHOLE))
    return (points[:, 0] - at - skew * (points[:, 1] - middle)) / spread, middle


def _px_per_mm(view: View) -> float:
    corners = view.frame.to_mm(view.corners_px)
    middle = corners.mean(axis=0)
    ends = view.frame.to_px(np.array([middle - [5.0, 0.0], middle + np.array([5.0, 0.0])]))
    return float(np.hypot(*(ends[1] - ends[0]))) / 10.0
