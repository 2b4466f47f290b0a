"""All the sheets of a job at once: file name to bytes."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from re import sub
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from layout.allowances import Shop
from layout.parts import Part
from layout.placement import Layout
from layout.stock import Board, Face
from ui.drawing.board_picture import board_picture, board_svg
from ui.drawing.tables import cuts_csv, parts_csv
from ui.lengths import Units
from vision.marks import Mark

__all__ = ["FacePicture", "Paper", "png_bytes", "sheets"]

Paper = Literal["A4", "Letter"]


@dataclass(frozen=True, eq=False)
class FacePicture:
    """A true-scale picture of one face as it is seen, covering exactly the board's length and width.

    Parameters
    ----------
    rgb : array of uint8 [height, width, 3]
    px_per_mm : float
    """

    rgb: NDArray[np.uint8]
    px_per_mm: float


def sheets(
    boards: Sequence[Board],
    parts: Sequence[Part],
    shop: Shop,
    layout: Layout,
    *,
    pictures: Mapping[tuple[str, Face], FacePicture] | None = None,
    marks: Mapping[str, Sequence[Mark]] | None = None,
    title: str = "",  # noqa: ARG001
    units: Units = "mm",
    paper: Paper = "A4",  # noqa: ARG001
    currency: str = "",  # noqa: ARG001
) -> dict[str, bytes]:
    """Everything a maker takes to the saw, as file name to bytes; the same job always gives the same bytes.

    Parameters
    ----------
    boards : sequence of Board
        All boards of the job; those without a part get no picture.
    parts : sequence of Part
        The cutting list in its order, which gives each part its chalk mark.
    shop : Shop
    layout : Layout
    pictures : mapping of (board id, Face) to FacePicture, optional
        Faces without one are drawn on a plain ground.
    marks : mapping of board id to sequence of Mark, optional
        Marks not yet confirmed are shown as such.
    title : str
        Name of the job, printed on the sheets.
    units : "mm" or "inch"
    paper : "A4" or "Letter"
    currency : str
        Printed beside money, for example "EUR".

    Returns
    -------
    dict of str to bytes
        "parts.csv", "cuts.csv" and, for every board used, "board-ID-front.png",
        "board-ID-back.png", "board-ID-front.svg" and "board-ID-back.svg".
    """
    files: dict[str, bytes] = {}
    files["parts.csv"] = parts_csv(boards, parts, shop, layout, units).encode("utf-8-sig")
    files["cuts.csv"] = cuts_csv(boards, parts, shop, layout, units).encode("utf-8-sig")
    used = set(layout.boards_used)
    for board in boards:
        if board.id not in used:
            continue
        own = list((marks or {}).get(board.id, ()))
        for face in Face:
            name = f"board-{_file_name(board.id)}-{face.value}"
            found = (pictures or {}).get((board.id, face))
            rgb, scale = (found.rgb, found.px_per_mm) if found else (None, 1.0)
            drawn = board_picture(board, parts, shop, layout, face, rgb, scale, own, units=units)
            files[f"{name}.png"] = png_bytes(drawn)
            files[f"{name}.svg"] = board_svg(board, parts, shop, layout, face, rgb, own, units=units).encode()
    return files


def _file_name(text: str) -> str:
    return sub(r"[^\w-]+", "_", text) or "_"


def png_bytes(rgb: NDArray[np.uint8]) -> bytes:
    """A picture as PNG; the same pixels always give the same bytes."""
    fine, data = cv2.imencode(".png", rgb[:, :, ::-1], [cv2.IMWRITE_PNG_COMPRESSION, 2])
    if not fine:
        raise ValueError(f"a picture of shape {rgb.shape} cannot be written as PNG; give RGB uint8 rows")
    return bytes(data)
