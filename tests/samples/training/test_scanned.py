from pathlib import Path

import cv2
import numpy as np
import pytest

from samples.training.left_open import left_open
from samples.training.made import BITS, OPEN, SHAPE, filled, made_cut
from samples.training.scanned import KNOWN, cut_of, load_scanned
from tests.vision.suggest.made_boards import clear_board, photographed, with_knot


@pytest.fixture
def scans(tmp_path: Path) -> Path:
    """Two pale pictures as `pack_scans` packs them, a strip of the scanner's bed along the top of each."""
    rng = np.random.default_rng(3)
    pictures = np.clip(rng.normal(190, 4, (2, 240, 300, 3)), 0, 255).astype(np.uint8)
    pictures[:, :30] = 12
    bare = cv2.imencode(".png", np.zeros((240, 300), np.uint8))[1]
    np.savez(
        tmp_path / "scans.npz",
        pictures=np.array([*(cv2.imencode(".png", one)[1] for one in pictures), None], object)[:-1],
        masks=np.array([bare, bare, None], object)[:-1],
    )
    return tmp_path / "scans.npz"


def test_scans_are_drawn_on_as_often_as_asked_and_the_same_for_the_same_seed(scans: Path) -> None:
    load_scanned(scans, 1.0)
    cuts = [cut_of(seed) for seed in range(8)]
    again = cut_of(3)
    load_scanned(scans, 0.0)
    assert {cut.known for cut in cuts} == {KNOWN}
    assert {cut.picture.shape for cut in cuts} == {(*SHAPE, 3)}
    assert np.array_equal(cuts[3].picture, again.picture)
    assert np.array_equal(cuts[3].bits, again.bits)
    assert sum(bool(cut.bits.any()) for cut in cuts) >= 6
    assert np.array_equal(cut_of(3).picture, made_cut(3).picture)


def test_nothing_is_drawn_on_the_bed_beside_a_board(scans: Path) -> None:
    load_scanned(scans, 1.0)
    cuts = [cut_of(seed) for seed in range(12)]
    load_scanned(None, 0.0)
    beds = [cv2.erode((cut.picture.max(axis=2) < 20).astype(np.uint8), np.ones((15, 15))) > 0 for cut in cuts]
    assert sum(int(bed.sum()) for bed in beds) > 5000
    assert sum(int((cut.bits[bed] > 0).sum()) for cut, bed in zip(cuts, beds, strict=True)) == 0


def test_a_small_picture_is_mirrored_until_it_fills_the_cut() -> None:
    plane = np.arange(12, dtype=np.uint8).reshape(3, 4)
    whole = filled(plane, (20, 9))
    assert whole.shape == (20, 9)
    assert np.array_equal(whole[:3, :4], plane)
    assert np.array_equal(whole[3:6, :4], plane[::-1])
    assert np.array_equal(whole[:3, 4:8], plane[:, ::-1])


def test_a_knot_that_nobody_labelled_is_left_open_and_a_labelled_one_is_not() -> None:
    picture = photographed(with_knot(with_knot(clear_board(400, 120), 120, 50, 18), 300, 70, 18))
    bits = np.zeros(picture.shape[:2], np.uint8)
    cv2.circle(bits, (240, 100), 18, BITS["knot"], -1)
    seen = left_open(picture, bits)
    assert seen[140, 600] & OPEN
    assert not (seen[:, :420] & OPEN).any()
    assert np.array_equal(seen & ~np.uint8(OPEN), bits)
