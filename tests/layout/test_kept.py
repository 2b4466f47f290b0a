"""What is kept between plans: the latest, never more than there is room for, and nothing beside it."""

import gc
from weakref import ref

import numpy as np
import pytest

from layout.ground import ground_of
from layout.kept import EVERY, Kept
from layout.outline import rectangle
from layout.reach import Reach, reach_of
from layout.solve import memory
from layout.solve.memory import known_ground, known_map
from layout.solve.params import SolveParams
from layout.solve.plan import plan
from layout.stock import Defect, DefectKind, Where
from tests.builders import tiny_board, tiny_parts, tiny_shop
from tests.robust.random_jobs import random_job


def test_what_was_not_asked_for_longest_goes_first() -> None:
    kept: Kept[str] = Kept(10, len)
    kept.put("a", "aaaa")
    kept.put("b", "bbbb")
    assert kept.get("a") == "aaaa"
    kept.put("c", "cccc")
    assert [kept.get(key) for key in "abc"] == ["aaaa", None, "cccc"]
    assert kept.size == 8


def test_one_value_larger_than_the_room_is_kept_alone() -> None:
    kept: Kept[str] = Kept(10, len)
    kept.put("small", "s")
    kept.put("large", "l" * 50)
    assert (len(kept), kept.size) == (1, 50)


def test_of_two_made_at_the_same_time_the_first_stays() -> None:
    kept: Kept[list[int]] = Kept(10, len)
    first = kept.put("a", [1])
    assert kept.put("a", [1]) is first
    assert kept.size == 1


def test_a_value_that_grew_is_measured_again_when_asked_for() -> None:
    kept: Kept[list[int]] = Kept(10, len, grows=True)
    grown = kept.put("a", [1])
    grown += [2, 3, 4]
    kept.get("a")
    assert kept.size == 4


def test_who_goes_is_told_of() -> None:
    gone: list[tuple[object, str]] = []
    kept: Kept[str] = Kept(4, len, gone=lambda key, value: gone.append((key, value)))
    kept.put("a", "aaa")
    kept.put("b", "bbb")
    kept.drop("b")
    kept.drop("never there")
    assert gone == [("a", "aaa"), ("b", "bbb")]
    assert kept.size == 0


def test_a_ground_that_goes_takes_its_maps_along(monkeypatch: pytest.MonkeyPatch) -> None:
    memory._grounds.clear()
    memory._maps.clear()
    ground = known_ground(tiny_board(), tiny_shop(), 5_000)
    seen = ref(known_map(ground, tiny_parts()[0]))
    del ground
    assert (len(memory._maps), seen() is not None) == (1, True)
    memory._grounds.clear()
    gc.collect()
    assert (len(memory._maps), memory._maps.size, memory._keys_of) == (0, 0, {})
    assert seen() is None


def test_a_map_kept_is_measured_with_what_it_was_asked_for_later() -> None:
    memory._maps.clear()
    knot = Defect("k2", DefectKind.SOUND_KNOT, rectangle(700, 80, 720, 100), Where.FRONT)
    ground = known_ground(tiny_board(knot), tiny_shop(), 5_000)
    clear = known_map(ground, tiny_parts()[1])
    before = memory._maps.size
    assert clear.harm is not None
    known_map(ground, tiny_parts()[1])
    assert memory._maps.size >= before + 4 * clear.ok.size


def array_bytes() -> int:
    """All arrays that some object of this program holds."""
    gc.collect()
    everything = (one for item in gc.get_objects() for one in gc.get_referents(item))
    held = {id(one): one for one in everything if type(one) is np.ndarray and one.base is None}
    return sum(one.nbytes for one in held.values())


def test_nothing_is_kept_beside_what_is_measured() -> None:
    """Plans with staves leave no maps behind once all that is kept is let go."""

    def let_go() -> int:
        for kept in EVERY:
            kept.clear()
        reach_of.cache_clear()
        return array_bytes()

    before = let_go()
    for seed in (9, 58, 81):
        job = random_job(seed)
        assert plan(job.boards, job.parts, job.shop, SolveParams(iterations=1, prove=False)).glue_ups
    assert array_bytes() > before + 3_000_000
    assert let_go() < before + 300_000


def test_tables_of_a_fine_grid_are_kept_by_their_size(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("layout.reach._MOST_ROOM", 10e6)
    monkeypatch.setattr("layout.reach._FEW", 0)  # tables for a single fault too
    reach = Reach(ground_of(tiny_board(), tiny_shop(), pitch=(2.0, 0.6)))
    for shift in range(20):
        reach.bar(
            np.zeros((10, 100), dtype=np.bool_), frozenset({0, -1}), (0.1 * shift, 0.0, 50.0, 60.0), 900.0
        )
    assert 0 < reach.room < 16e6  # all twenty would take 80 MB
