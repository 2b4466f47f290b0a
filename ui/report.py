"""What a plan did, in numbers and in words: boards, parts, faults and where they went, cost, time."""

from dataclasses import dataclass
from typing import Any

from layout.cost import money_for
from layout.glue import Repair
from layout.outline import bounds_of
from layout.placement import Bound, Layout
from layout.stock import Board
from ui.drawing.fates import DefectFate, Fate, fates
from ui.drawing.pieces import listed
from ui.jobfile import Job, JobError, boards_of
from ui.lengths import length_text
from ui.webtable import web_table

__all__ = ["PlanReport", "buying_list", "compared", "money", "plan_report", "proof_of", "repair_lines"]

_HARMLESS = (Fate.IN_OFFCUT, Fate.CUT_AWAY)


@dataclass(frozen=True)
class PlanReport:
    """A job's layout, told.

    Parameters
    ----------
    job : Job
        With its layout.
    boards : tuple of Board
    fates : dict of str to tuple of DefectFate
        By board number; used boards only.
    violations : tuple of str
        What the verifier found.
    seconds : float or None
        How long it took to plan.
    """

    job: Job
    boards: tuple[Board, ...]
    fates: dict[str, tuple[DefectFate, ...]]
    violations: tuple[str, ...]
    seconds: float | None

    def as_dict(self) -> dict[str, Any]:
        """For `--json`: plain values only."""
        layout = _layout(self.job)
        return {
            "job": self.job.name,
            "boards_used": list(layout.boards_used),
            "boards_owned_or_offered": [board.id for board in self.boards],
            "parts_asked": sum(part.quantity for part in self.job.parts),
            "parts_placed": sum(part.quantity for part in self.job.parts) - len(layout.unplaced),
            "unplaced": [
                {"part": item.part, "copy": item.copy, "reason": item.reason} for item in layout.unplaced
            ],
            "faults": [self._fault(board, one) for board, all_of in self.fates.items() for one in all_of],
            "repairs": [_repair(one) for one in layout.repairs],
            "glued_up": [
                f"{one.part} {one.copy}: {len(one.staves)} {one.kind.value}" for one in layout.glue_ups
            ],
            "cost": layout.cost,
            "currency": self.job.currency,
            "bound": None if layout.bound is None else _bound(layout.bound),
            "violations": list(self.violations),
            "seconds": self.seconds,
        }

    def lines(self) -> list[str]:
        """The same in words, one line each."""
        layout, told = _layout(self.job), self.as_dict()
        lines = [
            f"boards used    {len(layout.boards_used)} of {len(self.boards)}: "
            + (", ".join(layout.boards_used) or "none"),
            f"parts placed   {told['parts_placed']} of {told['parts_asked']}",
            *(f"  not placed   {item.part} {item.copy}: {item.reason}" for item in layout.unplaced),
            *self._fault_lines(),
            *(f"  repair       {line}" for line in repair_lines(self.job)),
            f"cost           {money(layout.cost, self.job.currency)}  {proof_of(self.job)}".rstrip(),
        ]
        if self.seconds is not None:
            lines.append(f"time           {self.seconds:.1f} s")
        verdict = "no fault found by the verifier" if not self.violations else "REJECTED by the verifier:"
        return [*lines, f"check          {verdict}", *(f"  {sentence}" for sentence in self.violations)]

    def _fault(self, board: str, one: DefectFate) -> dict[str, Any]:
        return {
            "board": board,
            "fault": one.defect.id,
            "kind": one.defect.kind.value,
            "at": round(sum(bounds_of(one.defect.outline)[0::2]) / 2),
            "fate": one.fate.value,
            "on": sorted({f"{item.placement.part} {item.placement.copy}" for item in one.showings}),
            "sides": sorted({item.side.value for item in one.showings}),
        }

    def _fault_lines(self) -> list[str]:
        every = [(board, one) for board, all_of in self.fates.items() for one in all_of]
        inside = [(board, one) for board, one in every if one.fate not in _HARMLESS]
        away = len(every) - len(inside)
        lines = [f"faults         {len(every)} on the boards used; {away} cut away or left in an offcut"]
        for board, one in inside:
            told = self._fault(board, one)
            where = f": {', '.join(told['sides'])} of {', '.join(told['on'])}" if told["on"] else ""
            lines.append(f"  board {board}, {told['kind']} at {told['at']} mm: {told['fate']}{where}")
        return lines


