"""The weakest bound, which every job has: boards with too little wood for the parts' own area do not do.

Nothing is asked of the wood but that it is inside the outline: repairs are taken as free,
panels may be glued up from staves of any width. So it holds where no other bound does.
"""

from collections.abc import Sequence
from math import floor

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from shapely import Polygon

from layout.allowances import Shop
from layout.cost import price_of
from layout.cuts import Box
from layout.ground import usable_wood
from layout.parts import Part
from layout.solve.outside import Outside
from layout.stock import Board

__all__ = ["BY_AREA", "area_bound", "known_by_area"]

BY_AREA = "no choice of cheaper boards has wood enough for the area of all parts"
_SECONDS = 1.0  # for the programme [s]
_HAIR = 1e-6  # of its answer, conceded to the solver


def area_bound(
    boards: Sequence[Board], parts: Sequence[Part], shop: Shop, held: Sequence[str] = ()
) -> float | None:
    """Money no layout of all parts can undercut, whatever is repaired or glued up; None if there is none.

    Parameters
    ----------
    boards, parts, shop
    held : sequence of str
        Boards that hold locked parts: they are paid for whatever happens.
    """
    usable = [board for board in boards if not board.forbidden or board.id in held]
    wanted = sum(part.quantity * _area(part) for part in parts)
    if not usable or wanted <= 0.0:
        return None
    found = milp(
        np.array([price_of(board) for board in usable]),
        integrality=np.ones(len(usable)),
        bounds=Bounds(np.array([float(board.id in held) for board in usable]), 1.0),
        constraints=LinearConstraint(
            np.array([[usable_wood(board, shop).area for board in usable]]), wanted * (1.0 - _HAIR), np.inf
        ),
        options={"time_limit": _SECONDS, "mip_rel_gap": 0.0},
    )
    if found.status == 2 or found.mip_dual_bound is None:
        return None
    return max(float(found.mip_dual_bound) * (1.0 - _HAIR), 0.0)


def known_by_area(
    boards: Sequence[Board], parts: Sequence[Part], wanted: Sequence[int], taken: Sequence[Sequence[Box]]
) -> Outside:
    """What is known of boards before they are looked at: no piece fits where there is no wood for it.

    Parameters
    ----------
    boards, parts
    wanted : sequence of int
        Copies of each part.
    taken : sequence of sequence of Box
        Locked pieces of each board [mm]; boards that have some are paid for.
    """
    areas = [part.length * part.width for part in parts]
    whole = [Polygon(board.front).area for board in boards]
    money = [0.0 if boxes else price_of(board) for board, boxes in zip(boards, taken, strict=True)]
    known = Outside(wanted, money, [[floor(area / own) for own in areas] for area in whole])
    for number, area in enumerate(whole):
        known.price(number, areas, area)
    return known


def _area(part: Part) -> float:
    """The area of a finished part [mm2]; of one layer, if it has several."""
    return part.length * part.width if part.outline is None else float(Polygon(part.outline).area)
