"""Parts: what the maker needs, and what each side of it may show.

The part frame
--------------
Millimetres, seen on the part's FACE SIDE, grain along x::

            far edge                      near edge:  y = 0
    (0,0)--------------------> x          far edge:   y = width
      |  near edge       |                near end:   x = 0
      |   face side      | far end        far end:    x = length
      |   towards you    |
      v------------------+                The back of the part is the
      y  far edge                         face away from you.

The finished part is cut from a slightly larger sawn piece: `Part.length` and
`Part.width` are finished sizes, the allowances (`layout.allowances`) say how
much longer and wider the sawn piece is. The finished part sits in the middle
of the sawn piece.
"""

from dataclasses import dataclass, field
from enum import StrEnum
from math import isfinite

from layout.outline import Outline, bounds_of, normal_outline, rectangle

__all__ = ["Part", "PartSide", "Rings", "Staves", "Visibility", "Zone", "ZoneRule"]


class Visibility(StrEnum):
    """How a side of the finished piece of furniture is seen."""

    SHOW = "show"
    SEEN_IN_USE = "seen in use"
    CONCEALED = "concealed"


class PartSide(StrEnum):
    """The six sides of a part, in the part frame."""

    FACE = "face"
    BACK = "back"
    NEAR_EDGE = "near edge"
    FAR_EDGE = "far edge"
    NEAR_END = "near end"
    FAR_END = "far end"


class ZoneRule(StrEnum):
    """What a zone of a part asks beyond its face's own rule."""

    SOUND = "sound"  # a joint, fixing or moulding: no defect at all, on any side, at any depth
    COVERED = "covered"  # another part lies on it: judged as concealed


@dataclass(frozen=True)
class Zone:
    """A place on a part with a rule of its own.

    Parameters
    ----------
    name : str
        What is there, for example "tenon".
    outline : Outline
        In the part frame [mm].
    rule : ZoneRule
    side : PartSide or None
        FACE or BACK for a rule of one face; None for the whole thickness.
    """

    name: str
    outline: Outline
    rule: ZoneRule = ZoneRule.SOUND
    side: PartSide | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "outline", normal_outline(self.outline, f"zone {self.name}"))
        if self.side not in (None, PartSide.FACE, PartSide.BACK):
            raise ValueError(f"zone {self.name}: side {self.side}; give face, back or neither")


class Rings(StrEnum):
    """How the rings of neighbouring staves lie in a panel, where the boards' heart faces are known."""

    ALTERNATE = "alternate"
    ALIKE = "all one way"
    AS_IT_COMES = "as it comes"


@dataclass(frozen=True)
class Staves:
    """How a wide part is glued up from narrow boards; sizes are common practice, no source.

    Parameters
    ----------
    least, most : float
        Narrowest and widest stave, as it is in the glued panel [mm].
    joint : float
        Planed off for each joint, both edges together [mm].
    trim : float
        Glued up wider than wanted, in all, to be trimmed off both long edges [mm].
    rings : Rings
    one_board : bool
        Whether all staves should come from one board; if they cannot, as few as will do.
    """

    least: float = 60.0
    most: float = 120.0
    joint: float = 2.0
    trim: float = 6.0
    rings: Rings = Rings.ALTERNATE
    one_board: bool = True

    def __post_init__(self) -> None:
        if not 0 < self.least <= self.most:
            raise ValueError(f"staves of {self.least:g} to {self.most:g} mm; give least above 0, up to most")
        for what in ("joint", "trim"):
            value = getattr(self, what)
            if not (isfinite(value) and value >= 0):
                raise ValueError(f"staves: {what} is {value}; give 0 or more")


def _edges_seen_in_use() -> dict[PartSide, Visibility]:
    return {}