def _repair(one: Repair) -> dict[str, Any]:
    return {
        "kind": one.kind.value,
        "part": one.part,
        "copy": one.copy,
        "side": one.side.value,
        "cost": one.cost,
    }


def _bound(bound: Bound) -> dict[str, Any]:
    return {
        "cost": bound.cost,
        "proved": bound.proved,
        "sawing": bound.sawing.value,
        "method": bound.method,
    }


def proof_of(job: Job) -> str:
    """How near the layout is to the best there can be, in a sentence; "" if nothing was proved."""
    bound = _layout(job).bound
    if bound is None:
        return ""
    if bound.proved:
        return f"Proved: nothing cheaper can be sawn {bound.sawing.value} ({bound.method})."
    return (
        f"No layout sawn {bound.sawing.value} can cost less than "
        f"{money(bound.cost, job.currency)} ({bound.method})."
    )


def plan_report(job: Job, violations: tuple[str, ...] = (), seconds: float | None = None) -> PlanReport:
    """What the job's layout does.

    Raises
    ------
    JobError
        There is no layout.
    """
    layout, boards = _layout(job), boards_of(job)
    used = [board for board in boards if board.id in layout.boards_used]
    told = {board.id: fates(board, job.parts, job.settings, layout) for board in used}
    return PlanReport(job, boards, told, violations, seconds)


def buying_list(job: Job) -> list[tuple[str, str]]:
    """Boards of the layout that are not the maker's own: number, and size with price in words."""
    layout = _layout(job)
    rows = []
    for board in boards_of(job):
        if board.id in layout.boards_used and not board.owned:
            size = " x ".join(
                length_text(size, job.units) for size in (board.length, board.widest, board.thickness)
            )
            rows.append((board.id, f"{board.species}, {size}, {money(money_for([board]), job.currency)}"))
    return rows


def compared(job: Job) -> str:
    """The present layout beside the kept ones, as an HTML table."""
    every = [("the present one", _layout(job)), *((kept.name, kept.layout) for kept in job.kept)]
    asked = sum(part.quantity for part in job.parts)
    rows: list[tuple[str, list[str]]] = [
        ("parts placed", [f"{asked - len(layout.unplaced)} of {asked}" for _, layout in every]),
        ("boards", [", ".join(layout.boards_used) or "none" for _, layout in every]),
        ("cost", [money(layout.cost, job.currency) for _, layout in every]),
        ("offcuts kept", [f"{_offcuts_m2(layout):.2f} m²" for _, layout in every]),
        ("faults on a side that is seen", [str(_seen_faults(job, layout)) for _, layout in every]),
        ("repairs", [str(len(layout.repairs)) for _, layout in every]),
        ("cuts", [str(len(layout.cuts)) for _, layout in every]),
    ]
    return web_table(
        "layouts compared", ["", *(name for name, _ in every)], [[name, *cells] for name, cells in rows]
    )


def repair_lines(job: Job) -> list[str]:
    """Each repair of the layout in a line: what, where, from which board, what it costs, what instead."""
    lines = []
    for one in _layout(job).repairs:
        donor = f", wood from board {one.donor.board}" if one.donor else ""
        instead = f" Instead: {one.alternative}" if one.alternative else ""
        place = f"{one.kind.value} in {one.part} {one.copy}, {one.side.value}"
        lines.append(f"{place}{donor}, {money(one.cost, job.currency)}.{instead}")
    return lines


def _offcuts_m2(layout: Layout) -> float:
    return sum((cut.x1 - cut.x0) * (cut.y1 - cut.y0) for cut in layout.offcuts) / 1e6


def _seen_faults(job: Job, layout: Layout) -> int:
    names = set(listed(job.parts, job.settings, layout))
    if any(item.part not in names for item in layout.placements):
        return 0
    told = (one for board in boards_of(job) for one in fates(board, job.parts, job.settings, layout))
    return sum(one.fate in (Fate.SEEN, Fate.SHOWN, Fate.AGAINST) for one in told)


def money(amount: float, currency: str) -> str:
    """An amount of money."""
    return f"{amount:.2f} {currency}"


def _layout(job: Job) -> Layout:
    if job.layout is None:
        raise JobError("this job has no layout yet; plan first")
    return job.layout
