r"""One adjustment of everything known about a photographed board: the camera, its lens, the scale.

The maker's tape, the edges found in the picture, ticks, marker sheets, what the
camera wrote down of its focal length and how straight sawn boards are: each says
a little, with its own uncertainty, and least squares weighs them. The answer's
covariance is the honest error of the true-scale picture.

The board in the adjustment, x along the grain, millimetres::

        (skew of the end)                         (skew of the end)
     datum end  \  y = crook(x) - belly(x)/2           \   far end
     (0, 0)      +--------------------------------------+  x = length
                 |                                      |
                 +--------------------------------------+
                   y = width + taper (x/L - 1/2) + crook(x) + belly(x)/2

Crook and belly are smooth curves, a bow and three ever smaller waves. They, the
taper and the skew are what a real board has, expected near zero, as far off as
`Readings` allows. That is what keeps a bent board from being taken for a bending
lens: an edge says something of the lens only beyond what the wood may do by itself.
"""

from dataclasses import dataclass, field, replace

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import least_squares

from vision.evidence import Evidence
from vision.frame import Frame
from vision.lens import Lens, LensPrior
from vision.shape import bend, off_side
from vision.start import averaged, placed, pose_of, scale_across

__all__ = ["Adjusted", "adjusted"]

_EDGE_POINTS = 48  # edge points are averaged into this many per long edge
_PARAMETERS = (
    *("turn x", "turn y", "turn z", "shift x", "shift y", "shift z"),
    *("focal", "centre x", "centre y", "k1"),
    *("length", "width", "taper", "skew near", "skew far"),
    *(f"{curve} {wave}" for curve in ("crook", "belly") for wave in range(1, 5)),
    *("seat length", "seat width", "seat taper"),
)
_WAVES = (1.0, 0.3, 0.15, 0.08)  # size of bow and waves; judged by eye on jointed and sawn edges, no source
_LEAN = 0.1  # sine of the angle a phone is held off square, one standard deviation
_SHEET_MM = 100.0  # a sheet lies anywhere; only a start is known
_AT = {name: i for i, name in enumerate(_PARAMETERS)}