@dataclass(frozen=True)
class Part:
    """One line of the cutting list.

    Parameters
    ----------
    name : str
        Unique in the list, for example "seat slat".
    length, width, thickness : float
        Finished size, length along the grain [mm].
    quantity : int
    sides : dict of PartSide to Visibility
        Sides not named: the face shows, edges and ends are seen in use, the
        back is concealed.
    outline : Outline or None
        Finished outline of a shaped part in the part frame, inside
        (0, 0)-(length, width) [mm]; None for a rectangle.
    zones : tuple of Zone
    length_allowance, width_allowance : float or None
        How much longer and wider it is sawn, in all [mm]; None takes the job's.
    max_slope : float or None
        Greatest slope of grain to the part's length, as rise over run (1/15 =
        0.067); None leaves it to the job's.
    priority : int
        Higher is placed first when not everything can be.
    same_board_as : str or None
        Name of a part it should come from one board with.
    turn_end_for_end : bool
        Whether it may lie either way along the board.
    tolerates : dict of Visibility to str
        Names of face rules (`layout.rules`) that replace the usual ones.
    staves : Staves or None
        Given for a panel glued up from staves; None for a part of one piece.
    layers : int
        More than 1 for a thick part glued from layers of equal thickness.
    mend_show : bool
        Whether its show faces may be repaired.
    heart_up : bool or None
        Whether its face side must be the board's heart face, or must not; None
        if it does not matter. No meaning on a board whose heart is not known.
    """

    name: str
    length: float
    width: float
    thickness: float
    quantity: int = 1
    sides: dict[PartSide, Visibility] = field(default_factory=_edges_seen_in_use)
    outline: Outline | None = None
    zones: tuple[Zone, ...] = ()
    length_allowance: float | None = None
    width_allowance: float | None = None
    max_slope: float | None = None
    priority: int = 0
    same_board_as: str | None = None
    turn_end_for_end: bool = True
    tolerates: dict[Visibility, str] = field(default_factory=dict)
    staves: Staves | None = None
    layers: int = 1
    mend_show: bool = False
    heart_up: bool | None = None

    def __post_init__(self) -> None:
        if not self.name:
            raise ValueError("part: the name is missing")
        for what in ("length", "width", "thickness"):
            value = getattr(self, what)
            if not (isfinite(value) and value > 0):
                raise ValueError(f"part {self.name}: {what} is {value}; give a number above 0 (mm)")
        for what in ("length_allowance", "width_allowance", "max_slope"):
            value = getattr(self, what)
            if value is not None and not (isfinite(value) and value >= 0):
                raise ValueError(f"part {self.name}: {what} is {value}; give 0 or more")
        if self.quantity < 1:
            raise ValueError(f"part {self.name}: quantity is {self.quantity}; give 1 or more")
        if self.layers < 1 or (self.layers > 1 and self.staves is not None):
            raise ValueError(f"part {self.name}: layers is {self.layers}; give 1 or more, and 1 for a panel")
        object.__setattr__(self, "zones", tuple(self.zones))
        self._check_inside()

    def _check_inside(self) -> None:
        if self.outline is not None:
            object.__setattr__(self, "outline", normal_outline(self.outline, f"part {self.name}"))
        named = [(f"zone {zone.name}", zone.outline) for zone in self.zones]
        if self.outline is not None:
            named.append(("outline", self.outline))
        for what, outline in named:
            x0, y0, x1, y1 = bounds_of(outline)
            if x0 < -1e-6 or y0 < -1e-6 or x1 > self.length + 1e-6 or y1 > self.width + 1e-6:
                raise ValueError(
                    f"part {self.name}: {what} reaches outside its {self.length:g} x {self.width:g} mm"
                )

    @property
    def shape(self) -> Outline:
        """The finished outline, a rectangle if no other was given [mm]."""
        return self.outline or rectangle(0.0, 0.0, self.length, self.width)

    def visibility(self, side: PartSide) -> Visibility:
        """How a side is seen, with the usual value where none was given."""
        usual = {PartSide.FACE: Visibility.SHOW, PartSide.BACK: Visibility.CONCEALED}
        return self.sides.get(side, usual.get(side, Visibility.SEEN_IN_USE))
