"""Approved pictures drawn again; and the comparison itself, which must be able to fail."""

import os
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from layout.stock import Face
from tests.reference.comparison import difference
from tests.reference.drawn import DRAWN, mended_job
from ui.drawing.board_picture import board_scene
from ui.drawing.raster import scene_pixels
from ui.drawing.scene import Scene, Words

APPROVED = Path(__file__).parent
STORE = os.environ.get("CLEARFACE_STORE_PICTURES") == "1"


@pytest.mark.parametrize("name", list(DRAWN))
def test_it_looks_as_approved(name, tmp_path):
    found, file = DRAWN[name](), APPROVED / f"{name}.png"
    if STORE:
        Image.fromarray(found).save(file, optimize=True)
        pytest.skip("stored, not compared")
    wanted = np.asarray(Image.open(file).convert("RGB"))
    differs = difference(found, wanted)
    if differs:
        Image.fromarray(found).save(tmp_path / "found.png")
        if differs.picture is not None:
            Image.fromarray(differs.picture).save(tmp_path / "difference.png")
    assert not differs, f"{name}: {differs.why}; look at {tmp_path}/difference.png and found.png"


def mended_scene() -> Scene:
    job = mended_job()
    return board_scene(job.view(job.boards[0], Face.FRONT))


def drawn(scene: Scene) -> np.ndarray:
    return scene_pixels(scene, 1200 / (scene.extent[2] - scene.extent[0]))


def test_the_same_picture_is_the_same():
    assert not difference(drawn(mended_scene()), drawn(mended_scene()))


def test_one_other_number_is_seen():
    scene = mended_scene()
    at = next(i for i, item in enumerate(scene.items) if isinstance(item, Words) and item.text == "910")
    scene.items[at] = Words(**{**scene.items[at].__dict__, "text": "918"})
    assert difference(drawn(scene), drawn(mended_scene()))


def test_a_missing_line_is_seen():
    scene = mended_scene()
    scene.items = [item for item in scene.items if item.layer != "cut lines"]
    assert difference(drawn(scene), drawn(mended_scene()))


def test_another_size_is_seen():
    picture = drawn(mended_scene())
    assert difference(picture[:-1], picture).why.startswith("the picture is")


def test_every_approved_picture_is_still_drawn():
    assert {file.stem for file in APPROVED.glob("*.png")} == set(DRAWN)
