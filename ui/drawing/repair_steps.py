"""A repair told step by step, as it is done at the bench; every number is the layout's."""

from math import atan, degrees

from layout.glue import Donor, Repair, RepairKind
from layout.outline import bounds_of
from layout.parts import Part
from ui.drawing.measures import Tape

__all__ = ["repair_steps"]

_ENDS = 1e-6


def repair_steps(repair: Repair, part: Part, mark: str, tape: Tape) -> tuple[str, ...]:
    """What to do, in order; one sentence a step.

    Parameters
    ----------
    repair : Repair
    part : Part
        The part it mends.
    mark : str
        What is chalked on the piece.
    tape : Tape
    """
    if repair.donor is None:
        place = f"{_where(repair, tape)} of {mark}'s {repair.side.value}"
        return (
            f"Clean out the fault {place}.",
            f"Fill it proud, {tape.fine(repair.depth)} deep, with filler of the wood's colour.",
            "Let it harden and level it.",
        )
    told = {
        RepairKind.PATCH: _patch,
        RepairKind.SLICE: _slice,
        RepairKind.SPLICE: _splice,
        RepairKind.EDGE_STRIP: _edge_strip,
    }[repair.kind]
    return (_blank(repair.donor, tape), *told(repair, part, mark, tape))


def _blank(donor: Donor, tape: Tape) -> str:
    size = f"{tape.fine(donor.x1 - donor.x0)} x {tape.fine(donor.y1 - donor.y0)}"
    ends = f"{tape.fine(donor.x0)} to {tape.fine(donor.x1)} from the datum end"
    edges = f"{tape.fine(donor.y0)} to {tape.fine(donor.y1)} from the datum edge"
    thick = f"{tape.fine(donor.thickness)} thick"
    return (
        f"Saw a blank {size}, {thick}, out of board {donor.board}: {ends}, {edges}; "
        f"the board's {donor.face.value} is its outside."
    )


def _where(repair: Repair, tape: Tape) -> str:
    x0, y0, x1, y1 = bounds_of(repair.outline)
    along = f"{tape.fine(x0)} to {tape.fine(x1)} from the near end"
    return f"{along}, {tape.fine(y0)} to {tape.fine(y1)} from the near edge"


def _patch(repair: Repair, part: Part, mark: str, tape: Tape) -> tuple[str, ...]:
    through = repair.depth >= part.thickness - _ENDS
    depth = "right through" if through else f"{tape.fine(repair.depth)} deep"
    return (
        "Shape it with its grain along the part and pointed ends, its edges a little undercut.",
        f"Lay it on {mark}'s {repair.side.value}, {_where(repair, tape)}; knife round it.",
        f"Let it in {depth}, to the knife line.",
        "Glue it, grain and light the same way as round it; clamp, then plane it flush.",
    )


def _slice(repair: Repair, part: Part, mark: str, tape: Tape) -> tuple[str, ...]:
    x0, _, x1, _ = bounds_of(repair.outline)
    end = "near end" if x0 <= _ENDS else "far end"
    side, slope = (
        repair.side.value,
        f"1 in {round(repair.slope, 1):g} ({degrees(atan(1 / repair.slope)):.1f}°)",
    )
    return (
        f"Plane {mark}'s {side} away on a slope of {slope}: nothing {tape.fine(repair.at)} "
        f"from the near end, {tape.fine(repair.depth)} at the {end}; "
        f"run it through on a wedge of that slope, {tape.fine(x1 - x0)} long.",
        "Plane the slice's glue face, glue it on over the whole slope, grain the same way; clamp evenly.",
        f"Plane the {side} flat again, back to {tape.fine(part.thickness)} thick.",
    )


def _splice(repair: Repair, part: Part, mark: str, tape: Tape) -> tuple[str, ...]:
    x0, _, x1, _ = bounds_of(repair.outline)
    end = "near end" if x0 <= _ENDS else "far end"
    return (
        f"Cut a scarf of 1 in {round(repair.slope, 1):g} through {mark}'s thickness: "
        f"on its {repair.side.value} the line is {tape.fine(repair.at)} from the near end. "
        f"The {end} comes away, {tape.fine(x1 - x0)} of it with the slope.",
        "Cut the same slope on the blank; both glue faces fresh and flat.",
        "Glue with a stop against creep, clamp over the whole slope; a joint of book strength at best.",
        f"Saw to length and plane to {tape.fine(part.width)} x {tape.fine(part.thickness)}.",
    )


def _edge_strip(repair: Repair, part: Part, mark: str, tape: Tape) -> tuple[str, ...]:
    _, y0, _, y1 = bounds_of(repair.outline)
    edge = "near edge" if y0 <= _ENDS else "far edge"
    return (
        f"Rip {tape.fine(y1 - y0)} off {mark}'s {edge}, its whole length, and plane that edge straight.",
        "Plane the strip's glue edge; glue it on, grain the same way, clamps close together.",
        f"Plane to {tape.fine(part.width)} wide.",
    )