@dataclass(frozen=True, eq=False)
class Adjusted:
    """The outcome of an adjustment.

    Parameters
    ----------
    values : dict of str to float
        The unknowns by name: of the board as drawn above [mm], `focal` [px], `k1`.
    spreads : dict of str to float
        One standard deviation of each.
    frame : Frame
    misfit : float
        Spread of the residuals over what was expected of them; about 1 when all agree.
    k1_learnt : float
        Part of the lens term's prior uncertainty that the photograph removed, 0 to 1.
    lens : LensPrior
        The lens as it is known after the photograph.
    """

    values: dict[str, float]
    spreads: dict[str, float]
    frame: Frame
    misfit: float
    k1_learnt: float
    lens: LensPrior
    _problem: "_Problem" = field(repr=False)
    _vector: NDArray[np.float64] = field(repr=False)
    _covariance: NDArray[np.float64] = field(repr=False)

    def error_at(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """One standard deviation of the place of points of the board, along and across, [..., 2] [mm]."""
        slope = self._slopes(points_mm)
        variance = np.einsum("...i,ij,...j->...", slope, self._covariance, slope)
        return np.asarray(np.sqrt(np.maximum(variance, 0.0)))

    def along_spread(self, points_mm: ArrayLike, weights: ArrayLike) -> float:
        """One standard deviation of a weighted sum of the places of points along the board [mm]."""
        slope = (
            np.asarray(weights, dtype=np.float64)
            @ self._slopes(np.asarray(points_mm, dtype=np.float64))[:, 0]
        )
        return float(np.sqrt(max(0.0, float(slope @ self._covariance @ slope))))

    def width_at(self, x: float) -> tuple[float, float]:
        """Width of the board x from its datum end, and one standard deviation of it [mm]."""
        part = x / self.values["length"]
        weights = {"width": 1.0, "taper": part - 0.5}
        for wave in range(1, 5):
            alone = {f"belly {n}": float(n == wave) for n in range(1, 5)}
            weights[f"belly {wave}"] = float(bend(alone, "belly", part))
        slope = np.zeros(self._vector.size)
        for name, weight in weights.items():
            slope[_AT[name]] = weight * self._problem.units[_AT[name]]
        width = sum(self.values[name] * weight for name, weight in weights.items())
        return width, float(np.sqrt(slope @ self._covariance @ slope))

    def apart_across(self, upper_px: ArrayLike, lower_px: ArrayLike) -> tuple[float, float]:
        """How far two places of the photograph lie apart across the board, and its deviation [mm]."""
        places = self.frame.to_mm(np.array([upper_px, lower_px], dtype=np.float64))
        upper, lower = self._slopes(places)[:, 1]
        slope = lower - upper
        return float(places[1, 1] - places[0, 1]), float(np.sqrt(slope @ self._covariance @ slope))

    @property
    def foot_mm(self) -> float:
        """Over which place along the board the camera stood."""
        turn, shift = self._problem.pose(self._vector)
        return float(-turn[:, 0] @ shift)

    def _slopes(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """By how much the places of points of the board move with each unknown, [..., 2, unknown]."""
        seen = self.frame.to_px(points_mm)
        slopes = []
        for i in range(self._vector.size):
            step = np.zeros(self._vector.size)
            step[i] = 1e-3
            ahead = self._problem.frame(self._vector + step).to_mm(seen)
            slopes.append((ahead - self._problem.frame(self._vector - step).to_mm(seen)) / 2e-3)
        return np.stack(slopes, axis=-1)

    def edge_shows_px(self, side: int, thickness_mm: float, along: ArrayLike) -> NDArray[np.float64]:
        """How wide the board's own edge shows beside its face, below 0 where it is hidden [px].

        Parameters
        ----------
        side : int
            0 for the datum edge, 2 for the far one.
        thickness_mm : float
        along : array-like, [n]
            Parts of the length, 0 to 1.
        """
        x = np.asarray(along, dtype=np.float64) * self.values["length"]
        y = np.full_like(x, 0.0 if side == 0 else self.values["width"])
        arris = self._problem.seen(self._vector, np.stack([x, y, 0 * x], axis=1))
        below = self._problem.seen(self._vector, np.stack([x, y, 0 * x + thickness_mm], axis=1))
        run = self._problem.seen(self._vector, np.stack([x + 1.0, y, 0 * x], axis=1)) - arris
        run /= np.hypot(run[:, 0], run[:, 1])[:, None]
        out = run[:, 1] * (below - arris)[:, 0] - run[:, 0] * (below - arris)[:, 1]
        return np.asarray(out if side == 0 else -out)


def adjusted(
    evidence: Evidence, *, hold_k1: bool = False, k1: float | None = None, k1_doubt: float | None = None
) -> Adjusted:
    """The camera, lens and board that fit the evidence best.

    Parameters
    ----------
    evidence : Evidence
    hold_k1 : bool
        Leave the lens term at what is known of it; its uncertainty still counts in the error.
    k1 : float or None
        Where to hold the lens term, if not at what is known of it.
    k1_doubt : float or None
        How far a held lens term may be off, one standard deviation, if not what is known of it.
    """
    problem = _Problem(evidence)
    place, known = _AT["k1"], evidence.prior
    held = hold_k1 or k1 is not None
    free = np.ones(problem.size, dtype=bool)
    free[place] = not held
    start = np.zeros(problem.size)
    start[place] = 0.0 if k1 is None else (k1 - known.lens.k1) / known.k1_spread

    def cost(part: NDArray[np.float64]) -> NDArray[np.float64]:
        whole = start.copy()
        whole[free] = part
        return problem.residuals(whole)

    solved = least_squares(cost, start[free], ftol=1e-7, xtol=1e-5, max_nfev=25)
    vector = start.copy()
    vector[free] = solved.x
    doubt = 1.0 if k1_doubt is None else k1_doubt / known.k1_spread
    covariance = _covariance(problem, vector, free, doubt)
    doubts = max(1.0, problem.misfit(vector))
    covariance *= doubts**2
    spread = np.sqrt(np.diag(covariance))
    return Adjusted(
        values=problem.values(vector),
        spreads={name: float(spread[i] * problem.units[i]) for name, i in _AT.items()},
        frame=problem.frame(vector),
        misfit=problem.misfit(vector),
        lens=replace(known, lens=problem.lens(vector), k1_spread=float(spread[place] * problem.units[place])),
        k1_learnt=0.0 if held else float(np.clip(1.0 - spread[place], 0.0, 1.0)),
        _problem=problem,
        _vector=vector,
        _covariance=covariance,
    )


def _covariance(
    problem: "_Problem", vector: NDArray[np.float64], free: NDArray[np.bool_], doubt: float
) -> NDArray[np.float64]:
    """Covariance of the unknowns; one that is held drags the free ones along with its own doubt."""
    slope = np.stack(
        [
            (problem.residuals(vector + step) - problem.residuals(vector - step)) / 2e-3
            for step in np.eye(problem.size) * 1e-3
        ],
        axis=1,
    )
    inverse = np.linalg.inv(slope[:, free].T @ slope[:, free])
    answer = np.zeros((problem.size, problem.size))
    answer[np.ix_(free, free)] = inverse
    for held in np.flatnonzero(~free):
        # The model lacks what the held unknown really does, and the others take it up.
        data = slope[: problem.observations]
        drag = np.zeros(problem.size)
        drag[free] = inverse @ (data[:, free].T @ data[:, held])
        drag[held] = -1.0
        answer += np.outer(drag, drag) * doubt**2
    return answer


class _Problem:
    """The residuals of an adjustment as a function of its unknowns, each in units of its own spread."""

    def __init__(self, evidence: Evidence) -> None:
        self.evidence = evidence
        readings, prior = evidence.readings, evidence.prior
        first = Frame.from_corners(evidence.corners_px, readings.length, readings.width, prior.lens)
        self._turn, self._shift = pose_of(first, prior.lens)
        self._px_per_mm = scale_across(first, readings)
        self.sheets = [placed(sheet, float(self._shift[2]), first) for sheet in evidence.sheets]
        self.units = self._units()
        self.size = len(_PARAMETERS) + 4 * len(self.sheets)
        self._edges = [
            None if points is None else averaged(points, _EDGE_POINTS if i % 2 == 0 else 12)
            for i, points in enumerate(evidence.edges_px)
        ]
        self._lengths = np.cumsum([0 if points is None else len(points) for points in self._edges])
        self._all_edges = np.concatenate(
            [points for points in self._edges if points is not None] or [np.zeros((0, 2))]
        )
        self.observations = self._observed(np.zeros(self.size)).size

    def _units(self) -> NDArray[np.float64]:
        evidence, readings, prior = self.evidence, self.evidence.readings, self.evidence.prior
        distance = float(self._shift[2])
        one_width = len(readings.widths) < 2
        seat = evidence.seat_px / self._px_per_mm
        alike = readings.alike if len(readings.widths) < 3 else max(1.0, readings.alike)
        belly = readings.straight_mm * alike
        board = {
            **dict.fromkeys(("turn x", "turn y", "turn z"), 0.01),
            **dict.fromkeys(("shift x", "shift y", "shift z"), 0.01 * distance),
            "focal": prior.focal_spread,
            **dict.fromkeys(("centre x", "centre y"), prior.centre_spread * evidence.diagonal_px),
            "k1": prior.k1_spread,
            "length": readings.tape_mm,
            "width": readings.rule_mm / np.sqrt(len(readings.widths)) if one_width else 5.0,
            "taper": readings.parallel_mm if one_width else 10.0,
            **{f"crook {n}": readings.straight_mm * _WAVES[n - 1] for n in range(1, 5)},
            **{f"belly {n}": belly * _WAVES[n - 1] for n in range(1, 5)},
            # An open end is cut by the picture's rim or a chalk line, at any angle.
            "skew near": 1.0 if evidence.open_ends[0] else readings.square,
            "skew far": 1.0 if evidence.open_ends[1] else readings.square,
            **dict.fromkeys(("seat length", "seat width", "seat taper"), seat),
        }
        return np.array([board[name] for name in _PARAMETERS])

    def values(self, vector: NDArray[np.float64]) -> dict[str, float]:
        """The unknowns in their own units."""
        plain = vector[: len(_PARAMETERS)] * self.units
        answer = {name: float(plain[i]) for name, i in _AT.items()}
        lens = self.lens(vector)
        answer["focal"] = lens.focal_px
        answer["centre x"], answer["centre y"] = lens.centre_px
        answer["k1"] = lens.k1
        answer["length"] += self.evidence.readings.length
        answer["width"] += self.evidence.readings.width
        return answer

    def lens(self, vector: NDArray[np.float64]) -> Lens:
        known = self.evidence.prior.lens
        plain = vector[: len(_PARAMETERS)] * self.units
        return replace(
            known,
            focal_px=known.focal_px * float(np.exp(plain[_AT["focal"]])),
            centre_px=(
                known.centre_px[0] + float(plain[_AT["centre x"]]),
                known.centre_px[1] + float(plain[_AT["centre y"]]),
            ),
            k1=known.k1 + float(plain[_AT["k1"]]),
        )

    def pose(self, vector: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        plain = vector[: len(_PARAMETERS)] * self.units
        spin = np.asarray(cv2.Rodrigues(plain[:3])[0], dtype=np.float64)
        return spin @ self._turn, self._shift + plain[3:6]

    def frame(self, vector: NDArray[np.float64]) -> Frame:
        turn, shift = self.pose(vector)
        lens = self.lens(vector)
        camera = np.array(
            [[lens.focal_px, 0, lens.centre_px[0]], [0, lens.focal_px, lens.centre_px[1]], [0, 0, 1]]
        )
        to_picture = camera @ np.stack([turn[:, 0], turn[:, 1], shift], axis=1)
        return Frame(np.asarray(np.linalg.inv(to_picture / to_picture[2, 2]), dtype=np.float64), lens)

    def seen(self, vector: NDArray[np.float64], points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Where points of the board are seen, the third number how far below its face [n, 3] -> [n, 2]."""
        turn, shift = self.pose(vector)
        lens = self.lens(vector)
        space = points_mm @ turn.T + shift
        return lens.bent(space[:, :2] / space[:, 2:] * lens.focal_px + lens.centre_px)

    def residuals(self, vector: NDArray[np.float64]) -> NDArray[np.float64]:
        """Observations first, then what was expected of the unknowns; each over its spread."""
        return np.concatenate([self._observed(vector), vector[6:]])

    def misfit(self, vector: NDArray[np.float64]) -> float:
        observed = self._observed(vector)
        spare = max(1, observed.size - 8)
        return float(np.sqrt(np.sum(observed**2) / spare))

    def _observed(self, vector: NDArray[np.float64]) -> NDArray[np.float64]:
        frame, board = self.frame(vector), self.values(vector)
        parts = [
            self._edge_residuals(frame, board),
            self._corner_residuals(frame, board),
            self._reading_residuals(frame, board),
        ]
        parts.extend(self._sheet_residuals(vector, i) for i in range(len(self.sheets)))
        if self.evidence.level_px:
            parts.append(self._level_residuals(frame))
        if self.evidence.across_px:
            parts.append(self._across_residuals(frame, board))
        if any(self.evidence.open_ends):
            # Without both ends nothing else says how the camera leant: nearly square, as one holds it.
            parts.append(self.pose(vector)[0][2, :2] / _LEAN)
        return np.concatenate(parts)

    def _edge_residuals(self, frame: Frame, board: dict[str, float]) -> NDArray[np.float64]:
        sides = np.split(frame.to_mm(self._all_edges), self._lengths[:-1])
        off = [off_side(i, side[:, 0], side[:, 1], board) for i, side in enumerate(sides)]
        return np.asarray(np.concatenate(off) * self._px_per_mm / self.evidence.edge_px)

    def _corner_residuals(self, frame: Frame, board: dict[str, float]) -> NDArray[np.float64]:
        """Corners count only where an edge beside them was not seen: otherwise they say nothing new."""
        rows: list[float] = []
        for i in range(4):
            if self._edges[i] is not None and self._edges[i - 1] is not None:
                continue
            x, y = frame.to_mm(self.evidence.corners_px[i])
            scale = self._px_per_mm / self.evidence.corner_px
            rows.extend(float(off_side(side, x, y, board)) * scale for side in (i, (i + 3) % 4))
        return np.array(rows, dtype=np.float64)

    def _reading_residuals(self, frame: Frame, board: dict[str, float]) -> NDArray[np.float64]:
        readings = self.evidence.readings
        rows = []
        for number, (place, reading) in enumerate(readings.ticks):
            seen_px = readings.ticks_px[number] if readings.ticks_px else self.evidence.corner_px
            spread = np.hypot(readings.tape_mm, seen_px / self._px_per_mm)
            rows.append((frame.to_mm(place)[0] - reading) / spread)
        if len(readings.widths) > 1:
            for station, width in readings.widths:
                x = board["length"] / 2 if station is None else station
                part = x / board["length"]
                at = board["width"] + board["taper"] * (part - 0.5) + float(bend(board, "belly", part))
                rows.append((at - width) / readings.rule_mm)
        return np.array(rows, dtype=np.float64)

    def _level_residuals(self, frame: Frame) -> NDArray[np.float64]:
        one, other, spread = zip(*self.evidence.level_px, strict=True)
        apart = frame.to_mm(np.array(one))[:, 0] - frame.to_mm(np.array(other))[:, 0]
        return np.asarray(apart / np.array(spread))

    def _across_residuals(self, frame: Frame, board: dict[str, float]) -> NDArray[np.float64]:
        one, other, width = zip(*self.evidence.across_px, strict=True)
        upper, lower = frame.to_mm(np.array(one)), frame.to_mm(np.array(other))
        seat = board["seat width"] + board["seat taper"] * (upper[:, 0] / board["length"] - 0.5)
        apart = lower[:, 1] - upper[:, 1] - seat - np.array(width)
        return np.asarray(apart / self.evidence.across_mm)

    def _sheet_residuals(self, vector: NDArray[np.float64], index: int) -> NDArray[np.float64]:
        sheet, place = self.sheets[index]
        start = len(_PARAMETERS) + 4 * index
        units = np.array([_SHEET_MM, _SHEET_MM, 1.0, sheet.scale_spread])
        x, y, angle, larger = place + vector[start : start + 4] * units
        spin = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        flat = sheet.points_mm * (1 + larger) @ spin.T + [x, y]
        at = self.seen(vector, np.column_stack([flat, np.full(len(flat), sheet.below_mm)]))
        return np.asarray((at - sheet.points_px).ravel() / sheet.spread_px)
