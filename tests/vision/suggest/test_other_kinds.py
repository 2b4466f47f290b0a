from dataclasses import replace

import numpy as np
import pytest

from layout.outline import bounds_of
from layout.stock import DefectKind
from tests.vision.suggest.made_boards import PX_PER_MM, clear_board, photographed, with_crack
from vision.suggest import learned
from vision.suggest.every import suggest_marks
from vision.suggest.pockets import pockets, witness
from vision.suggest.regions import Region, sureness
from vision.suggest.sapwood import Profiles, sapwood
from vision.suggest.stain import said_stain, stain
from vision.suggest.surface import surface_of


def marks_of(board, kind):
    return [mark for mark in suggest_marks(photographed(board), PX_PER_MM) if mark.kind is kind]


def test_a_crack_that_runs_out_of_an_end_is_a_split():
    (mark,) = marks_of(with_crack(clear_board(), 0, 60, 90), DefectKind.SPLIT)
    x0, _, x1, _ = bounds_of(mark.outline)
    assert x0 == pytest.approx(0, abs=4)
    assert x1 == pytest.approx(90, abs=15)


def test_pale_sapwood_along_an_edge_is_found_to_a_few_millimetres_and_slants():
    board = clear_board(900)
    border = np.linspace(25, 40, board.shape[1]) * PX_PER_MM
    outside = np.arange(board.shape[0])[:, None] < border[None, :]
    board[outside] = board[outside] * (1.18, 1.24, 1.4)
    (mark,) = marks_of(board, DefectKind.SAPWOOD)
    x0, y0, x1, y1 = bounds_of(mark.outline)
    assert (x0, x1) == (0, 900)
    assert y0 <= 1
    assert y1 == pytest.approx(40, abs=4)


def profiles(near=30.0, far=0.0, bark=0, agreed=0.8, rows=120, blocks=45):
    """A board with sapwood so deep along its edges [mm], so sure to the net; the near edge is bark."""
    rng = np.random.default_rng(4)
    row, shape = np.arange(rows), (blocks, rows)
    deep = [np.broadcast_to(depth, blocks)[:, None] for depth in (near, far)]
    pale = (row < deep[0]) | (row >= rows - deep[1])
    under = np.broadcast_to(row < bark, shape)
    lab = np.where(pale[..., None], (70.0, 9.0, 20.0), (58.0, 14.0, 26.0)) + rng.normal(0, 1.0, (*shape, 3))
    lab[under] = rng.normal((22.0, 3.0, 5.0), 6.0, (int(under.sum()), 3))
    said = (agreed * (pale & ~under)).astype(np.float32), under.astype(np.float32)
    return [Profiles(20.0 * np.arange(blocks) + 10, lab.astype(np.float32), np.ones(shape, np.bool_), *said)]


@pytest.mark.parametrize("bark", [0, 6, 15])
def test_sapwood_beside_bark_is_found_and_begins_where_the_bark_ends(bark):
    (found,) = sapwood(profiles(near=34, bark=bark), 900.0)
    x0, y0, x1, y1 = bounds_of(found.ring)
    assert (x0, x1) == (0, 900)
    assert y0 == pytest.approx(bark, abs=1)
    assert y1 == pytest.approx(34, abs=3)
    assert found.score > 0.9


def test_a_border_that_the_net_does_not_see_is_doubted():
    (seen,), (unseen,) = (sapwood(profiles(agreed=agreed), 900.0) for agreed in (0.8, 0.0))
    assert seen.score > 0.9
    assert unseen.score < seen.score - 0.1


@pytest.mark.parametrize(("agreed", "found"), [(0.8, 1), (0.4, 0)])
def test_sapwood_may_take_most_of_a_narrow_board_only_where_the_net_is_sure(agreed, found):
    borders = sapwood(profiles(near=48, agreed=agreed, rows=72), 900.0)
    assert [bounds_of(one.ring)[3] for one in borders] == pytest.approx([48] * found, abs=2)


@pytest.mark.parametrize(("agreed", "found"), [(0.8, 1), (0.4, 0)])
def test_sapwood_no_paler_than_the_heart_but_of_another_hue_is_found_only_where_the_net_is_sure(
    agreed, found
):
    (part,) = profiles(near=40, agreed=agreed)
    lab = part.lab.copy()
    lab[:, :40] += (58.6 - 70.0, 4.0 - 9.0, 14.0 - 20.0)
    borders = sapwood([replace(part, lab=lab)], 900.0)
    assert [bounds_of(one.ring)[3] for one in borders] == pytest.approx([40] * found, abs=2)


def test_of_two_steps_alike_the_net_tells_which_is_the_border_of_the_sapwood():
    (part,) = profiles(near=34, rows=160)
    lab = part.lab.copy()
    lab[:, 80:] += (-10.0, 4.2, 5.0)  # the heartwood darkens once more, by a step that is a little greater
    told = [
        bounds_of(one.ring)[3]
        for chance in (part.chance, None)
        for one in sapwood([replace(part, lab=lab, chance=chance)], 900.0)
    ]
    assert told == pytest.approx([34, 80], abs=3)


