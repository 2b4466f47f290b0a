from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from layout.repair.looks import colour_between
from layout.stock import Board, Face, Turn
from vision.errors import VisionError
from vision.looks import looks_of

BOARD = Board.square_edged("1", 400, 100, 25)
PX_PER_MM = 2.0
OAK, PALE = (176, 140, 96), (205, 178, 138)


def striped(slope: float = 0.0) -> NDArray[np.uint8]:
    """A face 400 x 100 mm, the last 100 mm paler, with fine lines along the grain at a slope."""
    y, x = np.mgrid[0:200, 0:800]
    face = np.where((x < 600)[..., None], np.array(OAK), np.array(PALE))
    lines = 12 * np.sin((y - slope * x) * 2 * np.pi / 6)
    return np.clip(face + lines[..., None], 0, 255).astype(np.uint8)


def test_colours_stand_where_they_are_on_the_board() -> None:
    looks = looks_of(striped(), PX_PER_MM, BOARD, Face.FRONT)
    same = colour_between(looks.colour_in(0, 0, 100, 40), looks.colour_in(150, 50, 290, 100))
    other = colour_between(looks.colour_in(0, 0, 100, 40), looks.colour_in(320, 0, 400, 100))
    assert same < 1 < 8 < other
    assert looks.colour_in(0, 0, 100, 40)[0] == pytest.approx(60, abs=2)  # L of that brown, by hand


@pytest.mark.parametrize("slope", [-0.05, 0.0, 0.08])
def test_the_grain_s_angle_has_its_sign(slope: float) -> None:
    grain = looks_of(striped(slope), PX_PER_MM, BOARD, Face.FRONT).grain_in(40, 20, 260, 80)
    assert grain == pytest.approx(np.degrees(np.arctan(slope)), abs=0.5)


@pytest.mark.parametrize("turned", list(Turn))
def test_the_back_is_turned_back_into_the_board_frame(turned: Turn) -> None:
    board = replace(BOARD, turned=turned)
    seen = striped(0.08)  # the pale end is seen on the right
    looks = looks_of(seen, PX_PER_MM, board, Face.BACK)
    pale_at = 360 if turned is Turn.ROLLED else 40
    dark, pale = looks.colour_in(180, 0, 220, 100), looks.colour_in(pale_at - 20, 0, pale_at + 20, 100)
    assert pale[0] > dark[0] + 8
    assert looks.grain_in(160, 20, 240, 80) == pytest.approx(-np.degrees(np.arctan(0.08)), abs=0.5)


def test_dark_pores_and_pencil_lines_do_not_count() -> None:
    face = striped()
    face[:, ::20] = 20
    marked, clean = (
        looks_of(face, PX_PER_MM, BOARD, Face.FRONT),
        looks_of(striped(), PX_PER_MM, BOARD, Face.FRONT),
    )
    box = (0, 0, 200, 100)
    assert colour_between(marked.colour_in(*box), clean.colour_in(*box)) < 4


def test_no_scale_or_no_wood() -> None:
    with pytest.raises(VisionError, match="the scale of the picture is 0"):
        looks_of(striped(), 0.0, BOARD, Face.FRONT)
    with pytest.raises(VisionError, match="at least 20 mm"):
        looks_of(striped()[:10, :10], PX_PER_MM, BOARD, Face.FRONT)
