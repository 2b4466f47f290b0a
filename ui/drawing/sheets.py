"""All the sheets of a job at once: file name to bytes."""

from collections.abc import Iterator, Mapping, Sequence
from hashlib import sha256
from re import sub

import cv2
import numpy as np
from numpy.typing import NDArray
from reportlab.platypus import Flowable

from layout.allowances import Shop
from layout.parts import Part
from layout.placement import Layout
from layout.stock import Board, Face
from ui.drawing.board_picture import board_picture, board_scene, picture_scale
from ui.drawing.dxf import board_dxf
from ui.drawing.geojson import board_geojson
from ui.drawing.job_values import FacePicture, Paper, SheetJob
from ui.drawing.printed.board_sheet import board_story
from ui.drawing.printed.buying import buying_story
from ui.drawing.printed.glue_up import glue_up_story
from ui.drawing.printed.labels import labels_pdf
from ui.drawing.printed.page import document
from ui.drawing.printed.summary import summary_story
from ui.drawing.printed.tiles import tiles_pdf
from ui.drawing.raster import scene_pixels
from ui.drawing.tables import cuts_csv, parts_csv
from ui.drawing.vector import scene_svg
from ui.lengths import Units
from ui.pictures import jpeg
from vision.marks import Mark

__all__ = ["FacePicture", "Paper", "board_stem", "png_bytes", "printed_sheets", "sheets"]


# Half the time of the usual settings, for files a third larger.
_FAST_PNG = [
    *(cv2.IMWRITE_PNG_COMPRESSION, 1),
    *(cv2.IMWRITE_PNG_STRATEGY, cv2.IMWRITE_PNG_STRATEGY_RLE),
    *(cv2.IMWRITE_PNG_FILTER, cv2.IMWRITE_PNG_FILTER_SUB),
]


def sheets(
    boards: Sequence[Board],
    parts: Sequence[Part],
    shop: Shop,
    layout: Layout,
    *,
    pictures: Mapping[tuple[str, Face], FacePicture] | None = None,
    marks: Mapping[str, Sequence[Mark]] | None = None,
    title: str = "",
    units: Units = "mm",
    paper: Paper = "A4",
    currency: str = "",
    upright: bool = False,
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
    upright : bool
        Whether each face also comes with the board standing, for a phone.

    Returns
    -------
    dict of str to bytes
        "sheets.pdf" (summary, a sheet for each board and glue-up, buying list), "labels.pdf",
        "parts.csv", "cuts.csv"; for every board used "board-ID-marks.geojson" and
        for each of its faces "board-ID-front.png", ".svg" and ".dxf" (and
        "board-ID-front-upright.jpg" if asked for); for every shaped part
        "true-size-NAME.pdf".
    """
    job = SheetJob(
        *(tuple(boards), tuple(parts), shop, layout),
        pictures=pictures or {},
        marks=marks or {},
        title=title,
        currency=currency,
        units=units,
        paper=paper,
    )
    files = {"sheets.pdf": printed_sheets(job), "labels.pdf": labels_pdf(job)}
    files["parts.csv"] = parts_csv(boards, parts, shop, layout, units).encode("utf-8-sig")
    files["cuts.csv"] = cuts_csv(boards, parts, shop, layout, units).encode("utf-8-sig")
    for board in job.used:
        files |= dict(_board_files(job, board))
        if upright:
            files |= dict(_upright_files(job, board))
    for part in job.parts:
        if part.outline is not None:
            files[f"true-size-{_file_name(part.name)}.pdf"] = tiles_pdf(job, part)
    return files


def printed_sheets(job: SheetJob) -> bytes:
    """The PDF to print: summary, a sheet for each board and each glue-up, buying list."""
    story: list[Flowable] = summary_story(job)
    for board in job.used:
        story += board_story(job, board)
    return document([*story, *glue_up_story(job), *buying_story(job)], job.paper, job.title or "clearface")


def _board_files(job: SheetJob, board: Board) -> Iterator[tuple[str, bytes]]:
    stem, marks = board_stem(board.id), job.marks.get(board.id, ())
    yield f"{stem}-marks.geojson", board_geojson(job.view(board, Face.FRONT), marks).encode()
    for face in Face:
        view, found = job.view(board, face), job.pictures.get((board.id, face))
        scene = board_scene(view, found.rgb if found else None, marks)
        scale = picture_scale(scene, found.px_per_mm if found else 0.0)
        yield f"{stem}-{face.value}.png", png_bytes(scene_pixels(scene, scale))
        title = f"board {board.id}, {face.value} face"
        yield f"{stem}-{face.value}.svg", scene_svg(scene, title).encode()
        yield f"{stem}-{face.value}.dxf", board_dxf(view).encode()


def _upright_files(job: SheetJob, board: Board) -> Iterator[tuple[str, bytes]]:
    for face in Face:
        found, marks = job.pictures.get((board.id, face)), job.marks.get(board.id, ())
        picture, px_per_mm = (found.rgb, found.px_per_mm) if found else (None, 1.0)
        values = (board, job.parts, job.shop, job.layout, face, picture, px_per_mm, marks)
        drawn = board_picture(*values, units=job.units, upright=True)
        yield f"{board_stem(board.id)}-{face.value}-upright.jpg", jpeg(drawn, 88)


def board_stem(board: str) -> str:
    """What the names of a board's files begin with."""
    return f"board-{_file_name(board)}"


def _file_name(text: str) -> str:
    """A plain, short file name for any text; texts that differ never share one."""
    plain = sub(r"[^\w-]+", "_", text)[:40]
    return plain if plain == text and plain else f"{plain}-{sha256(text.encode()).hexdigest()[:8]}"


def png_bytes(rgb: NDArray[np.uint8]) -> bytes:
    """A picture as PNG; the same pixels always give the same bytes."""
    fine, data = cv2.imencode(".png", cv2.cvtColor(rgb, cv2.COLOR_RGB2BGR), _FAST_PNG)
    if not fine:
        raise ValueError(f"a picture of shape {rgb.shape} cannot be written as PNG; give RGB uint8 rows")
    return bytes(data)
