import io
import struct
import zlib
from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from vision.errors import VisionError
from vision.photo import Photo, read_photo

PICTURES = Path(__file__).parent / "pictures"
RED, GREEN, BLUE, WHITE = (200, 30, 30), (30, 180, 30), (30, 30, 200), (240, 240, 240)


def quarters() -> np.ndarray:
    picture = np.empty((48, 64, 3), dtype=np.uint8)
    picture[:24, :32], picture[:24, 32:], picture[24:, :32], picture[24:, 32:] = RED, GREEN, BLUE, WHITE
    return picture


def saved(kind: str, **options: object) -> bytes:
    out = io.BytesIO()
    Image.fromarray(quarters()).save(out, kind, **options)
    return out.getvalue()


def corner_colours(photo: Photo) -> list[tuple[int, ...]]:
    """Upper left, upper right, lower left, lower right."""
    return [tuple(int(v) for v in photo.rgb[y, x]) for y in (8, -8) for x in (8, -8)]


def close(seen: list[tuple[int, ...]], expected: list[tuple[int, ...]]) -> bool:
    return bool(np.abs(np.array(seen) - np.array(expected)).max() <= 14)  # lossy coding


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "WEBP"])
def test_reads_what_a_phone_gives(kind: str) -> None:
    photo = read_photo(saved(kind))
    assert photo.rgb.shape == (48, 64, 3)
    assert close(corner_colours(photo), [RED, GREEN, BLUE, WHITE])


def test_reads_heic_turned_upright() -> None:
    photo = read_photo((PICTURES / "four_colours.heic").read_bytes())
    assert photo.rgb.shape == (64, 48, 3)
    assert close(corner_colours(photo), [BLUE, RED, WHITE, GREEN])
    assert photo.focal_35mm == 26.0


@pytest.mark.parametrize(
    ("orientation", "colours"),
    [
        (1, [RED, GREEN, BLUE, WHITE]),
        (3, [WHITE, BLUE, GREEN, RED]),
        (6, [BLUE, RED, WHITE, GREEN]),
        (8, [GREEN, WHITE, RED, BLUE]),
    ],
)
def test_honours_the_exif_turn(orientation: int, colours: list[tuple[int, int, int]]) -> None:
    exif = Image.Exif()
    exif[0x0112] = orientation
    assert close(corner_colours(read_photo(saved("JPEG", exif=exif.tobytes(), quality=95))), colours)


def test_keeps_the_focal_length_and_nothing_else_of_the_exif() -> None:
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA405] = 26
    exif.get_ifd(0x8825)[1] = "N"
    exif.get_ifd(0x8825)[2] = (51.0, 30.0, 0.0)
    exif[0x010F] = "INVENTED PHONE"
    photo = read_photo(saved("JPEG", exif=exif.tobytes()))
    assert photo.focal_35mm == 26.0
    assert {f.name for f in fields(photo)} == {"rgb", "focal_35mm"}


def test_a_focal_length_that_cannot_be_is_left_out() -> None:
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA405] = 0
    assert read_photo(saved("JPEG", exif=exif.tobytes())).focal_35mm is None


def test_sixteen_bit_grey_is_scaled_not_clipped() -> None:
    out = io.BytesIO()
    Image.fromarray(np.full((8, 8), 32768, dtype=np.uint16)).save(out, "PNG")
    assert abs(int(read_photo(out.getvalue()).rgb[0, 0, 0]) - 127) <= 1


def test_what_is_see_through_lies_on_white() -> None:
    out = io.BytesIO()
    Image.new("RGBA", (4, 4), (0, 0, 0, 0)).save(out, "PNG")
    assert read_photo(out.getvalue()).rgb.min() == 255


@pytest.mark.parametrize("data", [b"", b"length;width\n1200;145\n", b"%PDF-1.7 no picture", b"\x00" * 4096])
def test_not_a_picture_is_one_sentence(data: bytes) -> None:
    with pytest.raises(VisionError) as caught:
        read_photo(data)
    assert "\n" not in str(caught.value)
    assert "picture" in str(caught.value) or "empty" in str(caught.value)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "WEBP", "HEIC"])
@pytest.mark.parametrize("part", [0.3, 0.7])
def test_a_cut_off_file_is_one_sentence(kind: str, part: float) -> None:
    if kind == "HEIC":
        whole = (PICTURES / "four_colours.heic").read_bytes()
    else:
        noise = np.random.default_rng(1).integers(0, 256, (200, 300, 3), dtype=np.uint8)
        out = io.BytesIO()
        Image.fromarray(noise).save(out, kind)
        whole = out.getvalue()
    with pytest.raises(VisionError, match=r"cut off or damaged|not a picture"):
        read_photo(whole[: int(len(whole) * part)])


def png_header_only(width: int, height: int) -> bytes:
    """A PNG that claims a size and holds no pixels: decoding it would fail with another message."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", b"") + chunk(b"IEND", b"")


@pytest.mark.parametrize("size", [(10_000, 8_100), (10_000, 10_000), (60_000, 60_000)])
def test_a_bomb_is_refused_by_its_header(size: tuple[int, int]) -> None:
    with pytest.raises(VisionError, match="the most is 80 million"):
        read_photo(png_header_only(*size))


def test_photo_checks_itself() -> None:
    with pytest.raises(ValueError, match="uint8"):
        Photo(np.zeros((4, 4, 3)))  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="focal length"):
        Photo(np.zeros((4, 4, 3), dtype=np.uint8), focal_35mm=-1.0)
