"""Planning glue-ups together with everything else: which stave widths, from which boards, in which order.

Staves are parts to the search like any other, so they compete for the boards with
the rest of the job. Several sets of widths are planned for a short time each, the
best one for longer. Sets tried for a panel of width W:

* k equal staves, for every k within the limits;
* two widths that fit a board: as wide as m strips of its usable wood can be, the
  rest of the panel in equal staves.

From that plan the search goes on with free widths: a stave is as wide as the clear
ground it lies on gives (`layout.solve.widths`), and what is counted down is the
width a panel still needs (`layout.solve.family`). Panels of a shape, with zones
that end in the middle of them, or with staves that stay where they are, keep
their set. Where rings lie by turns and boards' heart faces are known, the number
of staves stays as it is.

Then, board by board, all staves of a panel are tried on that board alone, the
cheapest first; that plan is taken if the whole job gets no dearer. Last, staves
are numbered so that neighbours in the board are neighbours in the panel.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import islice
from time import monotonic

from layout.allowances import Shop
from layout.glue import GlueUp
from layout.panels import glue_ups_of, rejoined_pieces, sawn_parts
from layout.parts import Part
from layout.placement import Layout, Placement
from layout.repair.carry_out import carried_out
from layout.solve.mended import better, part_of, without
from layout.solve.named import as_kinds, named
from layout.solve.params import SolveParams
from layout.solve.result import with_cuts
from layout.solve.settled import kept_widths, sets_of_widths
from layout.solve.together import Option, Task, free_again, in_sequence, on_one_board
from layout.solve.widths import by_turns, families_of, is_free, offered_widths
from layout.stock import Board

__all__ = ["Task", "is_glued", "with_glue_ups"]

_MOST_SETS = 8  # sets of widths planned
_SHORT = 0.3  # share of the time for all of them together
_SETTLED = 0.3  # share for the best of them
_FREE = 0.3  # share for free widths
_SHORT_MENDED, _BARE, _MENDED = 0.15, 0.1, 0.55  # the same with repairs, and the share for planning these
_ONE_BOARD = 0.1  # share for trying panels on single boards


def is_glued(parts: Sequence[Part], shop: Shop) -> bool:
    """Whether any part of the list is glued up."""
    return any(part.staves or part.layers > 1 or rejoined_pieces(part, shop) > 1 for part in parts)


def with_glue_ups(task: Task, params: SolveParams) -> Layout:
    """The best layout found for a job with glue-ups.

    Raises
    ------
    LayoutError
        A panel no set of staves within its limits adds up to.
    """
    began = monotonic()
    kept = kept_widths(params.glue_ups, task.locked)
    sets = islice(sets_of_widths(task.boards, task.parts, task.shop, kept), _MOST_SETS)
    options = [_settled(task, sizes) for sizes in sets]
    option, start = _best_option(task, params, options, began)
    panels = [part for part in task.parts if part.staves is not None]
    free = [part for part in panels if is_free(part) and part.name not in kept]
    chosen = bool(free) or len(options) > 1  # a bound holds for the widths it was proved for
    mended = bool(free) and task.shop.repairs.allowed
    whole = 1.0 if not panels else _BARE if mended else _SETTLED if free else _SETTLED + _FREE
    limit = replace(params, start=start, prove=params.prove and not chosen)
    # Repairs take long to plan: which widths are best is found without them.
    run = task.bare if mended else task.finish
    layout = run(option.sawn, part_of(limit, whole, began), task.locked)
    if free and not task.stopped():
        share = part_of(params, _BARE if mended else _FREE, began)
        option, layout = _freed(task, share, option, layout, free)
    if mended:
        limit = replace(limit, families=option.families, start=layout.placements)
        layout = task.finish(option.sawn, part_of(limit, _MENDED, began), task.locked)
    if panels:
        layout = on_one_board(task, layout, option, part_of(limit, _ONE_BOARD, began))
    done = _named(task, params, option, layout)
    done = replace(done, bound=None if chosen else layout.bound)
    sawn = sawn_parts(task.parts, task.shop, done.glue_ups)
    done = in_sequence(task, free_again(task, done), sawn, option.ups)
    return replace(done, glue_ups=_with_cautions(task, done.glue_ups, done))


def _settled(task: Task, sizes: dict[str, tuple[float, ...]]) -> Option:
    """All widths settled."""
    ups = glue_ups_of(task.parts, task.shop, sizes)
    return Option(ups, (), sawn_parts(task.parts, task.shop, ups))


def _best_option(
    task: Task, params: SolveParams, options: Sequence[Option], began: float
) -> tuple[Option, tuple[Placement, ...]]:
    """The set of widths that plans best in a short time, and the plan to go on from."""
    if len(options) == 1:
        return options[0], params.start
    short = _SHORT_MENDED if task.shop.repairs.allowed else _SHORT
    chosen, best = options[0], None
    for option in options:
        over = params.iterations is None and monotonic() - began > short * params.seconds
        if best is not None and (over or task.stopped()):
            break
        limit = replace(part_of(params, short / len(options), began), prove=False)
        trial = task.core(task.boards, option.sawn, task.shop, limit, locked=task.locked)
        if best is None or better(trial, best, (*chosen.sawn, *option.sawn)):
            chosen, best = option, trial
    assert best is not None
    return chosen, best.placements


def _freed(
    task: Task, params: SolveParams, option: Option, layout: Layout, free: Sequence[Part]
) -> tuple[Option, Layout]:
    """The better one of the plan with settled widths and a plan that goes on from it with free ones."""
    names = {part.name for part in free}
    ups = tuple(up for up in option.ups if up.part not in names)
    families = tuple(
        family
        for part in free
        for family in families_of(
            part,
            _count(part, option.ups, task.boards),
            offered_widths(part, task.boards, task.shop, _sizes(part, option.ups)),
            task.boards,
        )
    )
    settled = [part for part in task.parts if part.name not in names]
    kinds = [kind.part for family in families for kind in family.kinds]
    freed = Option(ups, families, (*sawn_parts(settled, task.shop, ups), *kinds))
    start = as_kinds(layout.placements, option.ups, families)
    limit = replace(params, prove=False, families=families, start=start)
    run = task.bare if task.shop.repairs.allowed else task.finish
    trial = run(freed.sawn, limit, task.locked)
    one, other = _named(task, params, freed, trial), _named(task, params, option, layout)
    sawn = {
        part.name: part for item in (one, other) for part in sawn_parts(task.parts, task.shop, item.glue_ups)
    }
    return (freed, trial) if better(one, other, tuple(sawn.values())) else (option, layout)


def _sizes(part: Part, ups: Sequence[GlueUp]) -> list[float]:
    return [stave.size for up in ups if up.part == part.name for stave in up.staves]


def _count(part: Part, ups: Sequence[GlueUp], boards: Sequence[Board]) -> int | None:
    """How many staves a panel is to have, where that must be settled; None where it need not be."""
    if not by_turns(part, boards):
        return None
    return next(len(up.staves) for up in ups if up.part == part.name)


def _named(task: Task, params: SolveParams, option: Option, layout: Layout) -> Layout:
    """The layout with all its glue-ups, staves by their names."""
    done, same = named(layout, task.boards, task.shop, option.families)
    order = {part.name: number for number, part in enumerate(task.parts)}
    ups = sorted((*option.ups, *done.glue_ups), key=lambda up: (order[up.part], up.copy))
    done = replace(done, glue_ups=tuple(ups))
    return done if same else _cut_anew(task, done, params)


def _cut_anew(task: Task, layout: Layout, params: SolveParams) -> Layout:
    """The layout with cuts, offcuts, repairs and cost worked out again, less parts that lost their repair."""
    done = with_cuts(replace(layout, repairs=()), task.boards, task.parts, task.shop)
    if not layout.repairs:
        return done
    sawn = sawn_parts(task.parts, task.shop, layout.glue_ups)
    told = {(item.part, item.copy): item.alternative for item in layout.repairs}
    made, left = carried_out(task.boards, sawn, task.shop, done, params.looks)
    if left:
        bare = replace(made, glue_ups=())
        bare = without(task.boards, sawn, task.shop, bare, left, params.looks, task.locked)
        made = replace(bare, glue_ups=layout.glue_ups)
    repairs = tuple(
        replace(item, alternative=told.get((item.part, item.copy), item.alternative)) for item in made.repairs
    )
    return replace(made, repairs=repairs)


def _with_cautions(task: Task, ups: Sequence[GlueUp], layout: Layout) -> tuple[GlueUp, ...]:
    listed = {part.name: part for part in task.parts}
    stock = {board.id: board for board in task.boards}
    where = {(item.part, item.copy): item for item in layout.placements}
    found = []
    for up in ups:
        used = [where[stave.part, stave.copy] for stave in up.staves if (stave.part, stave.copy) in where]
        if listed[up.part].staves is None:
            found.append(up)
            continue
        text = _panel_cautions(up, [stock[item.board] for item in used])
        found.append(replace(up, cautions=(*up.cautions, *text)))
    return tuple(found)


def _panel_cautions(up: GlueUp, used: Sequence[Board]) -> Iterator[str]:
    if max(stave.size for stave in up.staves) > 120:
        yield "A stave wider than 120 mm may cup and show it in the panel."
    damp = [board.moisture for board in used if board.moisture is not None]
    if damp and max(damp) - min(damp) > 2:
        yield f"The boards differ by {max(damp) - min(damp):.1f} % in moisture; 2 % is the most for gluing."
    if len({board.id for board in used}) > 1:
        yield "The staves come from more than one board: match colour and figure by eye before gluing."
    if any(board.heart is None for board in used):
        yield "The heart face of a board is not known: look at the rings on the ends before laying up."
