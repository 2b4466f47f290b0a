"""A plan of fillings made into a Layout: exact poses, numbered copies, cuts, offcuts, money."""

from collections.abc import Sequence
from dataclasses import replace

from layout.allowances import Shop
from layout.clear import judged
from layout.cost import money_for
from layout.cuts import sawn_apart, sawn_box
from layout.demands import Mending
from layout.ground import Ground
from layout.offcuts import offcuts_of
from layout.panels import sawn_parts
from layout.parts import Part
from layout.placement import Cut, Layout, Offcut, Placement, Unplaced
from layout.poses import Pose, as_placement, poses
from layout.repair.carry_out import carried_out
from layout.solve.construct import Draft
from layout.solve.job import Job
from layout.stock import Board, Face, Wish

__all__ = ["best_pose", "layout_of", "with_cuts"]


def best_pose(ground: Ground, part: Part, x: float, y: float, mending: Mending | None = None) -> Pose | None:
    """The allowed pose with least repair, then least harm, at a place of the piece's corner [mm]."""
    best, best_cost = None, (float("inf"), 0, float("inf"))
    worth_seeing = any(defect.wish is Wish.SHOW for defect in ground.board.defects)
    for pose in poses(part, ground.board, ground.shop):
        verdict = judged(ground, part, x, y, pose, mending)
        cost = (round(verdict.mend, 6), verdict.mends, round(verdict.harm, 6))
        if verdict and cost < best_cost:
            best, best_cost = pose, cost
            if best_cost == (0.0, 0, 0.0) and pose.face_from is Face.FRONT and not worth_seeing:
                break
    return best


def layout_of(
    job: Job,
    draft: Draft,
    boards: Sequence[Board],
    parts: Sequence[Part],
    locked: Sequence[Placement],
    reasons: Sequence[Unplaced],
    seed: int,
    mending: Mending | None = None,
) -> Layout:
    """The layout of a draft.

    Parameters
    ----------
    job, draft
    boards, parts : sequence
        The whole job, as given.
    locked : sequence of Placement
        Kept as they are.
    reasons : sequence of Unplaced
        Filled in for copies without a place, in the order of the parts.
    """
    placed = list(locked)
    numbers = _free_numbers(parts, locked)
    for board in sorted(draft.fillings):
        ground = job.grounds[board]
        for kind, x, y in draft.fillings[board].places:
            part = job.parts[kind]
            pose = best_pose(ground, part, x, y, mending)
            if pose is None:
                raise AssertionError(
                    f"{part.name} at {x:.1f}, {y:.1f} on board {ground.board.id} is not allowed"
                )
            copy = numbers[part.name].pop(0)
            placed.append(as_placement(part, copy, ground.board, job.shop, x, y, pose))
    layout = Layout(placements=tuple(placed), unplaced=tuple(reasons), sawing=job.shop.sawing, seed=seed)
    return with_cuts(layout, boards, parts, job.shop)


def with_cuts(layout: Layout, boards: Sequence[Board], parts: Sequence[Part], shop: Shop) -> Layout:
    """The layout with its cuts, offcuts, repairs and cost worked out again from its placements.

    Parameters
    ----------
    layout : Layout
    boards : sequence of Board
    parts : sequence of Part
        The cutting list if the layout states glue-ups, else the parts as sawn.
    shop : Shop
    """
    sawn_as = sawn_parts(parts, shop, layout.glue_ups) if layout.glue_ups else tuple(parts)
    listed = {part.name: part for part in sawn_as}
    cuts: list[Cut] = []
    offcuts: list[Offcut] = []
    used = []
    for board in boards:
        here = layout.on(board.id)
        if not here:
            continue
        used.append(board)
        boxes = [sawn_box(item, listed[item.part], shop) for item in here]
        sawn = sawn_apart(board, boxes, shop)
        cuts += sawn.cuts
        offcuts += offcuts_of(board, boxes, sawn.left_over, shop)
    done = replace(
        layout,
        cuts=tuple(cuts),
        offcuts=tuple(offcuts),
        cost=money_for(used),
        sawing=shop.sawing,
        repairs=(),
    )
    if not layout.repairs:
        return done
    without = layout.repairs[0].alternative
    return carried_out(boards, sawn_as, shop, done, without=without)[0]


def _free_numbers(parts: Sequence[Part], locked: Sequence[Placement]) -> dict[str, list[int]]:
    held = {(item.part, item.copy) for item in locked}
    return {
        part.name: [copy for copy in range(1, part.quantity + 1) if (part.name, copy) not in held]
        for part in parts
    }
