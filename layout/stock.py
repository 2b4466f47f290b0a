"""Boards and what is wrong, or worth seeing, in them.

The board frame
---------------
Everything about a board, on either face, is said in one frame, in millimetres,
as if one looked at its FRONT face and through the wood::

    datum end
      |
      v
    (0,0)------------------------------------------> x   along the grain
      |  datum edge
      |      front face, seen from the front
      |      (in a picture the datum edge lies at the top,
      |       the datum end at the left)
      v
      y   across the grain

A through knot therefore has the same x and y on both faces. A picture of the
BACK shows the board after it was turned over, so it is mirrored:

* ``ROLLED`` over a long edge:   seen (x, y) -> board (x, width - y)
* ``TUMBLED`` end over end:      seen (x, y) -> board (length - x, y)

Depth is measured from the face a defect shows on, down into the wood::

    front  ===============================   z = 0
             |depth of a front defect|
             v
    back   ===============================   z = thickness
"""

from dataclasses import dataclass, field
from enum import StrEnum
from math import isfinite

from layout.outline import Outline, Point, bounds_of, normal_outline, rectangle

__all__ = ["Board", "Defect", "DefectKind", "Face", "Price", "PriceBasis", "Turn", "Where", "Wish"]


class Face(StrEnum):
    """A side of wood, of a board."""

    FRONT = "front"
    BACK = "back"

    @property
    def other(self) -> "Face":
        return Face.BACK if self is Face.FRONT else Face.FRONT


class Where(StrEnum):
    """Where a defect shows."""

    FRONT = "front"
    BACK = "back"
    THROUGH = "through"


class Turn(StrEnum):
    """How the board was turned over between the two photographs."""

    ROLLED = "rolled"
    TUMBLED = "tumbled"


class DefectKind(StrEnum):
    """Features of sawn timber; terms after EN 844:2019 (list from memory, definitions in the README)."""

    SOUND_KNOT = "sound knot"
    DEAD_KNOT = "dead knot"
    PIN_KNOT = "pin knot"
    SHAKE = "shake"
    CHECK = "check"
    SPLIT = "split"
    WANE = "wane"
    SAPWOOD = "sapwood"
    PITH = "pith"
    BARK_POCKET = "bark pocket"
    RESIN_POCKET = "resin pocket"
    INSECT_HOLES = "insect holes"
    DECAY = "decay"
    STAIN = "stain"
    TORN_GRAIN = "torn grain"
    METAL = "metal"


class Wish(StrEnum):
    """What the maker wants of a defect, whatever the part's own rules say."""

    KEEP_OFF = "keep off"  # in no part at all, not even out of sight
    MAY_HIDE = "may be hidden"  # the rules of each side decide
    TOLERATE = "tolerate"  # accepted on any side
    SHOW = "show it"  # worth seeing: gladly on a show face


class PriceBasis(StrEnum):
    """What a price is for."""

    BOARD = "board"
    CUBIC_METRE = "m3"


@dataclass(frozen=True)
class Price:
    """What a board costs.

    Parameters
    ----------
    amount : float
        Money, in the job's currency, not negative.
    basis : PriceBasis
        For the whole board, or per cubic metre of its sawn size.
    """

    amount: float
    basis: PriceBasis = PriceBasis.BOARD

    def __post_init__(self) -> None:
        _not_negative("price", self.amount)


@dataclass(frozen=True)
class Defect:
    """A confirmed feature of a board.

    Parameters
    ----------
    id : str
        Unique on its board.
    kind : DefectKind
    outline : Outline
        In the board frame, whichever face it shows on [mm].
    where : Where
    depth : float or None
        How far it reaches into the wood from the face it shows on [mm]; None
        means not known, which every rule reads as "right through the wood, but
        seen on its own face only". Always None for a through defect.
    wish : Wish
    """

    id: str
    kind: DefectKind
    outline: Outline
    where: Where
    depth: float | None = None
    wish: Wish = Wish.MAY_HIDE

    def __post_init__(self) -> None:
        object.__setattr__(self, "outline", normal_outline(self.outline, f"defect {self.id}"))
        if self.depth is not None:
            if self.where is Where.THROUGH:
                raise ValueError(f"defect {self.id}: a through defect has no depth of its own; leave it out")
            _positive(f"defect {self.id}: depth", self.depth)

    def shows_on(self, face: Face) -> bool:
        """Whether it shows on this face of the unplaned board."""
        return self.where is Where.THROUGH or self.where.value == face.value


