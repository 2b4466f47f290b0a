"""A photograph as a job may keep it: its pixels, which way up, the lens; nothing of place or person.

What a phone writes beside the pixels (position, time, serial number, owner, an
earlier copy of the picture, a second picture or a film after the end) is left
out. A JPEG keeps its pixels bit for bit, every other kind is written as a new JPEG.

A JPEG file is a row of segments, each led by 0xFF and its kind; all that decodes
the picture stands in a few kinds, everything else in "application" segments and
comments (ITU-T T.81, table B.1, from memory; the tests compare the decoded pixels).
"""

from collections.abc import Iterator
from io import BytesIO

from PIL import ExifTags, Image

from vision.errors import VisionError
from vision.photo import complaints_silenced, read_photo

__all__ = ["private_copy"]

_EOI, _SOS = 0xD9, 0xDA
_APP0, _APP1, _APP2, _APP14, _APP15, _COM = 0xE0, 0xE1, 0xE2, 0xEE, 0xEF, 0xFE
_ALONE = {0x01, *range(0xD0, 0xD8)}  # kinds without a body: TEM and the restart marks
_QUALITY = 95


def private_copy(data: bytes) -> bytes:
    """A JPEG of the same photograph that says only how it looks, which way up it is, and its focal length.

    Parameters
    ----------
    data : bytes
        A file that `read_photo` takes.

    Raises
    ------
    VisionError
        As `read_photo`.
    """
    photo = read_photo(data)
    if data[:2] == b"\xff\xd8":
        turn = _turn(data)
        try:
            bare = b"".join(_kept(data))
            copy = bare[:2] + _exif_segment(turn, photo.focal_35mm) + bare[2:]
            if _shape(copy) == photo.rgb.shape:
                return copy
        except (IndexError, ValueError, VisionError):
            pass  # an odd file that can be decoded, but not taken apart: written anew below
    out = BytesIO()
    exif = _exif(1, photo.focal_35mm).tobytes()
    Image.fromarray(photo.rgb).save(out, "JPEG", quality=_QUALITY, subsampling=0, exif=exif)
    return out.getvalue()


def _kept(data: bytes) -> Iterator[bytes]:
    """The parts of a JPEG that its pixels need, up to the end of its first picture."""
    yield data[:2]
    at = 2
    while True:
        if data[at] != 0xFF:
            raise ValueError("not at a segment")
        kind = data[at + 1]
        if kind == 0xFF:  # a fill byte
            at += 1
            continue
        if kind == _EOI:
            yield data[at : at + 2]
            return
        if kind in _ALONE:
            at += 2
            continue
        end = at + 2 + int.from_bytes(data[at + 2 : at + 4], "big")
        if kind == _SOS:
            end = _scan_end(data, end)
        if _needed(kind, data[at + 4 : at + 18]):
            yield data[at:end]
        at = end


def _needed(kind: int, head: bytes) -> bool:
    if kind == _APP2:
        return head.startswith(b"ICC_PROFILE\x00")  # what its colours mean
    if kind in (_APP0, _APP14):
        return head.startswith((b"JFIF\x00", b"Adobe"))  # which kind of colours they are
    return not (_APP0 <= kind <= _APP15 or kind == _COM)


def _scan_end(data: bytes, at: int) -> int:
    """Where the coded pixels end: at the next mark that is neither a stuffed byte nor a restart."""
    while True:
        at = data.index(b"\xff", at)
        if data[at + 1] not in (0x00, 0xFF) and data[at + 1] not in _ALONE:
            return at
        at += 1 if data[at + 1] == 0xFF else 2


def _turn(data: bytes) -> int:
    with complaints_silenced(), Image.open(BytesIO(data), formats=("JPEG",)) as image:
        turn = image.getexif().get(ExifTags.Base.Orientation, 1)
    return turn if isinstance(turn, int) and 1 <= turn <= 8 else 1


def _shape(data: bytes) -> tuple[int, ...]:
    return read_photo(data).rgb.shape


def _exif(turn: int, focal_35mm: float | None) -> Image.Exif:
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = turn
    if focal_35mm is not None:
        exif.get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.FocalLengthIn35mmFilm] = round(focal_35mm)
    return exif


def _exif_segment(turn: int, focal_35mm: float | None) -> bytes:
    body = _exif(turn, focal_35mm).tobytes()
    return bytes((0xFF, _APP1)) + (len(body) + 2).to_bytes(2, "big") + body
