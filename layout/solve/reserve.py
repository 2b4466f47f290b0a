"""Wood kept for a repair while the rest of the plan is made anew.

A plan may lay a part on a fault that could be made good, and then cut up all the
wood the repair would have come from. Then the part is held where it lies, and the
blank of its repair beside it, as if it were one more part to saw; the search
plans round both. In the finished plan the blank is no part again, but the cuts
that free it stay.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from layout.allowances import Sawing, Shop
from layout.cuts import sawable, sawn_box
from layout.parts import Part, PartSide, Visibility
from layout.placement import Layout, Placement
from layout.repair.carry_out import Unmended, carried_out
from layout.repair.looks import Looks
from layout.solve.result import with_cuts
from layout.stock import Board

__all__ = ["Reserve"]

_CONCEALED = dict.fromkeys(PartSide, Visibility.CONCEALED)


@dataclass
class Reserve:
    """Mended parts held in their places, and the blanks held for them.

    Parameters
    ----------
    boards, parts, shop, looks
        Of the job, parts as sawn.
    locked : sequence of Placement
        Held by the maker.
    held : list of Placement
        Mended parts and blanks.
    blanks : list of Part
    """

    boards: Sequence[Board]
    parts: Sequence[Part]
    shop: Shop
    looks: Sequence[Looks]
    locked: Sequence[Placement] = ()
    held: list[Placement] = field(default_factory=list)
    blanks: list[Part] = field(default_factory=list)

    @property
    def all_parts(self) -> list[Part]:
        """The parts, and the blanks as if they were parts."""
        return [*self.parts, *self.blanks]

    @property
    def all_locked(self) -> list[Placement]:
        """What the maker holds, and what is held for repairs."""
        return [*self.locked, *self.held]

    def keep(self, item: Unmended) -> bool:
        """Hold a part and the blanks of its repairs, if its board has the wood with nothing else on it."""
        place = replace(item.placement, locked=True)
        here = [other for other in self.all_locked if other.board == place.board]
        if any((other.part, other.copy) == (place.part, place.copy) for other in here):
            return False
        alone = Layout(placements=(*here, place), sawing=self.shop.sawing)
        alone = with_cuts(alone, self.boards, self.all_parts, self.shop)
        made, left = carried_out(self.boards, self.all_parts, self.shop, alone, self.looks)
        if any((other.placement.part, other.placement.copy) == (place.part, place.copy) for other in left):
            return False
        found = [
            self._blank(repair.donor.x0, repair.donor.y0, repair.donor.x1, repair.donor.y1, place, number)
            for number, repair in enumerate(made.repairs)
            if (repair.part, repair.copy) == (place.part, place.copy) and repair.donor is not None
        ]
        placements = [place, *(blank for _, blank in found)]
        if not self._can_be_sawn([*here, *placements], [part for part, _ in found]):
            return False
        self.held += placements
        self.blanks += [part for part, _ in found]
        return True

    def told_apart(self, plan: Layout) -> Layout:
        """A plan made with what is held, without the blanks; the mended parts are free again."""
        names = {part.name for part in self.blanks}
        fixed = {(item.part, item.copy) for item in self.locked}
        kept = tuple(
            item if (item.part, item.copy) in fixed else replace(item, locked=False)
            for item in plan.placements
            if item.part not in names
        )
        return replace(plan, placements=kept)

    def _blank(
        self, x0: float, y0: float, x1: float, y1: float, place: Placement, number: int
    ) -> tuple[Part, Placement]:
        """A blank as a part of its own, and its place."""
        name = f"blank {number + 1} for {place.part} {place.copy}"
        part = Part(name, x1 - x0, y1 - y0, 0.1, sides=_CONCEALED, length_allowance=0.0, width_allowance=0.0)
        return part, Placement(
            name, 1, place.board, x0, y0, from_front=self.shop.allowances.skim, locked=True
        )

    def _can_be_sawn(self, placements: Sequence[Placement], blanks: Sequence[Part]) -> bool:
        if self.shop.sawing is Sawing.BAND_SAW:
            return True
        listed = {part.name: part for part in [*self.all_parts, *blanks]}
        boxes = [sawn_box(item, listed[item.part], self.shop) for item in placements]
        return sawable(boxes, self.shop.sawing, self.shop.stages, self.shop.allowances.kerf)
