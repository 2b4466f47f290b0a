"""A printed PDF read back with another library than the one that wrote it, in millimetres."""

import re
from dataclasses import dataclass

import numpy as np
import pypdfium2 as pdfium
import pypdfium2.raw as raw
from numpy.typing import NDArray

MM = 72 / 25.4
NUMBER = re.compile(r"\d+(?:\.\d+)?(?: \d+/\d+)?")

__all__ = ["MM", "Paper", "numbers_in"]


def numbers_in(text: str) -> list[str]:
    """Every number written in a text."""
    return NUMBER.findall(text)


@dataclass(frozen=True)
class Paper:
    """A PDF file."""

    data: bytes

    def pages(self) -> int:
        with pdfium.PdfDocument(self.data) as document:
            return len(document)

    def size(self, page: int = 0) -> tuple[float, float]:
        """Width and height of a page [mm]."""
        with pdfium.PdfDocument(self.data) as document:
            wide, high = document[page].get_size()
            return wide / MM, high / MM

    def text(self, page: int) -> str:
        with pdfium.PdfDocument(self.data) as document:
            return document[page].get_textpage().get_text_range()

    def pixels(self, page: int, px_per_mm: float) -> NDArray[np.uint8]:
        """A page as grey pixels, at a whole number of them to a millimetre."""
        with pdfium.PdfDocument(self.data) as document:
            picture = document[page].render(scale=px_per_mm / MM, grayscale=True).to_numpy()
            return np.array(picture[:, :, 0] if picture.ndim == 3 else picture)

    def images(self, page: int) -> int:
        """Pictures drawn on a page."""
        with pdfium.PdfDocument(self.data) as document:
            return sum(1 for item in document[page].get_objects() if item.type == raw.FPDF_PAGEOBJ_IMAGE)

    def stored_pictures(self) -> int:
        """Pictures stored in the file, however often they are drawn."""
        return len(re.findall(rb"/Subtype\s*/Image", self.data))

    def dct_pictures(self) -> int:
        """Those stored as the JPEG they came as."""
        return len(re.findall(rb"/DCTDecode", self.data))
