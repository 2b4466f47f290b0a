"""The marked-up picture of the tiny board."""

from itertools import combinations
from xml.etree import ElementTree

import numpy as np
import pytest

from layout.stock import Face
from tests.builders import tiny_board, tiny_layout, tiny_parts, tiny_shop
from ui.drawing.board_picture import board_picture, board_scene, board_svg
from ui.drawing.board_view import BoardView
from ui.drawing.room import overlap


def tiny_view(face: Face = Face.FRONT) -> BoardView:
    return BoardView(tiny_board(), tiny_parts(), tiny_shop(), tiny_layout(), face)


@pytest.mark.parametrize("face", list(Face))
def test_no_words_cover_other_words(face):
    words = board_scene(tiny_view(face)).words()
    assert len(words) > 20
    clashes = [(a.text, b.text) for a, b in combinations(words, 2) if overlap(a.box, b.box)]
    assert clashes == []


@pytest.mark.parametrize("face", list(Face))
def test_all_words_lie_inside_the_picture(face):
    scene = board_scene(tiny_view(face))
    x0, y0, x1, y1 = scene.extent
    for words in scene.words():
        left, top, right, foot = words.box
        assert x0 <= left < right <= x1, words.text
        assert y0 <= top < foot <= y1, words.text


def test_every_mark_cut_and_reading_is_written():
    texts = [words.text for words in board_scene(tiny_view()).words()]
    for wanted in ("A1", "A2", "B1", "20", "450", "67", "134", "201", "430 x 64 mm", "410 x 64 mm"):
        assert wanted in texts
    assert {"1", "2", "3", "4", "5", "6", "7"} <= set(texts)
    assert "offcut 547 x 210 mm" in texts
    assert "dead knot 40 mm: in an offcut" in texts


def test_the_picture_lies_where_the_board_lies():
    picture = np.zeros((420, 2000, 3), np.uint8)
    picture[:, :, 0] = 200
    view = tiny_view()
    drawn = board_picture(tiny_board(), tiny_parts(), tiny_shop(), tiny_layout(), Face.FRONT, picture, 2.0)
    scene = board_scene(view, picture)
    scale = drawn.shape[1] / (scene.extent[2] - scene.extent[0])
    at = (np.array([(700.0, 150.0), (900.0, 60.0)]) - scene.extent[:2]) * scale  # bare wood of the offcut
    for x, y in at.astype(int):
        assert drawn[y, x].tolist() == [200, 0, 0]


def test_svg_is_well_formed_and_at_true_scale():
    root = ElementTree.fromstring(
        board_svg(tiny_board(), tiny_parts(), tiny_shop(), tiny_layout(), Face.FRONT).encode()
    )
    _, _, wide, high = (float(each) for each in root.get("viewBox").split())
    assert float(root.get("width").removesuffix("mm")) == pytest.approx(wide)
    assert float(root.get("height").removesuffix("mm")) == pytest.approx(high)
