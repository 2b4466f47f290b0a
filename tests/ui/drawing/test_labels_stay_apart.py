"""On a workshop's whole job nothing written covers anything else written, and all is of a size to be read."""

from itertools import combinations

import numpy as np
import pytest

from layout.stock import Face
from tests.ui.drawing.jobs import DrawnJob, large_job
from ui.drawing.board_picture import board_picture, board_scene
from ui.drawing.board_view import BoardView
from ui.drawing.room import overlap

JOB = large_job()
TYPE_ON_A3 = (
    2.0  # mm of type across 400 mm of paper, the least that is read at arm's length (common practice)
)


def views(job: DrawnJob = JOB, **rest: object) -> list[BoardView]:
    return [
        BoardView(board, job.parts, job.shop, job.layout, face, **rest)  # type: ignore[arg-type]
        for board in job.boards
        for face in Face
    ]


@pytest.mark.parametrize("units", ["mm", "inch"])
@pytest.mark.parametrize("along", [100, 120])
def test_words_never_overlap(units, along):
    for view in views(units=units, along=along):
        words = board_scene(view).words()
        clashes = [(a.text, b.text) for a, b in combinations(words, 2) if overlap(a.box, b.box)]
        assert clashes == [], (view.board.id, view.face)


def test_words_stay_inside_the_picture():
    for view in views():
        scene = board_scene(view)
        x0, y0, x1, y1 = scene.extent
        for words in scene.words():
            left, top, right, foot = words.box
            assert x0 - 1e-6 <= left < right <= x1 + 1e-6, words.text
            assert y0 - 1e-6 <= top < foot <= y1 + 1e-6, words.text


def test_every_piece_carries_its_mark_on_both_faces():
    for view in views():
        texts = {words.text.split()[0] for words in board_scene(view).words()}
        assert {piece.mark for piece in view.pieces} <= texts


def test_type_is_large_enough_on_a3_and_marks_on_a_phone():
    for view in views():
        scene = board_scene(view)
        wide = scene.extent[2] - scene.extent[0]
        marks = {piece.mark for piece in view.pieces}
        for words in scene.words():
            assert words.size / wide * 400 >= TYPE_ON_A3, words.text
        largest = max(words.size for words in scene.words() if words.text in marks)
        assert largest / wide * 844 >= 12  # CSS px on a phone held sideways


def test_a_crowded_board_still_keeps_words_apart():
    job = large_job(boards=2, copies=3, seed=5)
    for view in views(job):
        words = board_scene(view).words()
        assert not any(overlap(a.box, b.box) for a, b in combinations(words, 2))


def test_the_picture_is_fine_enough_for_print():
    board = JOB.boards[0]
    drawn = board_picture(board, JOB.parts, JOB.shop, JOB.layout, Face.FRONT)
    assert drawn.shape[1] >= 3200
    assert drawn.dtype == np.uint8
