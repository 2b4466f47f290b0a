"""A layout after a part of the cutting list was given another name."""

import re
from dataclasses import replace

from layout.glue import GlueKind, GlueUp
from layout.panels import stave_name
from layout.parts import Part
from layout.placement import Layout

__all__ = ["with_new_name"]


def with_new_name(layout: Layout, old: Part, new: str) -> Layout:
    """The layout with a part's new name wherever the old one stood: staves, layers, repairs and words too.

    Parameters
    ----------
    layout : Layout
    old : Part
        As it was called.
    new : str
    """
    names = {old.name: new}
    part = replace(old, name=new)
    for up in layout.glue_ups:
        if up.part == old.name:
            names |= _pieces(up, part)
    spoken = re.compile(
        "|".join(rf"\b{re.escape(name)}(?= \d)" for name in sorted(names, key=len, reverse=True))
    )

    def called(name: str) -> str:
        return names.get(name, name)

    def said(text: str) -> str:
        return spoken.sub(lambda found: names[found.group()], text)

    ups = tuple(
        replace(
            up,
            part=called(up.part),
            staves=tuple(replace(stave, part=called(stave.part)) for stave in up.staves)
            if up.part == old.name
            else up.staves,
        )
        for up in layout.glue_ups
    )
    return replace(
        layout,
        placements=tuple(replace(item, part=called(item.part)) for item in layout.placements),
        unplaced=tuple(
            replace(item, part=called(item.part), reason=said(item.reason)) for item in layout.unplaced
        ),
        repairs=tuple(
            replace(item, part=called(item.part), alternative=said(item.alternative))
            for item in layout.repairs
        ),
        glue_ups=ups,
    )


def _pieces(up: GlueUp, part: Part) -> dict[str, str]:
    """New names of the pieces a copy of a part is glued up from."""
    if up.kind is GlueKind.PANEL:
        return {
            stave.part: stave_name(part, up.copy, number) for number, stave in enumerate(up.staves, start=1)
        }
    if up.kind is GlueKind.LAYERS:
        return {stave.part: f"{part.name} layer {number}" for number, stave in enumerate(up.staves, start=1)}
    return {}
