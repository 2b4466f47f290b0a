"""Glue-ups judged: whether the staves make the panel, and what each stave then has to be.

Works out the parts as they are sawn a second time, from the drawing in
`layout.panels` and the glue-ups the layout states; the rest of the verifier then
judges staves and layers like any other part.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import ceil

from shapely import affinity
from shapely.geometry import Polygon, box

from layout.allowances import Shop
from layout.checks.finding import TOLERANCE, Violation, mm
from layout.glue import GlueKind, GlueUp
from layout.outline import Outline
from layout.parts import Part, PartSide, Rings, Visibility, Zone
from layout.placement import Layout

__all__ = ["as_sawn", "glue_up_faults"]

_RIP_AND_JOINT = (
    2.5 + 2.0
)  # a saw cut and two planed edges, for each rip of a wide part; common practice [mm]
_SQUARING = 3.0  # layers are planed square after gluing; common practice [mm]


def as_sawn(parts: Sequence[Part], shop: Shop, layout: Layout) -> tuple[Part, ...]:
    """The cutting list as the saw sees it, staves and layers in place of what is glued from them."""
    found: list[Part] = []
    for part in parts:
        if part.staves is not None:
            for up in layout.glue_ups:
                if up.part == part.name and up.kind is GlueKind.PANEL:
                    found += [_stave(part, up, number) for number in range(len(up.staves))]
        elif part.layers > 1:
            found += [_layer(part, number, shop) for number in range(part.layers)]
        else:
            rips = _rips(part, shop)
            wider = _extra_width(part, shop) + rips * _RIP_AND_JOINT
            found.append(replace(part, width_allowance=wider) if rips else part)
    return tuple(found)


def glue_up_faults(parts: Sequence[Part], shop: Shop, layout: Layout) -> Iterator[Violation]:
    """Glue-ups missing, made twice, of the wrong sizes, or for parts that are not glued."""
    listed = {part.name: part for part in parts}
    stated: dict[tuple[str, int], int] = {}
    for up in layout.glue_ups:
        stated[up.part, up.copy] = stated.get((up.part, up.copy), 0) + 1
        if up.part not in listed:
            yield _said(up.part, up.copy, "is glued up, but the cutting list has no such part")
        else:
            for text in _faults(listed[up.part], up, shop):
                yield _said(up.part, up.copy, text)
    for part in parts:
        for copy in range(1, part.quantity + 1):
            times = stated.get((part.name, copy), 0)
            if times != (1 if _wanted(part, shop) else 0) and (times or _wanted(part, shop)):
                yield _said(
                    part.name, copy, f"has {times} glue-ups stated, not {int(bool(_wanted(part, shop)))}"
                )
    names = [stave.part for up in layout.glue_ups if up.kind is GlueKind.PANEL for stave in up.staves]
    for name in sorted({name for name in names if names.count(name) > 1 or name in listed}):
        yield _said(name, None, "is the name of two pieces; each stave needs a name of its own")


def _wanted(part: Part, shop: Shop) -> GlueKind | None:
    if part.staves is not None:
        return GlueKind.PANEL
    if part.layers > 1:
        return GlueKind.LAYERS
    return GlueKind.REJOINED if _rips(part, shop) else None


def _faults(part: Part, up: GlueUp, shop: Shop) -> Iterator[str]:
    if up.kind is not _wanted(part, shop):
        yield f"is not to be made as {up.kind.value}"
        return
    sizes = [stave.size for stave in up.staves]
    if up.kind is GlueKind.PANEL and part.staves is not None:
        rules = part.staves
        for number, size in enumerate(sizes, start=1):
            if not rules.least - TOLERANCE <= size <= rules.most + TOLERANCE:
                limits = f"{mm(rules.least)} to {mm(rules.most)}"
                yield f"stave {number} is {mm(size)} wide; {limits} was asked for"
        whole, loss = part.width, (len(sizes) - 1) * rules.joint + rules.trim
    elif up.kind is GlueKind.LAYERS:
        if len(sizes) != part.layers or max(sizes) - min(sizes) > TOLERANCE:
            found = f"{len(sizes)} layers of {mm(min(sizes))} to {mm(max(sizes))}"
            yield f"has {found}; {part.layers} alike were asked for"
        whole, loss = part.thickness, _SQUARING
    else:
        pieces = _rips(part, shop) + 1
        if len(sizes) != pieces:
            yield f"is ripped into {len(sizes)}; the planer of {mm(shop.planer_width)} needs {pieces}"
        whole, loss = part.width, (pieces - 1) * _RIP_AND_JOINT
    if abs(sum(sizes) - whole) > TOLERANCE:
        yield f"is {mm(whole)}, but its pieces add up to {mm(sum(sizes))}"
    if abs(up.loss - loss) > TOLERANCE:
        yield f"states a loss of {mm(up.loss)}, but joints and trimming take {mm(loss)}"


def _stave(part: Part, up: GlueUp, number: int) -> Part:
    rules = part.staves
    assert rules is not None
    reached = sum(stave.size for stave in up.staves[:number])
    stave, last = up.staves[number], len(up.staves) - 1
    glued = {PartSide.NEAR_EDGE: number > 0, PartSide.FAR_EDGE: number < last}
    outer = not all(glued.values())
    strip = box(0.0, reached, part.length, reached + stave.size)
    own = None if part.outline is None else _within(part.outline, strip)
    whole = own is None or Polygon(own).area > part.length * stave.size - 1e-6
    zones = [(zone, _within(zone.outline, strip)) for zone in part.zones]
    return replace(
        part,
        name=stave.part,
        width=stave.size,
        quantity=1,
        sides={side: Visibility.CONCEALED if glued.get(side) else part.visibility(side) for side in PartSide},
        outline=None if whole else own,
        zones=tuple(Zone(z.name, cut, z.rule, z.side) for z, cut in zones if cut is not None),
        width_allowance=max(rules.joint, rules.trim) if outer else rules.joint,
        staves=None,
        heart_up={Rings.ALIKE: True, Rings.ALTERNATE: number % 2 == 0}.get(rules.rings),
    )


def _within(outline: Outline, strip: Polygon) -> Outline | None:
    """What a strip leaves of an outline, in the strip's own frame; its bounds if it falls apart."""
    cut = Polygon(outline).intersection(strip)
    if cut.area <= 1e-6:
        return None
    if not isinstance(cut, Polygon):
        cut = box(*cut.bounds)
    cut = affinity.translate(cut, 0.0, -strip.bounds[1])
    return tuple((float(x), float(y)) for x, y in cut.exterior.coords[:-1])


def _layer(part: Part, number: int, shop: Shop) -> Part:
    inside = {PartSide.FACE: number > 0, PartSide.BACK: number < part.layers - 1}
    return replace(
        part,
        name=f"{part.name} layer {number + 1}",
        thickness=part.thickness / part.layers,
        sides={
            side: Visibility.CONCEALED if inside.get(side) else part.visibility(side) for side in PartSide
        },
        zones=tuple(zone for zone in part.zones if zone.side is None or not inside[zone.side]),
        width_allowance=_extra_width(part, shop) + _SQUARING,
        layers=1,
    )


def _extra_width(part: Part, shop: Shop) -> float:
    return shop.allowances.width if part.width_allowance is None else part.width_allowance


def _rips(part: Part, shop: Shop) -> int:
    """How often a part must be ripped to go through the planer."""
    return max(ceil((part.width + _extra_width(part, shop)) / shop.planer_width - 1e-9) - 1, 0)


def _said(part: str, copy: int | None, what: str) -> Violation:
    name = part if copy is None else f"{part} {copy}"
    return Violation(part, copy, None, f"{name}: {what}.")
