"""Settled sets of stave widths, for panels whose staves cannot be told apart by place and width alone."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import product
from math import ceil, floor

from layout.allowances import Shop
from layout.glue import GlueKind, GlueUp
from layout.ground import usable_wood
from layout.panels import least_staves, most_staves
from layout.parts import Part, Staves
from layout.placement import Placement
from layout.stock import Board

__all__ = ["kept_widths", "sets_of_widths"]

_MORE = 2  # staves more than the fewest

Widths = tuple[float, ...]


def kept_widths(ups: Sequence[GlueUp], locked: Sequence[Placement]) -> dict[str, Widths]:
    """Widths of the panels with a stave that stays where it is."""
    fixed = {item.part for item in locked}
    return {
        up.part: tuple(stave.size for stave in up.staves)
        for up in ups
        if up.kind is GlueKind.PANEL and any(stave.part in fixed for stave in up.staves)
    }


def sets_of_widths(
    boards: Sequence[Board], parts: Sequence[Part], shop: Shop, kept: Mapping[str, Widths]
) -> Iterator[dict[str, Widths]]:
    """Sets of widths for all panels, those most promising first."""
    panels = [part for part in parts if part.staves is not None]
    options = [
        [kept[part.name]] if part.name in kept else list(_widths(part, boards, shop)) for part in panels
    ]
    if not panels:
        yield {}
        return
    ranked = sorted(product(*(range(len(option)) for option in options)), key=sum)
    for choice in ranked:
        yield {
            part.name: options[n][which] for n, (part, which) in enumerate(zip(panels, choice, strict=True))
        }


def _widths(part: Part, boards: Sequence[Board], shop: Shop) -> Iterator[Widths]:
    """Sets of widths for one panel: equal staves, fewest first, then those that fit a board."""
    rules = part.staves
    assert rules is not None
    fewest, most = least_staves(part), most_staves(part)
    seen: set[Widths] = set()
    for count in range(fewest, min(most, fewest + _MORE) + 1):
        equal = (round(part.width / count, 3),) * (count - 1)
        seen.add((*equal, part.width - sum(equal)))
        yield (*equal, part.width - sum(equal))
    for widths in sorted(_fitted(part, rules, boards, shop), key=len):
        if widths not in seen and len(widths) <= fewest + _MORE:
            seen.add(widths)
            yield widths


def _fitted(part: Part, rules: Staves, boards: Sequence[Board], shop: Shop) -> Iterator[Widths]:
    """Sets of two widths, one of them as wide as strips of a board can be."""
    kerf = shop.allowances.kerf
    found = set()
    for board in boards:
        wood = usable_wood(board, shop)
        if wood.is_empty or board.forbidden:
            continue
        room = wood.bounds[3] - wood.bounds[1]
        for strips, extra in product(range(1, 6), {rules.joint, max(rules.joint, rules.trim)}):
            width = floor((room - (strips - 1) * kerf) / strips - extra)
            if rules.least <= width <= rules.most:
                found.add(float(width))
    for wide in sorted(found, reverse=True):
        for count in range(1, int(part.width / wide) + 1):
            rest = part.width - count * wide
            if rest < 1e-6:
                continue
            others = max(ceil(rest / rules.most), 1)
            if rest / others >= rules.least:
                yield (*(wide,) * count, *(round(rest / others, 3),) * (others - 1), _last(rest, others))


def _last(rest: float, others: int) -> float:
    return rest - round(rest / others, 3) * (others - 1)
