"""Pictures to bytes and back, and smaller copies for a screen."""

from io import BytesIO

import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image, ImageOps

from vision.photo import MOST_MEGAPIXELS, read_photo

__all__ = ["jpeg", "picture_from", "png", "reduced", "reduced_to", "screen_copy", "size_of"]


def jpeg(rgb: NDArray[np.uint8], quality: int = 92) -> bytes:
    """A JPEG file of the picture; it holds pixels and nothing else."""
    out = BytesIO()
    Image.fromarray(rgb).save(out, "JPEG", quality=quality, optimize=False)
    return out.getvalue()


def png(rgb: NDArray[np.uint8]) -> bytes:
    """A PNG file of the picture."""
    out = BytesIO()
    Image.fromarray(rgb).save(out, "PNG", compress_level=3)
    return out.getvalue()


def picture_from(data: bytes) -> NDArray[np.uint8]:
    """The pixels of a picture file of the job, [height, width, 3]."""
    return read_photo(data).rgb


def reduced(rgb: NDArray[np.uint8], longest_px: int) -> NDArray[np.uint8]:
    """The picture, made smaller if its longer side is longer than this [px]."""
    image = Image.fromarray(rgb)
    if max(image.size) <= longest_px:
        return rgb
    image.thumbnail((longest_px, longest_px), Image.Resampling.BOX, reducing_gap=2.0)
    return np.asarray(image, dtype=np.uint8)


def reduced_to(rgb: NDArray[np.uint8], share: float) -> NDArray[np.uint8]:
    """The picture at one over this share of its size, so that two scales become one."""
    if abs(share - 1) < 1e-6:
        return rgb
    height, width = rgb.shape[:2]
    size = max(1, round(width / share)), max(1, round(height / share))
    return np.asarray(Image.fromarray(rgb).resize(size, Image.Resampling.BOX), dtype=np.uint8)


def screen_copy(data: bytes, longest_px: int, quality: int = 85) -> bytes:
    """A JPEG of a picture file for a screen, upright, its longer side at most this long [px].

    Large JPEGs are decoded at a fraction of their size at once, which is some
    five times faster than decoding them whole.

    Raises
    ------
    VisionError
        Not a picture that can be read.
    """
    try:
        with Image.open(BytesIO(data), formats=("JPEG",)) as image:
            if image.width * image.height <= MOST_MEGAPIXELS * 1e6:
                image.draft("RGB", (longest_px, longest_px))
                return _jpeg_of(ImageOps.exif_transpose(image).convert("RGB"), longest_px, quality)
    except (OSError, SyntaxError, ValueError):
        pass  # no JPEG, or a bad one: read_photo knows what to say
    return _jpeg_of(Image.fromarray(read_photo(data).rgb), longest_px, quality)


def size_of(data: bytes) -> tuple[int, int]:
    """(width, height) of a picture file, upright [px].

    Raises
    ------
    VisionError
        Not a picture that can be read.
    """
    try:
        with Image.open(BytesIO(data), formats=("JPEG", "PNG", "WEBP")) as image:
            turned = image.getexif().get(ExifTags.Base.Orientation, 1) in (5, 6, 7, 8)
            return (image.height, image.width) if turned else (image.width, image.height)
    except (OSError, SyntaxError, ValueError):
        photo = read_photo(data)
        return photo.width_px, photo.height_px


def _jpeg_of(image: Image.Image, longest_px: int, quality: int) -> bytes:
    image.thumbnail((longest_px, longest_px), Image.Resampling.BILINEAR, reducing_gap=2.0)
    out = BytesIO()
    image.save(out, "JPEG", quality=quality)
    return out.getvalue()