@dataclass(frozen=True)
class Board:
    """One board as it lies on the bench.

    Parameters
    ----------
    id : str
        The number chalked on it.
    front, back : Outline
        Outline of each face in the board frame [mm]. A waney board is narrower
        on one face; a square-edged board has the same outline twice.
    thickness : float
        As it lies there, before planing [mm].
    species : str
    defects : tuple of Defect
    turned : Turn
        How it was turned over between the two photographs.
    moisture : float or None
        Moisture content [%].
    price : Price
    owned : bool
        Already in the shop: costs nothing to use.
    forbidden : bool
        Not to be cut in this plan.
    error : float
        How far a point of its true-scale picture may be off [mm]; every margin
        round a defect and inside the outline grows by it.
    error_across : float or None
        The same across the grain, where it is known apart: a picture is truer across a
        board than along it. None: as `error`.
    frame_width : float or None
        How wide the frame is that both faces are drawn in, where the board lies inside it: the edges of
        a bowed waney board wander farther than it is wide anywhere [mm]. None: as far as its outlines reach.
    read_width : float or None
        What the tape said where it is widest [mm]. None: as `width`.
    error_front, error_back : (float, float) or None
        The same of one face alone, along the grain and across it. None: as `error` and `error_across`.
    marked_on : Face or None
        The face it has to be marked out on, where how the other lies over it is known only roughly: the
        other's error includes that. None: either.
    grain : float
        Mean angle of the grain to the x axis, positive from x towards y [degrees].
    heart : Face or None
        The face that lay nearer the pith, as the rings on the end show; None if
        nobody looked.
    """

    id: str
    front: Outline
    back: Outline
    thickness: float
    species: str = "oak"
    defects: tuple[Defect, ...] = ()
    turned: Turn = Turn.ROLLED
    moisture: float | None = None
    price: Price = field(default_factory=lambda: Price(0.0))
    owned: bool = False
    forbidden: bool = False
    error: float = 0.0
    grain: float = 0.0
    heart: Face | None = None
    error_across: float | None = None
    frame_width: float | None = None
    read_width: float | None = None
    error_front: tuple[float, float] | None = None
    error_back: tuple[float, float] | None = None
    marked_on: Face | None = None

    def __post_init__(self) -> None:
        if not self.id:
            raise ValueError("board: the number chalked on it is missing")
        for name in ("front", "back"):
            outline = normal_outline(getattr(self, name), f"board {self.id}, {name} face")
            object.__setattr__(self, name, outline)
        object.__setattr__(self, "defects", tuple(self.defects))
        _positive(f"board {self.id}: thickness", self.thickness)
        _not_negative(f"board {self.id}: error", self.error)
        if self.error_across is not None:
            _not_negative(f"board {self.id}: error across", self.error_across)
        for face in Face:
            for value in self.off_on(face):
                _not_negative(f"board {self.id}: error of the {face.value}", value)
        for name in ("frame_width", "read_width"):
            if getattr(self, name) is not None:
                _positive(f"board {self.id}: {name.replace('_', ' ')}", getattr(self, name))
        if self.moisture is not None and not 0 < self.moisture < 200:
            raise ValueError(f"board {self.id}: moisture {self.moisture} % is not possible; give 0 to 200")
        if not -45 <= self.grain <= 45:
            raise ValueError(f"board {self.id}: grain {self.grain} degrees; x must run along the grain")
        names = [defect.id for defect in self.defects]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise ValueError(f"board {self.id}: two defects are called {twice[0]}")

    @property
    def off(self) -> tuple[float, float]:
        """How far a point of its worse picture may be off, along and across the grain [mm]."""
        (along, across), (other_along, other_across) = self.off_on(Face.FRONT), self.off_on(Face.BACK)
        return max(along, other_along), max(across, other_across)

    def off_on(self, face: Face) -> tuple[float, float]:
        """How far a point of one face's picture may be off, along and across the grain [mm]."""
        own = self.error_front if face is Face.FRONT else self.error_back
        return own or (self.error, self.error if self.error_across is None else self.error_across)

    def off_of(self, defect: Defect) -> tuple[float, float]:
        """How far a defect may lie beside its outline: as its own face says, one right through as the worse.

        Along and across the grain [mm].
        """
        if defect.where is Where.THROUGH:
            return self.off
        return self.off_on(Face(defect.where.value))

    @classmethod
    def square_edged(cls, id: str, length: float, width: float, thickness: float, **rest: object) -> "Board":
        """A board with straight, square edges: length, width and thickness in mm."""
        _positive(f"board {id}: length", length)
        _positive(f"board {id}: width", width)
        face = rectangle(0.0, 0.0, length, width)
        return cls(id=id, front=face, back=face, thickness=thickness, **rest)  # type: ignore[arg-type]

    @property
    def length(self) -> float:
        """Greatest x of either face [mm]; the datum end is x = 0."""
        return max(bounds_of(self.front)[2], bounds_of(self.back)[2])

    @property
    def width(self) -> float:
        """Of the frame both faces are drawn in [mm]; the datum edge is y = 0."""
        return max(bounds_of(self.front)[3], bounds_of(self.back)[3], self.frame_width or 0.0)

    @property
    def widest(self) -> float:
        """As it is bought, weighed and sorted: as read with the tape where it is widest [mm]."""
        return self.read_width or self.width

    def outline(self, face: Face) -> Outline:
        """The outline of one face in the board frame [mm]."""
        return self.front if face is Face.FRONT else self.back

    def back_seen(self, x: float, y: float) -> Point:
        """Where a point of the board frame lies in a picture of the back, and the other way round [mm]."""
        return (x, self.width - y) if self.turned is Turn.ROLLED else (self.length - x, y)


def _positive(what: str, value: float) -> None:
    if not (isfinite(value) and value > 0):
        raise ValueError(f"{what} is {value}; give a number above 0 (mm)")


def _not_negative(what: str, value: float) -> None:
    if not (isfinite(value) and value >= 0):
        raise ValueError(f"{what} is {value}; give 0 or more")
