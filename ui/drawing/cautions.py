"""The cautions that belong to a board or a job: only those that apply, a line or two each.

References
----------
Dust, machine and lifting rules as gathered in the contributors' guide; the
300 mm push-stick distance is a contractors' rule (read at second hand), the
rest is common practice.
"""

from layout.allowances import sawn_length, sawn_width
from layout.errors import LayoutError
from layout.stock import Board, DefectKind
from layout.timber import timber_called
from layout.weight import lift_of, weight_of
from ui.drawing.board_view import BoardView

__all__ = ["ALWAYS", "board_cautions", "board_weight"]

ALWAYS = (
    "Layout aid only: a photograph shows one face, not depth, hidden knots, metal or inner checks. "
    "Tape and look before each cut.",
    "Hardwood dust harms: extract at the machine, wear a mask. "
    "Riving knife, guard and push stick set for every cut.",
    "Not for structural timber. Local rules and licensed practice come first.",
)
_SHORT = 300.0
_NARROW = 60.0
_ONE_PERSON = 16.0  # kg, the lesser of the two guides for one person


def board_weight(board: Board) -> float | None:
    """Weight of a whole board [kg] by its species' usual density, None where no density is known."""
    try:
        timber = timber_called(board.species)
    except LayoutError:
        return None
    return weight_of(board.length, board.widest, board.thickness, timber)


def board_cautions(view: BoardView) -> tuple[str, ...]:
    """What is special about sawing this board."""
    board, allowances = view.board, view.shop.allowances
    found = []
    small = [
        piece.mark
        for piece in view.pieces
        if sawn_length(piece.part, allowances) < _SHORT or sawn_width(piece.part, allowances) < _NARROW
    ]
    if small:
        hands = "12 in" if view.units == "inch" else "300 mm"
        shown = ", ".join(small[:6]) + (" ..." if len(small) > 6 else "")
        found.append(f"Short or narrow ({shown}): stop block or push stick, hands {hands} from the blade.")
    kinds = {defect.kind for defect in board.defects}
    if DefectKind.METAL in kinds:
        found.append("Metal is marked here: find it with a detector and take it out before it meets a blade.")
    if kinds & {DefectKind.SPLIT, DefectKind.SHAKE, DefectKind.CHECK}:
        found.append(
            "Splits and checks run further than they show; wood under tension can close on the blade."
        )
    weight = board_weight(board)
    if weight is not None and weight > _ONE_PERSON:
        found.append("Lifting: " + lift_of(weight).advice)
    return tuple(found)
