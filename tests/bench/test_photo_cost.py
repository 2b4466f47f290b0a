"""Processor seconds and memory from a photograph's bytes to the true-scale picture, on one core.

``pytest tests/bench/test_photo_cost.py -m bench -s``. Each photograph is worked in a
process of its own, so that the peak memory is its own too; the first line is what the
libraries take before any picture is read.
"""

import os
import subprocess
import sys
from pathlib import Path

import cv2
import numpy as np
import pytest

from tests.vision.drawn import camera_frame, drawn_board

pytestmark = pytest.mark.bench

WORK = """
import re, sys, time
import cv2
cv2.setNumThreads(1)
from vision.photo import read_photo
from vision.outline import find_outline
from vision.rectify import true_scale
peak = lambda: int(re.search(r"VmHWM:\\s+(\\d+)", open("/proc/self/status").read())[1]) / 1024
bare, data = peak(), open(sys.argv[1], "rb").read()
t0 = time.process_time(); photo = read_photo(data)
t1 = time.process_time(); found = find_outline(photo.rgb)
t2 = time.process_time(); made = true_scale(photo, found.corners_px, 2000.0, 180.0)
t3 = time.process_time()
size = photo.rgb.size / 3e6
print(f"{size:4.0f} MP: read {t1 - t0:.2f} s, outline {t2 - t1:.2f} s, true scale {t3 - t2:.2f} s, "
      f"all {t3 - t0:.2f} s; peak {peak():.0f} MB, libraries {bare:.0f} MB; sure {found.confidence:.2f}")
"""


@pytest.mark.parametrize("size", [(4000, 3000), (8000, 6000)])
def test_seconds_and_memory(size: tuple[int, int], tmp_path: Path) -> None:
    small = (size[0] // 4, size[1] // 4)
    frame = camera_frame(2000.0, 180.0, k1=-0.04, size=small, offset=(0.0, 60.0))
    board = drawn_board(2000.0, 180.0, frame=frame, size=small)
    whole = cv2.resize(board.rgb, size, interpolation=cv2.INTER_CUBIC).astype(np.int16)
    whole += np.random.default_rng(0).integers(-6, 7, whole.shape, dtype=np.int16)
    path = tmp_path / "photo.jpg"
    path.write_bytes(cv2.imencode(".jpg", np.clip(whole, 0, 255).astype(np.uint8)[..., ::-1])[1].tobytes())
    command = [sys.executable, "-c", WORK, str(path)]
    if hasattr(os, "sched_setaffinity"):
        command = ["taskset", "-c", "0", *command]
    environment = {**os.environ, "OMP_NUM_THREADS": "1"}
    done = subprocess.run(command, check=True, capture_output=True, text=True, env=environment)
    print("\n" + done.stdout.strip())
    assert "MP: read" in done.stdout
