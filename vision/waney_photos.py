"""A waney board too long for one photograph: overlapping photographs of it as one picture at true scale.

The photographs are first laid roughly, one behind the other, by their grain; then they and the tape's
readings are weighed together (`vision.waney_bundle`), the edges followed and the overlaps compared
again where they lie now, until nothing moves.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import hypot, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from vision.evidence import Readings
from vision.frame import Frame
from vision.join import Join
from vision.lens import LensPrior, unknown_lens
from vision.outline import snapped
from vision.overlap import Match
from vision.photo import Photo
from vision.ticks import LINE_PX, TAPPED_PX, line_near
from vision.waney import waney_outline
from vision.waney_bundle import Across, Bundle, Ends, Tie, View, bundled
from vision.waney_odd import odd_reading
from vision.waney_scale import both_edges
from vision.waney_ties import (
    Extent,
    edge_at,
    edges_shared,
    lies_as_said,
    moved,
    square_on,
    strip_match,
    ties_across,
    ties_along,
)

__all__ = ["PhotosWeighed", "WaneyPart", "weighed_photos"]

Floats = NDArray[np.float64]
Reading = tuple[float, float]

_ROUNDS = 7
_FOLLOWED = 2  # rounds in which the edges are followed anew: later ones hardly move
_SETTLED_MM = 0.3
_REACH_MM = (14.0, 8.0, 4.0)  # across, in the first rounds and the later ones
_LOOSE, _LOOSER = 0.02, 0.1  # of the length: a first round may rest on first guesses alone
_INSIDE = 0.12  # of the width at either edge is left out where overlaps are compared
_WIDTH_MM = 1.0  # how well a width read and the edges seen there agree
_SAME_MM = 0.35  # a line seen in two photographs
_NEAR_END_MM = 15.0
_NO_MATCH = Match(np.zeros((0, 3)), Join(0.0, 0.0, 0.0, float("inf"), weak=True))
_RIM_MM = 4.0  # a width so near to where a photograph is cut off is not looked for there


@dataclass(frozen=True, eq=False)
class WaneyPart:
    """One of the photographs.

    Parameters
    ----------
    photo : Photo
    corners_px : array-like, [4, 2]
        Where the piece is cut off on the board's edges, in board order; at a real end its corners.
    ticks : tuple of ((x, y), reading)
        Lines across the board: place [px] and tape reading from the near end [mm].
    """

    photo: Photo
    corners_px: ArrayLike
    ticks: tuple[tuple[tuple[float, float], float], ...] = ()


@dataclass(frozen=True, eq=False)
class PhotosWeighed:
    """The photographs as they lie on the board.

    Parameters
    ----------
    frames : tuple of Frame
        From each photograph to the board's millimetres: x from the near end, y from the middles
        of its ends.
    extents : tuple of (float, float)
        From where to where along the board each photograph shows it [mm].
    edges : tuple of (ndarray, ndarray)
        Upper and lower edge as each shows them [n, 2] [mm].
    joins : tuple of Join
    bundle : Bundle
    odd : str or None
        One sentence about a reading that contradicts the rest.
    """

    frames: tuple[Frame, ...]
    extents: tuple[tuple[float, float], ...]
    edges: tuple[tuple[Floats, Floats], ...]
    joins: tuple[Join, ...]
    bundle: Bundle
    odd: str | None = None


def weighed_photos(
    parts: Sequence[WaneyPart],
    length_mm: float,
    widths_mm: Sequence[Reading],
    *,
    lens: LensPrior | None = None,
) -> PhotosWeighed:
    """Where every photograph of a waney board lies on it.

    Parameters
    ----------
    parts : sequence of WaneyPart
        From the near end; the first shows it, the last shows the far end.
    length_mm : float
    widths_mm : sequence of (station, width)
        Read square across the board between its edges, stations from the near end [mm].
    lens : LensPrior or None

    Raises
    ------
    VisionError
        Edges that cannot be told from the ground, or photographs that do not lie on one board.
    """
    return _Weighing(parts, length_mm, widths_mm, lens).done()


class _Weighing:
    """The rounds of `weighed_photos`: what does not change from one to the next."""

    def __init__(
        self,
        parts: Sequence[WaneyPart],
        length_mm: float,
        widths_mm: Sequence[Reading],
        lens: LensPrior | None,
    ) -> None:
        first = parts[0].photo
        self.parts, self.widths = tuple(parts), tuple(sorted(widths_mm))
        self.prior = lens or unknown_lens(first.width_px, first.height_px, first.focal_35mm)
        self.readings = Readings(length_mm, self.widths)
        self.quads = [np.asarray(part.corners_px, dtype=np.float64) for part in parts]
        last = len(parts) - 1
        self.near = self._end(0, (0, 3), 3, (False, last > 0))
        self.far = self._end(last, (1, 2), 1, (last > 0, False))
        self._reading_of = {reading for part in parts for _, reading in part.ticks}

    def done(self) -> PhotosWeighed:
        frames, matches = self._laid()
        for number in range(_ROUNDS):
            if number < _FOLLOWED:
                followed = [self._edges(i, frame) for i, frame in enumerate(frames)]
            edges = _in_mm(followed, frames)
            spans = self._spans(frames)
            if number > 0:
                matches = self._matches(frames, spans, edges)
            ties = self._ties(frames, spans, edges, matches, number)
            views = [self._view(i, frame, spans[i], edges[i]) for i, frame in enumerate(frames)]
            loose = (_LOOSE if number < _FOLLOWED else _LOOSER) * self.readings.length
            bundle = bundled(views, ties, self.readings, self.prior, loose_mm=loose, hold_lens=number == 0)
            moved_mm = max(
                float(np.abs(new.to_mm(quad) - old.to_mm(quad)).max())
                for new, old, quad in zip(bundle.frames, frames, self.quads, strict=True)
            )
            frames = bundle.frames
            if number >= _FOLLOWED and moved_mm < _SETTLED_MM:
                break
        spans, edges = self._spans(frames), _in_mm(followed, frames)
        odd = odd_reading(
            views, bundle, lambda rest: bundled(rest, ties, self.readings, self.prior, loose_mm=loose)
        )
        joins = tuple(self._join(i, match) for i, (match, _) in enumerate(matches))
        return PhotosWeighed(tuple(frames), tuple(spans), tuple(edges), joins, bundle, odd)

    def _end(self, part: int, corners: tuple[int, int], side: int, open_ends: tuple[bool, bool]) -> Ends:
        """A real end, its edge looked for near its corners."""
        found = snapped(self.parts[part].photo.rgb, self.quads[part], open_ends=open_ends, straight=False)
        edge = found.edges[side]
        return Ends(
            self.quads[part][list(corners)], edge.points_px if edge is not None and edge.clear else None
        )

    def _laid(self) -> tuple[tuple[Frame, ...], list[tuple[Match, tuple[Extent, Extent]]]]:
        """First guesses: each piece as wide as read about there, laid by its ticks or by its grain."""
        alone, extents, strips = [], [], []
        for number, quad in enumerate(self.quads):
            at = self.readings.length * (number + 0.5) / len(self.parts)
            width = float(np.interp(at, *np.array(self.widths).T))
            frame, guess = square_on(quad, width, self.prior.lens)
            frame, guess = self._as_wide(number, frame, guess, width)
            alone.append(frame)
            extents.append(Extent((0.0, guess), (-width / 2, width / 2)))
            strips.append(Extent((0.0, guess), (-0.3 * width, 0.3 * width)))
        rgbs = [part.photo.rgb for part in self.parts]
        matches = [
            strip_match((rgbs[i], alone[i], strips[i]), (rgbs[i + 1], alone[i + 1], strips[i + 1]))
            for i in range(len(alone) - 1)
        ]
        starts = self._starts(alone, extents, matches)
        matches = [
            match if lies_as_said(match, after - before, strips[i].x[1]) else _NO_MATCH
            for i, (match, (before, after)) in enumerate(zip(matches, pairwise(starts), strict=True))
        ]
        laid = tuple(moved(frame, -start, 0.0) for frame, start in zip(alone, starts, strict=True))
        placed = [
            Extent((start, start + strip.x[1]), strip.y) for start, strip in zip(starts, strips, strict=True)
        ]
        return laid, list(zip(matches, pairwise(placed), strict=True))

    def _as_wide(self, number: int, frame: Frame, guess: float, width_mm: float) -> tuple[Frame, float]:
        """A first guess to the scale of the edges themselves: corners may lie on bark, or beside."""
        (upper, lower), x = _in_mm([self._edges(number, frame)], [frame])[0], np.linspace(0.1, 0.9, 9) * guess
        seen = float(np.median(edge_at(lower, x) - edge_at(upper, x)))
        scale = float(np.clip(width_mm / max(seen, 1.0), 0.7, 1.4))
        return Frame(np.diag([scale, scale, 1.0]) @ frame.to_board, frame.lens), guess * scale

    def _starts(self, alone: list[Frame], extents: list[Extent], matches: list[Match]) -> list[float]:
        starts: list[float] = []
        room = self.readings.length - extents[-1].x[1]
        for number, (part, frame) in enumerate(zip(self.parts, alone, strict=True)):
            read = [reading - float(frame.to_mm(at)[0]) for at, reading in part.ticks]
            if number == 0:
                starts.append(0.0)
            elif read:
                starts.append(float(np.mean(read)))
            elif not matches[number - 1].join.weak:
                pairs = matches[number - 1].pairs
                starts.append(starts[-1] + float(np.median(pairs[:, 0] - pairs[:, 1])))
            else:
                starts.append(room * number / (len(alone) - 1))
        return starts

    def _spans(self, frames: Sequence[Frame]) -> list[tuple[float, float]]:
        spans = []
        for quad, frame in zip(self.quads, frames, strict=True):
            x = frame.to_mm(quad)[:, 0]
            spans.append((float(x[[0, 3]].mean()), float(x[[1, 2]].mean())))
        return spans

    def _edges(self, number: int, frame: Frame) -> tuple[Floats, Floats]:
        """Upper and lower edge as one photograph shows them, [n, 2] [px]."""
        corners = frame.to_mm(self.quads[number])
        begin, end = corners[[0, 3]].mean(axis=0), corners[[1, 2]].mean(axis=0)
        length = float(np.hypot(*(end - begin)))
        along = (end - begin) / length
        width = float(max(np.hypot(*(corners[3] - corners[0])), np.hypot(*(corners[2] - corners[1]))))
        spin = np.array([along, [-along[1], along[0]]])
        begin = begin - spin[1] * width / 2
        turn = np.eye(3)
        turn[:2, :2], turn[:2, 2] = spin, -spin @ begin
        own = Frame(turn @ frame.to_board, frame.lens)
        open_ends = (number > 0, number < len(self.parts) - 1)
        ring = np.array(waney_outline(self.parts[number].photo.rgb, own, length, width, open_ends=open_ends))
        upper, lower = both_edges(ring, length)
        return own.to_px(upper), own.to_px(lower)

    def _overlap(
        self, number: int, spans: Sequence[tuple[float, float]], edges: Sequence[tuple[Floats, Floats]]
    ) -> Extent | None:
        """What two neighbours both show of the wood, without its rims; None where that is nothing."""
        low, high = max(spans[number][0], spans[number + 1][0]), min(spans[number][1], spans[number + 1][1])
        if high - low < 10.0:
            return None
        x = np.linspace(low, high, 21)
        pair = (edges[number], edges[number + 1])
        top = max(float(edge_at(upper, x).max()) for upper, _ in pair)
        bottom = min(float(edge_at(lower, x).min()) for _, lower in pair)
        inset = _INSIDE * (bottom - top)
        return Extent((low, high), (top + inset, bottom - inset)) if bottom - top > 20.0 else None

    def _matches(
        self,
        frames: Sequence[Frame],
        spans: Sequence[tuple[float, float]],
        edges: Sequence[tuple[Floats, Floats]],
    ) -> list[tuple[Match, tuple[Extent, Extent]]]:
        answer = []
        for i in range(len(frames) - 1):
            overlap = self._overlap(i, spans, edges)
            if overlap is None:
                nowhere = Extent(spans[i], (0.0, 1.0)), Extent(spans[i + 1], (0.0, 1.0))
                answer.append((_NO_MATCH, nowhere))
                continue
            left, right = Extent(spans[i], overlap.y), Extent(spans[i + 1], overlap.y)
            rgbs = self.parts[i].photo.rgb, self.parts[i + 1].photo.rgb
            match = strip_match((rgbs[0], frames[i], left), (rgbs[1], frames[i + 1], right))
            answer.append((match, (left, right)))
        return answer

    def _ties(
        self,
        frames: Sequence[Frame],
        spans: Sequence[tuple[float, float]],
        edges: Sequence[tuple[Floats, Floats]],
        matches: Sequence[tuple[Match, tuple[Extent, Extent]]],
        round_: int,
    ) -> list[Tie]:
        ties = []
        for i, (match, extents) in enumerate(matches):
            pair = (frames[i], frames[i + 1])
            ties += ties_along(i, match, pair, extents)
            overlap = self._overlap(i, spans, edges)
            if overlap is not None and round_ > 0:  # first guesses are too far apart across
                rgbs = self.parts[i].photo.rgb, self.parts[i + 1].photo.rgb
                ties += ties_across(i, rgbs, pair, overlap, _REACH_MM[min(round_, 3) - 1])
            if overlap is not None:
                ties += edges_shared(i, pair, overlap.x, (edges[i], edges[i + 1]))
            ties += self._lines_shared(i)
        return ties

    def _lines_shared(self, number: int) -> list[Tie]:
        """Lines of one reading in two neighbours are one line."""
        left = {reading: at for at, reading in self.parts[number].ticks}
        right = {reading: at for at, reading in self.parts[number + 1].ticks}
        return [Tie(number, left[one], right[one], 0, _SAME_MM) for one in left if one in right]

    def _join(self, number: int, match: Match) -> Join:
        held = match.join.weak and bool(self._lines_shared(number))
        return replace(match.join, weak=False, by_chalk=True) if held else match.join

    def _across(
        self, number: int, frame: Frame, span: tuple[float, float], edges: tuple[Floats, Floats]
    ) -> list[Across]:
        """The widths that were read where a photograph shows the board, between the edges seen there."""
        first, last = number == 0, number == len(self.parts) - 1
        low, high = (span[0], span[1])
        found = []
        for station, width in self.widths:
            x = station
            if first and x < _NEAR_END_MM:
                x = max(x, low)  # read at the end itself
            if last and x > self.readings.length - _NEAR_END_MM:
                x = min(x, high)
            if low + (not first) * _RIM_MM <= x <= high - (not last) * _RIM_MM:
                upper, lower = (frame.to_px([x, float(edge_at(edge, x))]) for edge in edges)
                places = (float(upper[0]), float(upper[1])), (float(lower[0]), float(lower[1]))
                found.append(Across(*places, width, _WIDTH_MM, station))
        return found

    def _view(
        self, number: int, frame: Frame, span: tuple[float, float], edges: tuple[Floats, Floats]
    ) -> View:
        part = self.parts[number]
        many = {
            reading: sum(reading in [r for _, r in one.ticks] for one in self.parts)
            for reading in self._reading_of
        }
        fine = _fineness(frame, span)
        ticks = []
        for at, reading in part.ticks:
            width = float(np.interp(reading, *np.array(self.widths).T))
            line = line_near(part.photo.rgb, at, moved(frame, 0.0, -width / 2), width)
            place = at if line is None else (float(line[0]), float(line[1]))
            seen = (TAPPED_PX if line is None else LINE_PX) / fine
            ticks.append((place, reading, hypot(self.readings.tape_mm * sqrt(many[reading]), seen)))
        return View(
            frame=frame,
            corners_px=self.quads[number],
            near=self.near if number == 0 else None,
            far=self.far if number == len(self.parts) - 1 else None,
            ticks=tuple(ticks),
            across=tuple(self._across(number, frame, span, edges)),
        )


def _in_mm(followed: Sequence[tuple[Floats, Floats]], frames: Sequence[Frame]) -> list[tuple[Floats, Floats]]:
    """Both edges of every photograph where its frame lays them [mm]."""
    return [
        (frame.to_mm(upper), frame.to_mm(lower))
        for (upper, lower), frame in zip(followed, frames, strict=True)
    ]


def _fineness(frame: Frame, span: tuple[float, float]) -> float:
    """Pixels per millimetre along the middle of a piece."""
    ends = frame.to_px([[span[0], 0.0], [span[1], 0.0]])
    return float(np.hypot(*(ends[1] - ends[0]))) / max(span[1] - span[0], 1.0)
