"""Glue-ups: panels from staves, thick parts from layers, wide parts ripped, planed and rejoined.

A panel in its part frame, staves numbered from the near edge, grain along x::

    near edge   +-------------------------------------------+  y = 0
                |  stave 1                                  |
                |-------------------------------------------|  glue joints
                |  stave 2                                  |
                |-------------------------------------------|
                |  stave k                                  |
    far edge    +-------------------------------------------+  y = width

The staves' widths add up to the panel's width. Each is sawn wider: by `joint` for
its two planed edges, an outer one by its share of `trim` instead where that is
more. Every stave is a part of its own to the saw; `sawn_parts` lists them in
place of the panel. A stave shows what its strip of the panel shows; its glued
edges are concealed, and take no sapwood or pith on a show face because that
face's rule does not.

Sizes and cautions are common practice, no source, unless marked.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from math import ceil

from shapely import Polygon, affinity, box

from layout.allowances import Allowances, Shop, sawn_width
from layout.errors import LayoutError
from layout.glue import GlueKind, GlueUp, Stave
from layout.outline import Outline, area_of, normal_outline, rectangle
from layout.parts import Part, PartSide, Rings, Visibility, Zone

__all__ = [
    "LAYER_SQUARING",
    "RIP_AND_JOINT",
    "a_stave",
    "glue_ups_of",
    "heart_up",
    "is_panel",
    "least_staves",
    "most_staves",
    "panel_glue_up",
    "rejoined_pieces",
    "sawn_parts",
    "stave_name",
]

# Lost for each rip of a wide part: 2.5 mm of saw cut and 2 mm planed off the two edges.
RIP_AND_JOINT = 4.5
# Layers are sawn wider, to be planed square once they are glued.
LAYER_SQUARING = 3.0


def is_panel(part: Part) -> bool:
    """Whether a part is glued up from staves."""
    return part.staves is not None


def least_staves(part: Part) -> int:
    """Fewest staves a panel can be made of.

    Raises
    ------
    LayoutError
        No number of staves within the widths given adds up to the panel.
    """
    assert part.staves is not None
    fewest = ceil(part.width / part.staves.most - 1e-9)
    if fewest * part.staves.least > part.width + 1e-9:
        low, high = part.staves.least, part.staves.most
        raise LayoutError(
            f"panel {part.name}: no number of staves of {low:g} to {high:g} mm adds up to {part.width:g} mm;"
            " widen the limits"
        )
    return fewest


def most_staves(part: Part) -> int:
    """Most staves a panel can be made of."""
    assert part.staves is not None
    return int(part.width / part.staves.least + 1e-9)


def rejoined_pieces(part: Part, shop: Shop) -> int:
    """Pieces a part of one board must be ripped into to go through the planer; 1 if it need not be."""
    return ceil(sawn_width(part, shop.allowances) / shop.planer_width - 1e-9)


def stave_name(part: Part, copy: int, number: int) -> str:
    """What a stave is called on the cutting list, for example "top stave 3"."""
    which = part.name if part.quantity == 1 else f"{part.name} {copy}"
    return f"{which} stave {number}"


def glue_ups_of(
    parts: Sequence[Part], shop: Shop, widths: Mapping[str, Sequence[float]]
) -> tuple[GlueUp, ...]:
    """How every copy of every glued-up part is made.

    Parameters
    ----------
    parts : sequence of Part
        The cutting list.
    shop : Shop
    widths : dict
        Stave widths of each panel, by its name, adding up to the panel's width [mm].
    """
    return tuple(_glue_up(part, copy, shop, widths) for part in parts for copy in _copies(part, shop))


def panel_glue_up(part: Part, copy: int, sizes: Sequence[float]) -> GlueUp:
    """How one copy of a panel is glued up from staves of these widths, from the near edge [mm]."""
    assert part.staves is not None
    staves = tuple(Stave(stave_name(part, copy, n), 1, size) for n, size in enumerate(sizes, start=1))
    loss = (len(sizes) - 1) * part.staves.joint + part.staves.trim
    return GlueUp(part.name, copy, GlueKind.PANEL, staves, loss)


def sawn_parts(parts: Sequence[Part], shop: Shop, glue_ups: Sequence[GlueUp]) -> tuple[Part, ...]:
    """The cutting list as the saw sees it: staves and layers in place of what is glued from them.

    Parameters
    ----------
    parts : sequence of Part
        The cutting list.
    shop : Shop
    glue_ups : sequence of GlueUp
        From the layout (`Layout.glue_ups`) or `glue_ups_of`.
    """
    found: list[Part] = []
    for part in parts:
        if part.staves is not None:
            for item in glue_ups:
                if item.part == part.name and item.kind is GlueKind.PANEL:
                    found += _staves(part, item)
        elif part.layers > 1:
            found += _layers(part, shop.allowances)
        elif (pieces := rejoined_pieces(part, shop)) > 1:
            own = shop.allowances.width if part.width_allowance is None else part.width_allowance
            found.append(replace(part, width_allowance=own + (pieces - 1) * RIP_AND_JOINT))
        else:
            found.append(part)
    return tuple(found)


def _copies(part: Part, shop: Shop) -> Iterable[int]:
    glued = part.staves is not None or part.layers > 1 or rejoined_pieces(part, shop) > 1
    return range(1, part.quantity + 1) if glued else ()


def _glue_up(part: Part, copy: int, shop: Shop, widths: Mapping[str, Sequence[float]]) -> GlueUp:
    if part.staves is not None:
        return panel_glue_up(part, copy, widths[part.name])
    if part.layers > 1:
        size = part.thickness / part.layers
        layers = tuple(Stave(f"{part.name} layer {n}", copy, size) for n in range(1, part.layers + 1))
        text = "The glue lines show on the edges: turn them to the sides least seen, or cover them."
        return GlueUp(part.name, copy, GlueKind.LAYERS, layers, LAYER_SQUARING, (text,))
    pieces = rejoined_pieces(part, shop)
    loss = (pieces - 1) * RIP_AND_JOINT
    text = (
        f"Wider than the planer ({shop.planer_width:g} mm): rip into {pieces}, plane, joint and glue in the"
        f" order they were; {loss:g} mm are lost."
    )
    whole = tuple(Stave(part.name, copy, part.width / pieces) for _ in range(pieces))
    return GlueUp(part.name, copy, GlueKind.REJOINED, whole, loss, (text,))


def a_stave(
    part: Part, name: str, size: float, reached: float, first: bool, last: bool, heart_up: bool | None
) -> Part:
    """One stave of a panel, as a part to be sawn.

    Parameters
    ----------
    part : Part
        The panel.
    name : str
        What the stave is called.
    size : float
        Its finished width [mm].
    reached : float
        Where it begins, from the panel's near edge [mm].
    first, last : bool
        Whether it has the panel's near edge, its far edge.
    heart_up : bool or None
    """
    rules = part.staves
    assert rules is not None
    sides = {side: part.visibility(side) for side in PartSide}
    if not first:
        sides[PartSide.NEAR_EDGE] = Visibility.CONCEALED
    if not last:
        sides[PartSide.FAR_EDGE] = Visibility.CONCEALED
    return replace(
        part,
        name=name,
        width=size,
        quantity=1,
        sides=sides,
        outline=_strip(part.outline, part, reached, size),
        zones=tuple(_zones(part, reached, size)),
        width_allowance=max(rules.joint, rules.trim) if first or last else rules.joint,
        staves=None,
        heart_up=heart_up,
    )


def _staves(part: Part, item: GlueUp) -> list[Part]:
    rules = part.staves
    assert rules is not None
    found, reached = [], 0.0
    for number, stave in enumerate(item.staves):
        last = number == len(item.staves) - 1
        mate = item.staves[0].part if rules.one_board and number else part.same_board_as
        heart = heart_up(rules.rings, number)
        one = a_stave(part, stave.part, stave.size, reached, number == 0, last, heart)
        found.append(replace(one, same_board_as=mate))
        reached += stave.size
    return found


def heart_up(rings: Rings, number: int) -> bool | None:
    """Whether the heart side of a stave, counted from 0, must be its face; None if it does not matter."""
    if rings is Rings.AS_IT_COMES:
        return None
    return rings is Rings.ALIKE or number % 2 == 0


def _layers(part: Part, allowances: Allowances) -> list[Part]:
    own = allowances.width if part.width_allowance is None else part.width_allowance
    found = []
    for number in range(1, part.layers + 1):
        sides = {side: part.visibility(side) for side in PartSide}
        outer = {PartSide.FACE: number == 1, PartSide.BACK: number == part.layers}
        for side, shows in outer.items():
            if not shows:
                sides[side] = Visibility.CONCEALED
        zones = tuple(zone for zone in part.zones if zone.side is None or outer[zone.side])
        found.append(
            replace(
                part,
                name=f"{part.name} layer {number}",
                thickness=part.thickness / part.layers,
                sides=sides,
                zones=zones,
                width_allowance=own + LAYER_SQUARING,
                layers=1,
            )
        )
    return found


def _strip(outline: Outline | None, part: Part, reached: float, width: float) -> Outline | None:
    """What a stave's strip leaves of a shaped panel's outline; None for a whole rectangle."""
    if outline is None:
        return None
    cut = _cut(outline, part, reached, width)
    if cut is None or area_of(cut) >= part.length * width - 1e-6:
        return None
    return cut


def _zones(part: Part, reached: float, width: float) -> Iterable[Zone]:
    for zone in part.zones:
        cut = _cut(zone.outline, part, reached, width)
        if cut is not None:
            yield replace(zone, outline=cut)


def _cut(outline: Outline, part: Part, reached: float, width: float) -> Outline | None:
    """An outline cut to a stave and moved to its frame; its bounding box if it falls apart."""
    cut = affinity.translate(
        Polygon(outline).intersection(box(0, reached, part.length, reached + width)), 0, -reached
    )
    if cut.area <= 1e-6:
        return None
    if not isinstance(cut, Polygon):
        return rectangle(*cut.bounds)
    return normal_outline(list(cut.exterior.coords), part.name)
