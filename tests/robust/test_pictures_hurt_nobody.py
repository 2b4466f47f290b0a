"""Whatever bytes are given as a photograph: a picture or one sentence, in bounded time and memory."""

import io
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.robust.answers import sentence
from tests.robust.mutations import damaged
from tests.robust.pictures import exif_with, good_pictures
from tests.robust.sizes import HANG, few_or_many, grown_mb, hang_after, seeded
from vision.errors import VisionError
from vision.photo import Photo, read_photo

GOOD = good_pictures()
FOUND = Path(__file__).parent / "found" / "pictures"


def answered(data: bytes) -> Photo | str:
    """The picture, or the sentence it was refused with; anything else raised is a fault of ours."""
    try:
        photo = read_photo(data)
    except VisionError as error:
        return sentence(error, 200)
    assert photo.rgb.dtype == np.uint8
    assert photo.rgb.flags["C_CONTIGUOUS"]
    return photo


@pytest.mark.parametrize("name", GOOD)
def test_every_kind_of_picture_is_read_and_is_wood_coloured(name: str) -> None:
    photo = answered(GOOD[name])
    assert isinstance(photo, Photo)
    if name not in ("heic", "tiff whole numbers"):  # no wood on the first; the other's numbers are dark
        assert 80 < photo.rgb.mean() < 200


@few_or_many(1500)
def test_damaged_pictures(cases: int) -> None:
    chance = seeded(20)
    names = sorted(GOOD)
    refused = 0
    with grown_mb(1500):
        for case in range(cases):
            name = names[case % len(names)]
            data = damaged(GOOD[name], chance, list(GOOD.values()))
            with hang_after(HANG, f"case {case}, {name}"):
                try:
                    refused += isinstance(answered(data), str)
                except Exception as error:
                    pytest.fail(f"case {case}, {name}: {error!r}; bytes: {kept(data)}")
    assert cases / 4 < refused < cases, "either nothing was damaged, or nothing was left to read"


def kept(data: bytes) -> str:
    """The bytes that broke it, put where the next run finds them."""
    path = Path("/tmp") / f"clearface-{zlib.crc32(data):08x}.bin"
    path.write_bytes(data)
    return str(path)


@pytest.mark.parametrize("path", sorted(FOUND.glob("*.bin")), ids=lambda path: path.stem)
def test_what_once_broke_it(path: Path) -> None:
    answered(path.read_bytes())


@pytest.mark.parametrize("value", [0, 9, 65535, -1, 3.5, "upright", b"\x06"], ids=repr)
@pytest.mark.parametrize("what", ["orientation", "focal"])
def test_odd_exif(what: str, value: object) -> None:
    try:
        exif = exif_with(**{what: value}).tobytes()
    except (TypeError, ValueError, struct.error, OverflowError, AttributeError):
        exif = b"Exif\x00\x00" + repr(value).encode()  # cannot be written as such: then as no EXIF at all
    out = io.BytesIO()
    Image.new("RGB", (30, 20), "tan").save(out, "JPEG", exif=exif)
    photo = answered(out.getvalue())
    assert isinstance(photo, Photo)
    assert sorted(photo.rgb.shape[:2]) == [20, 30]


@pytest.mark.parametrize("kind", ["GIF", "BMP", "PPM", "ICO", "PDF", "TGA", "EPS"])
def test_other_kinds_are_refused_in_words(kind: str) -> None:
    out = io.BytesIO()
    Image.new("RGB", (32, 32), "tan").save(out, kind)
    assert answered(out.getvalue()) == "this is not a picture; give a JPEG, PNG, HEIC, TIFF or WebP file"


@pytest.mark.parametrize(
    "data", [b"%PDF-1.7\n", b"PK\x03\x04", b"<svg/>", b"name,length\n", b"\x00" * 5000, b"\xff\xd8\xff"]
)
def test_other_files_are_refused_in_words(data: bytes) -> None:
    assert isinstance(answered(data), str)


def png_saying(width: int, height: int, rows: bytes = b"") -> bytes:
    """A PNG whose head claims a size that its few bytes cannot hold."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(rows))
        + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize("size", [(9000, 9000), (60_000, 60_000), (2**31 - 1, 2**31 - 1), (80_000_001, 1)])
def test_a_picture_that_claims_to_be_huge_is_refused_before_it_is_decoded(size: tuple[int, int]) -> None:
    with grown_mb(60):
        assert "the most is 80 million" in str(answered(png_saying(*size)))


def test_a_head_without_its_rows_is_damage_not_a_black_picture() -> None:
    assert isinstance(answered(png_saying(6000, 4000, b"\x00" * 100)), str)


def test_a_picture_one_pixel_wide_and_one_high() -> None:
    for size in ((1, 1), (1, 4000), (4000, 1)):
        out = io.BytesIO()
        Image.new("RGB", size, "tan").save(out, "PNG")
        assert isinstance(answered(out.getvalue()), Photo)


def test_of_an_animated_picture_the_first_is_read() -> None:
    out = io.BytesIO()
    first, second = Image.new("RGB", (8, 8), "red"), Image.new("RGB", (8, 8), "blue")
    first.save(out, "WEBP", save_all=True, append_images=[second], lossless=True)
    photo = answered(out.getvalue())
    assert isinstance(photo, Photo)
    assert photo.rgb[4, 4].tolist() == [255, 0, 0]
