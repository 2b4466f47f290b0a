"""Colours and line styles of every drawing; whatever a colour says, a line style says as well.

The set is our own: a dark blue, a dark ink, a rust, a green and a violet of
different lightness, so that they stay apart for the colour-blind and in a
black-and-white print (`tests/ui/drawing/test_palette.py` measures it).
"""

from layout.parts import Visibility
from ui.drawing.fates import Fate
from ui.drawing.scene import Pen

__all__ = [
    "CUT",
    "FATE_COLOURS",
    "INK",
    "LIGHT",
    "OFFCUT",
    "PAPER",
    "PLATE",
    "REPAIR",
    "SIDE_COLOURS",
    "WOOD",
    "fate_pen",
    "side_pen",
]

INK = "#1a1a1a"
LIGHT = "#6b6b6b"
PAPER = "#ffffff"
PLATE = "#fffdf6"  # behind words on wood
WOOD = "#d9b98a"  # plain ground where there is no picture
CUT = "#111111"
OFFCUT = "#0f6b4f"
REPAIR = "#9c0060"

SIDE_COLOURS = {
    Visibility.SHOW: "#083f8c",
    Visibility.SEEN_IN_USE: "#1f6dbb",
    Visibility.CONCEALED: "#4a4038",
}
_SIDE_DASH: dict[Visibility, tuple[float, ...]] = {
    Visibility.SHOW: (),
    Visibility.SEEN_IN_USE: (2.4, 0.7),
    Visibility.CONCEALED: (1.0, 0.7),
}

FATE_COLOURS = {
    Fate.AGAINST: "#d4001a",
    Fate.SHOWN: "#5a1a8c",
    Fate.SEEN: "#8c3fb8",
    Fate.CONCEALED: "#7a4b00",
    Fate.HIDDEN_BACK: "#7a4b00",
    Fate.MENDED: "#9c0060",
    Fate.PLANED_OFF: "#5c6670",
    Fate.IN_OFFCUT: "#0f6b4f",
    Fate.CUT_AWAY: "#b34700",
}
_FATE_DASH: dict[Fate, tuple[float, ...]] = {
    Fate.AGAINST: (),
    Fate.SHOWN: (),
    Fate.SEEN: (2.0, 0.4, 0.4, 0.4),
    Fate.CONCEALED: (0.9, 0.5),
    Fate.HIDDEN_BACK: (0.9, 0.5),
    Fate.MENDED: (1.2, 0.4),
    Fate.PLANED_OFF: (0.25, 0.45),
    Fate.IN_OFFCUT: (1.4, 0.5, 0.3, 0.5),
    Fate.CUT_AWAY: (),
}


def side_pen(seen: Visibility, unit: float) -> Pen:
    """The outline of a part, by how the side that is looked at will be seen; `unit` is the text size [mm]."""
    width = 0.26 if seen is Visibility.SHOW else 0.18
    return Pen(SIDE_COLOURS[seen], width * unit, tuple(each * unit for each in _SIDE_DASH[seen]))


def fate_pen(fate: Fate, unit: float) -> Pen:
    """The outline of a defect, by what became of it."""
    width = 0.3 if fate is Fate.AGAINST else 0.14
    return Pen(FATE_COLOURS[fate], width * unit, tuple(each * unit for each in _FATE_DASH[fate]))
