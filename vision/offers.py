"""What the cheapest further reading would bring: the same adjustment with it, before anybody has read it."""

from dataclasses import replace

import numpy as np

from vision.adjust import Adjusted, adjusted
from vision.evidence import Evidence
from vision.gate import WIDTHS, Gated, gated
from vision.shape import bend
from vision.ticks import LINE_PX

__all__ = ["SURE", "offer", "worst_error"]

SURE = 1.96
"""Standard deviations that hold 95 % of a normal error."""

_ENOUGH_MM = 2.0  # true to so much, a picture needs no further reading
_SHOWN_MM = 0.1  # what a maker sees of a figure
_WORTH = 0.85  # part of the error that may be left for a reading to be worth its while
_LINES = (0.25, 0.5, 0.75)
_WIDTHS = (0.0, 0.5, 1.0)


def worst_error(made: Adjusted, length_mm: float, width_mm: float) -> float:
    """Even the worst place of the board is off by less, 19 times of 20 [mm]."""
    stations = np.linspace(0.0, length_mm, 21)
    grid = np.stack(np.meshgrid(stations, [0.0, width_mm / 2, width_mm]), axis=-1)
    off = SURE * made.error_at(grid).max(axis=0)
    return float(np.hypot(off[:, 0], off[:, 1]).max())


def offer(evidence: Evidence, answer: Gated, width_mm: float) -> str | None:
    """One sentence: which further reading to make, and what it brings the error to; None where none is due.

    Where only the long edges told of the lens and a bow of the board may be what they told, the width in
    the middle is asked for however small the error is said to be.

    Parameters
    ----------
    evidence : Evidence
    answer : Gated
        What it was adjusted to.
    width_mm : float
        Of the board at its widest.
    """
    readings, made = evidence.readings, answer.made
    now = worst_error(made, readings.length, width_mm)
    if now <= _ENOUGH_MM and not answer.bow_alike:
        return None
    said = []
    straight = any(edge is not None for edge in evidence.edges_px[::2])
    best = now
    if straight and len(readings.widths) < WIDTHS:
        then = worst_error(gated(_with_widths(evidence, made)).made, readings.length, width_mm)
        if then < _WORTH * best or answer.bow_alike:
            said.append(f"read its width at both ends and in the middle{_brings(then, now)}")
            best = min(then, best)
    if len(readings.ticks) < len(_LINES):
        then = worst_error(adjusted(_with_lines(evidence, made)), readings.length, width_mm)
        if then < _WORTH * best:
            said.append(
                "draw three pencil lines across it, a quarter of its length apart, and read them with the "
                f"tape{_brings(then, now)}"
            )
    if not said:
        return None
    if answer.bow_alike:
        return (
            f"the error is put at {now:.1f} mm, but only the long edges tell of the lens, and a bow of the "
            f"board looks the same: before cutting, {', or '.join(said)}"
        )
    return f"to bring the error down from {now:.1f} mm, {', or '.join(said)}"


def _brings(then: float, now: float) -> str:
    return f" (to {then:.1f} mm)" if then < now - _SHOWN_MM else ""


def _with_widths(evidence: Evidence, made: Adjusted) -> Evidence:
    """The same, with the widths that the board is taken to have read at both ends and in the middle."""
    board, length = made.values, evidence.readings.length
    widths = tuple(
        (part * length, board["width"] + board["taper"] * (part - 0.5) + float(bend(board, "belly", part)))
        for part in _WIDTHS
    )
    return replace(evidence, readings=replace(evidence.readings, widths=widths))


def _with_lines(evidence: Evidence, made: Adjusted) -> Evidence:
    """The same, with three lines read where they are seen."""
    readings, fresh = evidence.readings, []
    for part in _LINES:
        at = made.frame.to_px([part * readings.length, readings.width / 2])
        fresh.append(((float(at[0]), float(at[1])), part * readings.length))
    px = readings.ticks_px or (evidence.corner_px,) * len(readings.ticks)
    lines = replace(readings, ticks=(*readings.ticks, *fresh), ticks_px=(*px, *(LINE_PX for _ in fresh)))
    return replace(evidence, readings=lines)