def test_sapwood_on_both_edges_is_marked_where_heartwood_is_left_between_even_if_it_wanders():
    slant = np.linspace(14, 96, 45)
    near, far = (bounds_of(one.ring) for one in sapwood(profiles(slant, 110 - slant, rows=180), 900.0))
    assert near[1::2] == (0, pytest.approx(96, abs=4))
    assert far[1::2] == (pytest.approx(180 - 96, abs=4), 180)


def test_a_shadow_along_an_edge_is_no_sapwood():
    board = clear_board(900)
    board[: int(35 * PX_PER_MM)] *= 0.75  # darker outside, and of the same hue
    assert marks_of(board, DefectKind.SAPWOOD) == []
    board[int(35 * PX_PER_MM) :] *= 0.6  # now the outside is the paler one, still of the same hue
    assert marks_of(board, DefectKind.SAPWOOD) == []


def test_dark_rough_bark_along_an_edge_is_wane_even_without_the_net(monkeypatch):
    monkeypatch.setattr(learned, "_net", lambda: None)
    board = clear_board(700)
    deep = (9 + 3 * np.sin(np.arange(board.shape[1]) / 90)) * PX_PER_MM
    bark = np.arange(board.shape[0])[::-1, None] < deep[None, :]
    board[bark] = np.random.default_rng(2).normal((60, 48, 40), 12, (int(bark.sum()), 3))
    (mark,) = marks_of(board, DefectKind.WANE)
    x0, y0, x1, y1 = bounds_of(mark.outline)
    assert x1 - x0 > 600
    assert y1 == pytest.approx(120, abs=1)
    assert y0 == pytest.approx(108, abs=4)


def test_bench_seen_beyond_an_end_that_is_not_square_is_not_taken_for_wane_half_across(monkeypatch):
    monkeypatch.setattr(learned, "_net", lambda: None)
    board = clear_board(700)
    rows, columns = np.indices(board.shape[:2])
    bark = board.shape[0] - rows < 9 * PX_PER_MM
    board[bark] = np.random.default_rng(2).normal((60, 48, 40), 12, (int(bark.sum()), 3))
    board[columns < 7 * PX_PER_MM * (rows / board.shape[0])] = (60, 48, 40)
    (mark,) = marks_of(board, DefectKind.WANE)
    assert bounds_of(mark.outline)[1] == pytest.approx(111, abs=4)


@pytest.mark.parametrize(("left", "top"), [(0, 0), (5, 3), (80, 30), (180, 50)])
def test_a_pocket_is_told_how_much_darker_it_is_than_what_lies_round_it(left, top):
    region = Region(np.ones((10, 20), np.bool_), left, top)
    said = np.full((60, 200), 0.4, np.float32)
    streak = np.full((60, 200), 3.0, np.float32)
    pocket = streak.copy()
    pocket[region.window] += 7.0
    assert witness(region, said, streak)[-1] == pytest.approx(0.0)
    assert witness(region, said, pocket)[-1] == pytest.approx(7.0)
    assert witness(region, said, pocket)[:-1] == pytest.approx(sureness(region, said))


def said_on(board, kind, *clouds):
    """A stretch of board on which the net sees nothing of a kind but in windows, with a chance for each."""
    surface = surface_of(photographed(board), PX_PER_MM)
    said = np.full(surface.wood.shape, 0.02, np.float32)
    for window, chance in clouds:
        said[window] = chance
    surface.__dict__["chances"] = {kind: said}  # what the property keeps once it has asked the net
    return surface


def said_of_stain(*clouds):
    return said_on(clear_board(), "stain", *clouds)


def test_a_stain_ends_where_the_net_is_half_as_sure_as_amid_it():
    surface = said_of_stain((np.s_[38:66, 40:460], 0.3), (np.s_[40:64, 150:250], 0.9))
    (region,) = said_stain(surface)
    assert (region.left, region.top, region.wide, region.high) == (150, 40, 100, 24)
    (found,) = stain(surface)
    assert bounds_of(found.ring) == pytest.approx((150, 40, 250, 64), abs=0.5)


def test_a_stain_that_the_net_is_nowhere_sure_of_is_whole_and_doubted():
    surface = said_of_stain((np.s_[38:66, 40:460], 0.3))
    (found,) = stain(surface)
    assert bounds_of(found.ring) == pytest.approx((40, 38, 460, 66), abs=0.5)
    assert found.score < 0.2


def test_two_stains_joined_by_doubt_are_two():
    surface = said_of_stain(
        (np.s_[40:64, 50:450], 0.3), (np.s_[40:64, 50:120], 0.9), (np.s_[40:64, 330:450], 0.8)
    )
    assert sorted((one.left, one.wide) for one in said_stain(surface)) == [(50, 70), (330, 120)]


@pytest.mark.parametrize(
    ("colour", "kind"), [((88, 44, 12), DefectKind.RESIN_POCKET), ((58, 52, 48), DefectKind.BARK_POCKET)]
)
def test_an_equally_dark_pocket_is_resin_if_amber_and_bark_if_grey_and_ends_where_the_net_is_half_as_sure(
    colour, kind
):
    board = clear_board()
    board[100:116, 400:460] = colour
    seen = (np.s_[47:61, 190:240], 0.35), (np.s_[50:58, 200:230], 0.95)
    (found,) = pockets(said_on(board, "pocket", *seen))
    assert found.kind is kind
    assert bounds_of(found.ring) == pytest.approx((200, 50, 230, 58), abs=0.5)
