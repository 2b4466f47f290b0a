import io
import random

import numpy as np
import pytest
from PIL import Image

from tests.robust.mutations import damaged
from tests.robust.pictures import good_pictures, located_exif
from vision.errors import VisionError
from vision.photo import read_photo
from vision.private import private_copy

GOOD = good_pictures()
TELLING = (
    b"INVENTED PHONE",
    b"private words",
    b"A. Maker",
    b"SERIAL-0815",
    b"2026:05:04",
    b"51.5N",
    b"GPS",
    b"http",
)


@pytest.mark.parametrize("name", GOOD)
def test_the_copy_looks_the_same_and_says_nothing(name: str) -> None:
    copy = private_copy(GOOD[name])
    before, after = read_photo(GOOD[name]), read_photo(copy)
    assert after.rgb.shape == before.rgb.shape
    assert after.focal_35mm == before.focal_35mm
    difference = np.abs(after.rgb.astype(int) - before.rgb)
    if name.startswith("jpeg"):
        assert difference.max() == 0
    else:
        assert difference.mean() < 3
    assert not [word for word in TELLING if word in copy]
    with Image.open(io.BytesIO(copy)) as image:
        exif = image.getexif()
        assert set(exif) <= {0x0112, 0x8769}
        assert not exif.get_ifd(0x8825), "a position is kept"
        assert set(exif.get_ifd(0x8769)) <= {0xA405}
        assert "comment" not in image.info
        assert "mp" not in image.info


def test_the_test_would_see_a_position() -> None:
    assert [word for word in TELLING if word in GOOD["jpeg located"]] != []


def test_what_follows_the_picture_is_cut_off() -> None:
    film = GOOD["jpeg"] + b"ftypmp42 a short film with the maker's voice"
    copy = private_copy(film)
    assert b"voice" not in copy
    assert (read_photo(copy).rgb == read_photo(GOOD["jpeg"]).rgb).all()


def test_an_earlier_copy_inside_the_picture_is_left_out() -> None:
    thumbnail = GOOD["jpeg grey"]
    body = b"JFXX\x00\x10" + thumbnail
    segment = b"\xff\xe0" + (len(body) + 2).to_bytes(2, "big") + body
    whole = GOOD["jpeg"][:2] + segment + GOOD["jpeg"][2:]
    assert thumbnail in whole
    assert thumbnail not in private_copy(whole)


def test_a_copy_of_a_copy_is_the_same() -> None:
    once = private_copy(GOOD["jpeg located"])
    assert private_copy(once) == once


def test_fill_bytes_and_restart_marks_are_understood() -> None:
    out = io.BytesIO()
    Image.fromarray(read_photo(GOOD["jpeg"]).rgb).save(
        out, "JPEG", restart_marker_blocks=1, exif=located_exif()
    )
    data = out.getvalue().replace(b"\xff\xdb", b"\xff\xff\xff\xdb")
    copy = private_copy(data)
    assert (read_photo(copy).rgb == read_photo(data).rgb).all()
    assert b"INVENTED" not in copy


def test_damaged_photographs_are_copied_or_refused() -> None:
    chance = random.Random(8)
    copied = 0
    for _ in range(600):
        data = damaged(GOOD["jpeg located"], chance, list(GOOD.values()))
        try:
            copy = private_copy(data)
        except VisionError:
            continue
        copied += 1
        assert read_photo(copy).rgb.shape == read_photo(data).rgb.shape
        assert b"GPS" not in copy
        assert set(Image.open(io.BytesIO(copy)).getexif()) <= {0x0112, 0x8769}
    assert copied > 30
