"""What is glued: repairs let into a part, and parts glued up from staves or layers. Plain values.

A repair is drawn in the PART frame (`layout.parts`) of the part it mends, seen on
that part's face side, whichever side it is on::

    patch        <======>      inlaid, long-grain sides, pointed ends
    slice        |----___      a face planed away on a slope, a slice glued on
    splice       ====/====     a new end on a sloping glue joint (scarf)
    edge strip   ________      a strip the whole length of an edge
    filler       ::            stopping, no wood
"""

from dataclasses import dataclass
from enum import StrEnum

from layout.outline import Outline, normal_outline
from layout.parts import PartSide
from layout.stock import Face

__all__ = ["Donor", "GlueKind", "GlueUp", "Repair", "RepairKind", "Stave"]


class RepairKind(StrEnum):
    """Ways of making a fault good."""

    PATCH = "patch"
    SLICE = "slice"
    SPLICE = "splice"
    EDGE_STRIP = "edge strip"
    FILLER = "filler"


@dataclass(frozen=True)
class Donor:
    """Where the wood of a repair comes from: a rectangle of left-over wood, in the board frame [mm].

    Parameters
    ----------
    board : str
    x0, y0, x1, y1 : float
        Of the blank as it is sawn out of the offcut [mm].
    face : Face
        Board face that becomes the repair's outside.
    thickness : float
        Of the blank, with what the planer takes [mm].
    grain : float
        Between its grain and that of the part it goes into [degrees].
    colour : float or None
        Between its colour and that round the fault [CIELAB units]; None where it
        was not measured.
    """

    board: str
    x0: float
    y0: float
    x1: float
    y1: float
    face: Face
    thickness: float
    grain: float = 0.0
    colour: float | None = None

    def __post_init__(self) -> None:
        if not (self.x0 < self.x1 and self.y0 < self.y1 and self.thickness > 0):
            raise ValueError(
                f"donor on board {self.board}: no size; give x0 < x1, y0 < y1, thickness above 0"
            )


@dataclass(frozen=True)
class Repair:
    """One fault made good.

    Parameters
    ----------
    kind : RepairKind
    part : str
    copy : int
    side : PartSide
        Side it is let into or glued on; the side the fault showed on.
    defects : tuple of str
        Faults of the board it makes good.
    outline : Outline
        Ground it takes, seen on the face side, in the part frame [mm].
    depth : float
        Deepest it reaches from its side; the part's thickness if it goes through [mm].
    slope : float
        Run over rise of its glue face: 12 is 1 in 12; 0 for none.
    at : float
        Where its glue face begins, from the near end [mm]: the feather edge of a slice,
        the end of a scarf on the side given; 0 for other kinds.
    donor : Donor or None
        None for a filler.
    cost : float
        [money]
    cautions : tuple of str
    alternative : str
        What would be done without it, and what that costs.
    """

    kind: RepairKind
    part: str
    copy: int
    side: PartSide
    defects: tuple[str, ...]
    outline: Outline
    depth: float
    slope: float = 0.0
    at: float = 0.0
    donor: Donor | None = None
    cost: float = 0.0
    cautions: tuple[str, ...] = ()
    alternative: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "outline", normal_outline(self.outline, f"{self.kind.value} in {self.part}"))
        object.__setattr__(self, "defects", tuple(self.defects))
        if not self.depth > 0:
            raise ValueError(
                f"{self.kind.value} in {self.part}: depth is {self.depth}; give a number above 0"
            )
        if (self.donor is None) != (self.kind is RepairKind.FILLER):
            raise ValueError(f"{self.kind.value} in {self.part}: every repair but a filler needs a donor")


class GlueKind(StrEnum):
    """Ways of gluing up a part."""

    PANEL = "panel"
    LAYERS = "layers"
    REJOINED = "ripped and rejoined"


@dataclass(frozen=True)
class Stave:
    """One piece of a glue-up, in its order.

    Parameters
    ----------
    part : str
        Name its placement goes by.
    copy : int
    size : float
        Finished width of a stave, finished thickness of a layer [mm].
    """

    part: str
    copy: int
    size: float


@dataclass(frozen=True)
class GlueUp:
    """How one copy of a part is glued up.

    Parameters
    ----------
    part : str
        The part of the cutting list.
    copy : int
    kind : GlueKind
    staves : tuple of Stave
        Numbered 1.. from the near edge of a panel, from the face of a layered part.
    loss : float
        Wood lost in joints and trimming, across a panel or rejoined part [mm].
    cautions : tuple of str
    """

    part: str
    copy: int
    kind: GlueKind
    staves: tuple[Stave, ...]
    loss: float = 0.0
    cautions: tuple[str, ...] = ()
