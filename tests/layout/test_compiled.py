"""What is compiled answers as the same lines run by Python, wherever the result may be kept."""

import os
import subprocess
import sys
from itertools import product
from pathlib import Path

import numpy as np
import pytest

from layout.solve import worth_tables
from layout.solve.prover import READY, make_ready

WORKS = """
import numpy as np
from layout.compiled import compiled

@compiled("int64(int64)")
def worth(number):
    return 1 * number

@compiled("int64(int64[::1])")
def total(numbers):
    found = 0
    for number in numbers:
        found += worth(number)
    return found

assert total(np.arange(5)) == 10
assert total.__wrapped__(np.arange(5)) == 10
"""


def run(tmp_path: Path, folder: Path, works: str = WORKS) -> subprocess.CompletedProcess[str]:
    script = tmp_path / "works.py"
    script.write_text(works)
    return subprocess.run(
        [sys.executable, script],
        env={**os.environ, "NUMBA_CACHE_DIR": str(folder), "PYTHONPATH": str(Path.cwd())},
        capture_output=True,
        text=True,
        check=False,
    )


def test_is_kept_and_read_again(tmp_path: Path) -> None:
    for _ in range(2):
        assert run(tmp_path, tmp_path / "kept").returncode == 0
    assert list((tmp_path / "kept").rglob("*.nbc"))


def test_what_is_kept_is_made_anew_where_what_it_calls_has_changed(tmp_path: Path) -> None:
    assert run(tmp_path, tmp_path / "kept").returncode == 0
    other = WORKS.replace("return 1 * number", "return 10 * number").replace("== 10", "== 100")
    found = run(tmp_path, tmp_path / "kept", other)
    assert found.returncode == 0, found.stderr


def test_works_where_nothing_may_be_kept(tmp_path: Path) -> None:
    (tmp_path / "a file").write_text("no folder")
    found = run(tmp_path, tmp_path / "a file" / "kept")
    assert found.returncode == 0, found.stderr


def test_works_beside_a_damaged_file(tmp_path: Path) -> None:
    assert run(tmp_path, tmp_path / "kept").returncode == 0
    for name in (tmp_path / "kept").rglob("*.nb*"):
        name.write_bytes(name.read_bytes()[:40])
    found = run(tmp_path, tmp_path / "kept")
    assert found.returncode == 0, found.stderr


@pytest.mark.parametrize("seed", range(20))
def test_tables_are_what_the_same_lines_give_in_python(seed: int) -> None:
    chance = np.random.default_rng(seed)
    places, high, along = 3, int(chance.integers(4, 9)), int(chance.integers(3, 9))
    widths = np.array([2, 3])
    lying = chance.random((places, 2, high)) < 0.5
    for part, width in enumerate(widths):
        lying[:, part, max(high - width, 0) :] = False
    needs = chance.integers(1, high + 2, (2, along + 1, high)).astype(np.int16)
    ones = np.array([[7, 1, 0, high], [16, 2, 1, 3]])
    sections = np.array(
        [[length, low, *chance.integers(-1, places, along // 2 + 1)] for length, low in ((2, 2), (1, 4))]
    )
    parts = np.array([[2, 7, 0], [3, 16, 1]])
    answers = []
    for stacks_of, slabs_of, from_row in (
        (worth_tables.fill_stacks, worth_tables.fill_slabs, worth_tables.stack_from),
        [
            one.__wrapped__
            for one in (worth_tables.fill_stacks, worth_tables.fill_slabs, worth_tables.stack_from)
        ],  # type: ignore[attr-defined]
    ):
        stacks = np.full((places, high, high), 77, dtype=np.int16)
        table = np.full((along + 1, high, high), 77, dtype=np.int16)
        stacks_of(stacks, lying, np.arange(places), parts)
        slabs_of(table, needs, ones, needs.min(axis=2).astype(np.int64), lying, parts, sections, 2)
        answers.append((stacks, table))
        for place, height, row in product(range(places), range(high), range(high)):
            if row + height < high:  # alone or among all others, a stack is worth the same
                assert from_row(lying[place], parts, row, height)[0] == stacks[place, height, row]
            else:
                assert not stacks[place, height, row]
    for one, other in zip(*answers, strict=True):
        assert (one == other).all()
    assert answers[0][1].any()


def test_all_that_is_compiled_is_made_ready() -> None:
    named = subprocess.run(
        [sys.executable, "-c", f"import sys, {READY}; print(*sys.modules)"],
        capture_output=True,
        text=True,
        check=True,
    ).stdout.split()
    files = [path for path in Path("layout").rglob("*.py") if "@compiled(" in path.read_text()]
    assert len(files) > 3
    assert {".".join(path.with_suffix("").parts) for path in files} <= set(named)
    process = make_ready()
    assert process is not None
    assert process.wait(300.0) == 0


def test_who_calls_none_loads_no_compiler() -> None:
    named = f"import sys, {READY}, ui.surveying; print(*sys.modules)"
    answer = subprocess.run([sys.executable, "-c", named], capture_output=True, text=True, check=True)
    assert "layout.covered" in answer.stdout.split()
    assert "numba" not in answer.stdout.split()
