"""From the bytes of a photograph to an upright picture, and nothing else of what a phone writes into it.

The place where a photograph was taken, the maker's name and the phone's serial
number stay behind: a `Photo` holds the pixels and one number of the lens.
"""

import struct
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO

import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image, ImageOps, UnidentifiedImageError
from pillow_heif import register_heif_opener

from vision.errors import VisionError

__all__ = ["MOST_MEGAPIXELS", "Photo", "complaints_silenced", "read_photo"]

MOST_MEGAPIXELS = 80.0
"""Largest picture that is decoded; today's phones give 12 to 50 million pixels."""

_BAND = 256  # rows

_FORMATS = ("JPEG", "PNG", "HEIF", "TIFF", "WEBP")
_KINDS = "JPEG, PNG, HEIC, TIFF or WebP"
_SIGNATURES = (b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"II*\x00", b"MM\x00*", b"RIFF")
_DAMAGE = (  # what the decoders were seen to raise on damaged files, and its kin
    OSError,
    SyntaxError,
    ValueError,
    TypeError,
    AttributeError,
    LookupError,
    ArithmeticError,
    EOFError,
    RuntimeError,
    MemoryError,
    struct.error,
)

register_heif_opener()


@dataclass(frozen=True, eq=False)
class Photo:
    """A photograph, upright.

    Parameters
    ----------
    rgb : ndarray of uint8, [height, width, 3]
        Red, green, blue; row 0 is the top of the picture as it was taken.
    focal_35mm : float or None
        Focal length that would give the same view on 36 x 24 mm film, as the
        camera wrote it down [mm]; None when it did not.
    """

    rgb: NDArray[np.uint8]
    focal_35mm: float | None = None

    def __post_init__(self) -> None:
        if self.rgb.dtype != np.uint8 or self.rgb.ndim != 3 or self.rgb.shape[2] != 3:
            raise ValueError(f"photo: {self.rgb.dtype} {self.rgb.shape}; give uint8 [height, width, 3]")
        if min(self.rgb.shape[:2]) < 1:
            raise ValueError(f"photo: {self.rgb.shape}; it has no pixels")
        if self.focal_35mm is not None and not 4.0 <= self.focal_35mm <= 2000.0:
            raise ValueError(f"photo: focal length {self.focal_35mm} mm; give 4 to 2000, or None")

    @property
    def width_px(self) -> int:
        return int(self.rgb.shape[1])

    @property
    def height_px(self) -> int:
        return int(self.rgb.shape[0])


def read_photo(data: bytes) -> Photo:
    """The upright picture in a file's bytes.

    Parameters
    ----------
    data : bytes
        A JPEG, PNG, HEIC, TIFF or WebP file.

    Raises
    ------
    VisionError
        Not a picture of these kinds, cut off, or of more than `MOST_MEGAPIXELS`;
        the size is read from the header, before a pixel is decoded.
    """
    if not data:
        raise VisionError("the file is empty; copy it from the phone again")
    _check_size(*_webp_canvas(data))
    with complaints_silenced():
        image = _opened(data)
        _check_size(*image.size)
        try:
            focal = _focal_35mm(image)
            ImageOps.exif_transpose(image, in_place=True)
            rgb = _pixels(_eight_bit(image))
        except _DAMAGE as error:
            raise _damaged() from error
    return Photo(rgb=rgb, focal_35mm=focal)


def _pixels(image: Image.Image) -> NDArray[np.uint8]:
    """The pixels, copied in bands: a large picture is not held three times at once."""
    rgb = np.empty((image.height, image.width, 3), dtype=np.uint8)
    for top in range(0, image.height, _BAND):
        low = min(top + _BAND, image.height)
        rgb[top:low] = np.asarray(image.crop((0, top, image.width, low)))
    return rgb


@contextmanager
def complaints_silenced() -> Iterator[None]:
    """No word from the decoders about a tag they skip; a claim of too many pixels is an error."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)
        warnings.simplefilter("error", Image.DecompressionBombWarning)
        yield


def _webp_canvas(data: bytes) -> tuple[int, int]:
    """Canvas a WebP file claims [px]: its decoder sets that much memory aside as soon as it is opened."""
    if data[:4] != b"RIFF" or data[8:16] != b"WEBPVP8X" or len(data) < 30:
        return 1, 1
    return 1 + int.from_bytes(data[24:27], "little"), 1 + int.from_bytes(data[27:30], "little")


def _check_size(width: int, height: int) -> None:
    if width * height > MOST_MEGAPIXELS * 1e6:
        raise _too_big(f"{width} x {height} pixels")


def _opened(data: bytes) -> Image.Image:
    """The picture with its header read and its pixels not yet."""
    try:
        Image.init()
        return Image.open(BytesIO(data), formats=_FORMATS)
    except (Image.DecompressionBombWarning, Image.DecompressionBombError) as error:
        raise _too_big("more pixels than any phone takes") from error
    except UnidentifiedImageError as error:
        if data.startswith(_SIGNATURES) or data[4:8] == b"ftyp":
            raise _damaged() from error
        raise VisionError(f"this is not a picture; give a {_KINDS} file") from error
    except _DAMAGE as error:
        raise _damaged() from error


def _damaged() -> VisionError:
    return VisionError("the picture is cut off or damaged; copy the file from the phone again")


def _too_big(size: str) -> VisionError:
    return VisionError(
        f"the picture has {size}; the most is {MOST_MEGAPIXELS:.0f} million: set the phone to a smaller size"
    )


def _focal_35mm(image: Image.Image) -> float | None:
    """The 35 mm equivalent focal length the camera wrote down [mm], if it makes sense."""
    value = image.getexif().get_ifd(ExifTags.IFD.Exif).get(ExifTags.Base.FocalLengthIn35mmFilm)
    try:
        focal = float(value) if value is not None else 0.0
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    return focal if 4.0 <= focal <= 2000.0 else None


def _eight_bit(image: Image.Image) -> Image.Image:
    """The picture as 8-bit RGB; 16-bit grey is scaled, a see-through part laid on white."""
    if image.mode == "RGB":
        return image  # a copy of a large picture is a lot
    if image.mode.startswith("I"):
        grey = np.clip(np.asarray(image), 0, 65535).astype(np.uint16)
        return Image.fromarray((grey // 257).astype(np.uint8)).convert("RGB")
    if image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info:
        ground = Image.new("RGBA", image.size, "white")
        ground.alpha_composite(image.convert("RGBA"))
        return ground.convert("RGB")
    return image.convert("RGB")
