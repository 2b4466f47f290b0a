"""Small pictures of every kind a phone, a scanner or a mistake may give, made here."""

import io
from pathlib import Path

import numpy as np
from PIL import Image

__all__ = ["exif_with", "good_pictures", "located_exif"]

_HEIC = Path(__file__).parent.parent / "vision" / "pictures" / "four_colours.heic"
_ORIENTATION, _MAKER, _EXIF, _GPS, _FOCAL_35MM = 0x0112, 0x010F, 0x8769, 0x8825, 0xA405


def exif_with(orientation: object = 6, focal: object = 26) -> Image.Exif:
    """What a phone writes, with the turn and the focal length given."""
    exif = Image.Exif()
    exif[_ORIENTATION] = orientation
    exif.get_ifd(_EXIF)[_FOCAL_35MM] = focal
    return exif


def located_exif() -> bytes:
    """What a phone writes: where, when, by whom; and an outdated small copy of the picture."""
    exif = exif_with()
    exif[_MAKER] = "INVENTED PHONE"
    exif[0x010E] = "the maker's private words"
    exif[0x0132] = "2026:05:04 03:02:01"
    exif[0x013B] = "A. Maker"
    exif.get_ifd(_EXIF)[0x9003] = "2026:05:04 03:02:01"
    exif.get_ifd(_EXIF)[0xA431] = "SERIAL-0815"
    for tag, value in {1: "N", 2: (51.0, 30.0, 26.0), 3: "W", 4: (0.0, 7.0, 39.0), 29: "2026:05:04"}.items():
        exif.get_ifd(_GPS)[tag] = value
    return exif.tobytes()


def _wood(width: int = 40, height: int = 24) -> Image.Image:
    rows, columns = np.mgrid[0:height, 0:width]
    grey = (140 + 60 * np.sin(rows / 2.0 + 0.05 * columns)).astype(np.uint8)
    return Image.fromarray(np.dstack([grey, grey // 2 + 40, grey // 3]))


def _saved(picture: Image.Image, kind: str, **options: object) -> bytes:
    out = io.BytesIO()
    picture.save(out, kind, **options)
    return out.getvalue()


def good_pictures() -> dict[str, bytes]:
    """Name to bytes of pictures that can be read, some of kinds a maker never meant to give."""
    wood = _wood()
    deep = Image.fromarray(np.asarray(wood.convert("L"), dtype=np.uint16) * 257)
    clear = wood.copy()
    clear.putalpha(Image.linear_gradient("L").resize(wood.size))
    indexed = wood.quantize(17)

    def many() -> list[Image.Image]:
        return [_wood().rotate(angle) for angle in (90, 180)]

    return {
        "jpeg": _saved(wood, "JPEG", exif=exif_with().tobytes()),
        "jpeg located": _saved(wood, "JPEG", exif=located_exif(), comment=b"51.5N 0.1W"),
        "jpeg progressive": _saved(wood, "JPEG", progressive=True, quality=70),
        "jpeg grey": _saved(wood.convert("L"), "JPEG"),
        "jpeg cmyk": _saved(wood.convert("CMYK"), "JPEG"),
        "jpeg of many": _saved(wood, "MPO", save_all=True, append_images=many()),
        "png": _saved(wood, "PNG"),
        "png located": _saved(wood, "PNG", exif=located_exif()),
        "png black and white": _saved(wood.convert("1"), "PNG"),
        "png grey": _saved(wood.convert("L"), "PNG"),
        "png grey, see-through": _saved(clear.convert("LA"), "PNG"),
        "png see-through": _saved(clear, "PNG"),
        "png indexed": _saved(indexed, "PNG"),
        "png indexed, see-through": _saved(indexed, "PNG", transparency=3),
        "png one colour see-through": _saved(wood, "PNG", transparency=(140, 110, 46)),
        "png 16 bit": _saved(deep, "PNG"),
        "png animated": _saved(wood, "PNG", save_all=True, append_images=many()),
        "webp": _saved(wood, "WEBP", exif=located_exif()),
        "webp lossless": _saved(clear, "WEBP", lossless=True),
        "webp animated": _saved(wood, "WEBP", save_all=True, append_images=many()),
        "tiff": _saved(wood, "TIFF"),
        "tiff lzw": _saved(wood, "TIFF", compression="tiff_lzw"),
        "tiff deflate": _saved(wood, "TIFF", compression="tiff_adobe_deflate"),
        "tiff jpeg": _saved(wood, "TIFF", compression="jpeg"),
        "tiff 16 bit": _saved(deep, "TIFF"),
        "tiff float": _saved(wood.convert("F"), "TIFF"),
        "tiff whole numbers": _saved(wood.convert("I"), "TIFF"),
        "tiff cmyk": _saved(wood.convert("CMYK"), "TIFF"),
        "tiff lab": _saved(wood.convert("LAB"), "TIFF"),
        "tiff black and white": _saved(wood.convert("1"), "TIFF", compression="group4"),
        "tiff of many": _saved(wood, "TIFF", save_all=True, append_images=many()),
        "heic": _HEIC.read_bytes(),
    }
