"""Which reading of a waney board in several photographs does not agree with the rest, and by how much."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from vision.errors import VisionError
from vision.waney_bundle import Bundle, View

__all__ = ["odd_reading"]

_DOUBTFUL = 0.8  # spread of the residuals over what was expected; by our own camera 0.06 to 0.15
_HOPELESS = 3.0
_SETTLED = 0.6  # part of it that is left once the right reading is left out
_LEAST_MM = 3.0


def odd_reading(views: Sequence[View], made: Bundle, again: Callable[[Sequence[View]], Bundle]) -> str | None:
    """One sentence about the reading that contradicts the rest; None where all agree.

    Parameters
    ----------
    views : sequence of View
    made : Bundle
        What they were weighed to.
    again : callable
        The same of other views.

    Raises
    ------
    VisionError
        Nothing fits together, and no single reading is the reason.
    """
    if made.misfit <= _DOUBTFUL:
        return None
    for one in sorted([*_lines_left_out(views, again), *_widths_left_out(views, again)]):
        if one.misfit < _SETTLED * made.misfit and abs(one.off) > _LEAST_MM:
            return f"{one.said}; read it again, and look whether it is set where it was read"
    if made.misfit > _HOPELESS:
        raise VisionError(
            "they do not lie on one board as the readings say; set the corners of each by hand where the "
            "board is cut off in it, and look whether the lines and widths are read from the datum end"
        )
    return "the readings and the photos do not agree; measure again and check the corners of each photo"


class _LeftOut(NamedTuple):
    """How well the rest agrees once a reading is left out, and what the rest says of it."""

    misfit: float
    said: str
    off: float


def _lines_left_out(views: Sequence[View], again: Callable[[Sequence[View]], Bundle]) -> Iterator[_LeftOut]:
    for reading in {reading for view in views for _, reading, _ in view.ticks}:
        best = again(
            [replace(view, ticks=tuple(tick for tick in view.ticks if tick[1] != reading)) for view in views]
        )
        seen = np.mean(
            [
                float(frame.to_mm(at)[0])
                for view, frame in zip(views, best.frames, strict=True)
                for at, read, _ in view.ticks
                if read == reading
            ]
        )
        said = f"the line read at {reading:g} mm is seen at {seen:.0f} mm by everything else"
        yield _LeftOut(best.misfit, said, float(seen) - reading)


def _widths_left_out(views: Sequence[View], again: Callable[[Sequence[View]], Bundle]) -> Iterator[_LeftOut]:
    for station, width in {(one.station, one.width) for view in views for one in view.across}:
        best = again(
            [
                replace(view, across=tuple(one for one in view.across if one.station != station))
                for view in views
            ]
        )
        seen = np.mean(
            [
                float(frame.to_mm(one.lower_px)[1] - frame.to_mm(one.upper_px)[1])
                for view, frame in zip(views, best.frames, strict=True)
                for one in view.across
                if one.station == station
            ]
        )
        said = (
            f"the width read as {width:g} mm at {station:.0f} mm is seen as {seen:.0f} mm by everything else"
        )
        yield _LeftOut(best.misfit, said, float(seen) - width)
