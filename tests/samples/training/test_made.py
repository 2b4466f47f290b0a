import time

import numpy as np
import pytest

from samples.training import stream as stream_of_cuts
from samples.training.made import ALL_KNOWN, BITS, SHAPE, made_cut
from samples.training.pack_scans import for_testing
from samples.training.stream import CutStream
from samples.training.weigh_marks import fitted


def test_a_cut_is_the_same_for_the_same_seed_and_of_one_shape():
    one, other = made_cut(11), made_cut(11)
    assert one.picture.shape == (*SHAPE, 3)
    assert one.bits.shape == SHAPE
    assert np.array_equal(one.picture, other.picture)
    assert np.array_equal(one.bits, other.bits)


def test_half_of_the_cuts_are_hard_negatives_and_unseen_sapwood_is_not_asked_for():
    cuts = [made_cut(seed) for seed in range(12)]
    faults = sum(BITS[name] for name in ("knot", "crack", "pocket", "stain"))
    clear = sum(not (cut.bits & faults).any() for cut in cuts)
    assert 2 <= clear <= 10
    assert {cut.known for cut in cuts} <= {ALL_KNOWN, ALL_KNOWN - BITS["sapwood"]}


def test_cuts_made_in_the_background_are_those_of_the_seeds_and_come_only_once():
    stream = CutStream(11, None, cores=1)
    cuts = []
    while len(cuts) < 2:
        cuts += stream.taken(1)
        time.sleep(0.02)
    stream.stop()
    assert [np.array_equal(cut.picture, made_cut(11 + n).picture) for n, cut in enumerate(cuts)] == [
        True,
        True,
    ]


def test_cuts_go_on_coming_after_there_was_no_room_for_more(monkeypatch):
    monkeypatch.setattr(stream_of_cuts, "_ROOM", 2)
    stream = CutStream(11, None, cores=1)
    for _ in range(2):
        begun = time.monotonic()
        while stream.waiting < 2:
            assert time.monotonic() - begun < 60
            time.sleep(0.02)
        assert len(stream.taken(5)) == 2
    stream.stop()


@pytest.mark.parametrize(
    ("name", "kept"), [("img_499.jpg", False), ("img_500.jpg", True), ("img_1000.jpg", False)]
)
def test_rare_frames_are_split_by_runs_of_numbers(name, kept):
    assert for_testing(name) is kept


def test_the_fit_finds_what_the_witness_is_worth():
    rng = np.random.default_rng(0)
    said = np.column_stack([np.ones(4000), rng.normal(0, 1, (4000, 2))])
    right = rng.random(4000) < 1 / (1 + np.exp(-said @ (-0.5, 2.0, 0.0)))
    weights = fitted([(row, bool(r), 1.0) for row, r in zip(said, right, strict=True)], ridge=1e-4)
    assert weights == pytest.approx((-0.5, 2.0, 0.0), abs=0.2)
