"""How long and how hard a plan is searched for."""

from dataclasses import dataclass
from math import isfinite

from layout.demands import Mending
from layout.glue import GlueUp
from layout.placement import Placement
from layout.repair.looks import Looks
from layout.solve.family import Family

__all__ = ["SolveParams"]


@dataclass(frozen=True)
class SolveParams:
    """Limits and seed of a search.

    Parameters
    ----------
    seconds : float
        Wall-clock limit [s]; ignored where `iterations` is given.
    iterations : int or None
        Limit by rounds of improvement instead: the same seed and iterations give
        the same answer on every machine.
    seed : int
    prove : bool
        Whether to look for a bound (on a second core where the system lets us).
    start : tuple of Placement
        A plan made before, to start from: as much of it as still holds is used,
        which makes planning again quick.
    mending : function, optional
        What making defects good would take; `plan` sets it itself where the shop
        allows repairs.
    looks : tuple of Looks
        Colour and grain of faces, where measured: repairs choose their donors by them.
    glue_ups : tuple of GlueUp
        Of the layout that locked staves come from: their panels keep their widths.
    families : tuple of Family
        Staves of free width among the parts; `plan` sets them itself.
    explain : bool
        Whether to look for why a part has no place, which takes a while; off for
        plans that are only compared.
    """

    seconds: float = 10.0
    iterations: int | None = None
    seed: int = 0
    prove: bool = True
    mending: Mending | None = None
    start: tuple[Placement, ...] = ()
    looks: tuple[Looks, ...] = ()
    glue_ups: tuple[GlueUp, ...] = ()
    families: tuple[Family, ...] = ()
    explain: bool = True

    def __post_init__(self) -> None:
        if not (isfinite(self.seconds) and self.seconds >= 0):
            raise ValueError(f"seconds is {self.seconds}; give 0 or more")
        if self.iterations is not None and self.iterations < 0:
            raise ValueError(f"iterations is {self.iterations}; give 0 or more, or leave it out")
