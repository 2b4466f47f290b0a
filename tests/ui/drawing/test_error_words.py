"""What a sheet says of how true its picture is, and of the face to mark out on."""

from dataclasses import replace

from layout.stock import Face
from tests.builders import tiny_board, tiny_layout, tiny_parts, tiny_shop
from ui.drawing.board_view import BoardView
from ui.drawing.margins import error_words


def words(face: Face, **more: object) -> str:
    board = replace(tiny_board(), **more)  # type: ignore[arg-type]
    return error_words(BoardView(board, tiny_parts(), tiny_shop(), tiny_layout(), face))


def test_each_face_says_its_own_error_and_where_to_mark_out() -> None:
    known = {"error_front": (1.5, 0.5), "error_back": (1.5, 4.5), "marked_on": Face.FRONT}
    front, back = (words(face, **known) for face in Face)
    assert front == "picture true to 1.5 mm along, 0.5 mm across; mark out on this face, tape before you cut"
    assert back == "picture true to 1.5 mm along, 4.5 mm across; mark out on the front, tape before you cut"


def test_either_face_may_be_marked_out_where_it_makes_no_difference() -> None:
    assert words(Face.BACK, error=1.2) == "picture true to 1.2 mm; tape before you cut"
    assert words(Face.BACK) == "no photograph: sizes as taped"
