"""What a plan did, in numbers and in words: boards, parts, faults and where they went, cost, time."""

from dataclasses import dataclass
from typing import Any

from layout.outline import bounds_of
from layout.placement import Layout
from layout.stock import Board
from ui.drawing.fates import DefectFate, Fate, fates
from ui.jobfile import Job, JobError, boards_of

__all__ = ["PlanReport", "money", "plan_report"]

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
            "parts_placed": len(layout.placements),
            "unplaced": [
                {"part": item.part, "copy": item.copy, "reason": item.reason} for item in layout.unplaced
            ],
            "faults": [self._fault(board, one) for board, all_of in self.fates.items() for one in all_of],
            "cost": layout.cost,
            "currency": self.job.currency,
            "bound": None
            if layout.bound is None
            else {
                "cost": layout.bound.cost,
                "proved": layout.bound.proved,
                "sawing": layout.bound.sawing.value,
                "method": layout.bound.method,
            },
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
            f"cost           {money(layout.cost, self.job.currency)}{self._bound_words()}",
        ]
        if self.seconds is not None:
            lines.append(f"time           {self.seconds:.1f} s")
        verdict = "no fault found by the verifier" if not self.violations else "REJECTED by the verifier:"
        return [*lines, f"check          {verdict}", *(f"  {sentence}" for sentence in self.violations)]

    def _bound_words(self) -> str:
        bound = _layout(self.job).bound
        if bound is None:
            return ""
        if bound.proved:
            return f" (proved: nothing cheaper can be sawn {bound.sawing.value}; {bound.method})"
        return (
            f" (no layout sawn {bound.sawing.value} costs less than {money(bound.cost, self.job.currency)})"
        )

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


def money(amount: float, currency: str) -> str:
    """An amount of money."""
    return f"{amount:.2f} {currency}"


def _layout(job: Job) -> Layout:
    if job.layout is None:
        raise JobError("this job has no layout yet; plan first")
    return job.layout
