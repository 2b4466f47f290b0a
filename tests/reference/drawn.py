"""The pictures that are kept for reference, drawn afresh."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pypdfium2 as pdfium
from numpy.typing import NDArray

from layout.allowances import Allowances, RepairRules, Shop
from layout.glue import Donor, Repair, RepairKind
from layout.outline import rectangle
from layout.panels import glue_ups_of
from layout.parts import Part, PartSide, Staves, Visibility, Zone
from layout.placement import Cut, CutKind, Layout, Offcut, Placement
from layout.stock import Board, Defect, DefectKind, Face, Price, Turn, Where
from tests.builders import tiny_board, tiny_layout, tiny_parts, tiny_shop
from tests.ui.drawing.jobs import grain_picture
from ui.drawing.board_picture import board_scene
from ui.drawing.board_view import BoardView
from ui.drawing.job_values import FacePicture, SheetJob
from ui.drawing.printed.labels import labels_pdf
from ui.drawing.raster import scene_pixels
from ui.drawing.sheets import printed_sheets
from vision.marks import Mark

__all__ = ["DRAWN", "WIDE_PX", "mended_job", "panel_job", "spliced_job"]

WIDE_PX = 1200
Picture = NDArray[np.uint8]


def _face(job: SheetJob, face: Face, **rest: object) -> Picture:
    view = BoardView(job.boards[0], job.parts, job.shop, job.layout, face, job.units, **rest)  # type: ignore[arg-type]
    found = job.pictures.get((job.boards[0].id, face))
    scene = board_scene(view, found.rgb if found else None, job.marks.get(job.boards[0].id, ()))
    wide = WIDE_PX / 2 if view.upright else WIDE_PX
    return scene_pixels(scene, wide / (scene.extent[2] - scene.extent[0]))


def _page(data: bytes, says: str) -> Picture:
    """The first page on which these words stand."""
    with pdfium.PdfDocument(data) as document:
        page = next(each for each in document if says in each.get_textpage().get_text_range())
        return np.array(page.render(scale=WIDE_PX / page.get_width()).to_pil().convert("RGB"))


def _small(kind: DefectKind, box: tuple[float, float, float, float], where: Where, **rest: object) -> Defect:
    return Defect(rest.pop("id"), kind, rectangle(*box), where, **rest)  # type: ignore[arg-type]


def fates_job() -> SheetJob:
    """The tiny board with a fault for every fate, one mark not confirmed, and a photograph."""
    more = (
        _small(DefectKind.CHECK, (0, 100, 15, 103), Where.FRONT, id="end check"),
        _small(DefectKind.SOUND_KNOT, (200, 20, 222, 36), Where.BACK, id="hidden"),
        _small(DefectKind.STAIN, (300, 90, 330, 110), Where.FRONT, id="planed", depth=1.0),
        _small(DefectKind.PIN_KNOT, (250, 63, 255, 66), Where.THROUGH, id="edge"),
        _small(DefectKind.STAIN, (330, 150, 350, 165), Where.FRONT, id="wrong"),
    )
    doubtful = Mark("m", DefectKind.SHAKE, rectangle(700, 30, 790, 36), Where.FRONT, 0.4)
    board = replace(tiny_board(*more), error=0.9)
    return SheetJob(
        *((board,), tiny_parts(), tiny_shop(), tiny_layout()),
        pictures={("1", Face.FRONT): FacePicture(grain_picture(1000, 210, 2.0, noise=0.0), 2.0)},
        marks={"1": (doubtful,)},
        title="Tiny",
        currency="EUR",
    )


def mended_job() -> SheetJob:
    """A board, turned end over end, whose faults are made good from its own offcut."""
    concealed = dict.fromkeys(PartSide, Visibility.CONCEALED)
    parts = (
        Part("rail", 900, 70, 22, mend_show=True),
        Part("cross rail", 900, 70, 22, zones=(Zone("mortise", rectangle(420, 20, 480, 50)),)),
        Part("brace", 900, 40, 22, sides=concealed),
    )
    shop = Shop(
        allowances=Allowances(kerf=3, end_trim=20, edge_trim=3, length=10, width=4, skim=1.5),
        repairs=RepairRules(allowed=True),
    )
    defects = (
        _small(DefectKind.SOUND_KNOT, (425, 33, 445, 49), Where.THROUGH, id="f"),
        _small(DefectKind.DECAY, (45, 110, 85, 130), Where.BACK, id="g", depth=6.0),
        _small(DefectKind.CHECK, (325, 170, 405, 172), Where.FRONT, id="h", depth=8.0),
    )
    board = Board.square_edged("4", 2000, 210, 27, defects=defects, price=Price(40.0), turned=Turn.TUMBLED)
    hexagon = ((368, 36), (395, 23), (425, 23), (452, 36), (425, 49), (395, 49))
    wood = Donor("4", 1300, 100, 1394, 132, Face.FRONT, 8)
    slope = Donor("4", 1500, 20, 1640, 94, Face.BACK, 13)
    repairs = (
        Repair(RepairKind.PATCH, "rail", 1, PartSide.FACE, ("f",), hexagon, 5, donor=wood, cost=16.67),
        Repair(
            *(RepairKind.SLICE, "cross rail", 1, PartSide.BACK, ("g",), rectangle(0, 0, 120, 70), 10),
            slope=12,
            at=120,
            donor=slope,
            cost=30,
            cautions=("Compare donor and host by eye, in the same light.",),
            alternative="one more board, 40.00",
        ),
        Repair(RepairKind.FILLER, "brace", 1, PartSide.FACE, ("h",), rectangle(297, 8, 383, 16), 6, cost=4),
    )
    placements = tuple(
        Placement(part.name, 1, "4", 20, y, from_front=2.5)
        for part, y in zip(parts, (3.0, 80.0, 157.0), strict=True)
    )
    rips = (77.0, 154.0, 201.0)
    cuts = (
        Cut("4", 1, CutKind.CROSSCUT, 17, 0, 210, 1, kept_before=False),
        Cut("4", 2, CutKind.CROSSCUT, 930, 0, 210, 1),
        Cut("4", 3, CutKind.RIP, 0, 20, 930, 2, kept_before=False),
        *(Cut("4", 4 + rank, CutKind.RIP, at, 20, 930, 2) for rank, at in enumerate(rips)),
    )
    layout = Layout(placements, cuts, (Offcut("4", 1643, 0, 2000, 210),), cost=90.67, repairs=repairs)
    return SheetJob((board,), parts, shop, layout, title="Mended", currency="EUR")


def spliced_job() -> SheetJob:
    """A split end spliced and a waney edge stripped, both from the board's own offcut."""
    concealed = dict.fromkeys(PartSide, Visibility.CONCEALED)
    parts = (Part("brace", 1100, 50, 22, sides=concealed), Part("bearer", 1100, 60, 22, sides=concealed))
    shop = Shop(
        allowances=Allowances(kerf=3, end_trim=20, edge_trim=3, length=10, width=4, skim=1.5),
        repairs=RepairRules(allowed=True),
    )
    defects = (
        _small(DefectKind.SPLIT, (0, 30, 90, 32), Where.THROUGH, id="s"),
        _small(DefectKind.WANE, (300, 118, 700, 130), Where.FRONT, id="w", depth=9.0),
    )
    board = Board.square_edged("6", 2400, 130, 27, defects=defects, price=Price(36.0))
    end, slope = 80.0, 264.0  # 1 in 12 through 22 mm
    repairs = (
        Repair(
            *(RepairKind.SPLICE, "brace", 1, PartSide.FACE, ("s",), rectangle(0, 0, end + slope, 50), 22),
            slope=12,
            at=end,
            donor=Donor("6", 1200, 10, 1564, 64, Face.FRONT, 24),
            cost=40,
            cautions=("Not for a part that carries people or a span.",),
        ),
        Repair(
            *(RepairKind.EDGE_STRIP, "bearer", 1, PartSide.FAR_EDGE, ("w",), rectangle(0, 42, 1100, 60), 22),
            donor=Donor("6", 1200, 80, 2320, 102, Face.FRONT, 24),
            cost=20,
        ),
    )
    places = (
        Placement("brace", 1, "6", 20, 3, from_front=2.5),
        Placement("bearer", 1, "6", 20, 60, from_front=2.5),
    )
    cuts = (
        Cut("6", 1, CutKind.CROSSCUT, 17, 0, 130, 1, kept_before=False),
        Cut("6", 2, CutKind.CROSSCUT, 1130, 0, 130, 1),
        Cut("6", 3, CutKind.RIP, 0, 20, 1130, 2, kept_before=False),
        *(Cut("6", 4 + rank, CutKind.RIP, at, 20, 1130, 2) for rank, at in enumerate((57.0, 124.0))),
    )
    layout = Layout(places, cuts, (), cost=96.0, repairs=repairs)
    return SheetJob((board,), parts, shop, layout, title="Spliced", currency="EUR")


def panel_job() -> SheetJob:
    """A small top glued up from three staves of one board."""
    shop = tiny_shop()
    top = Part("top", 520, 330, 22, staves=Staves())
    ups = glue_ups_of((top,), shop, {"top": (110.0, 120.0, 100.0)})
    board = Board.square_edged("5", 1700, 140, 30, heart=Face.FRONT, moisture=9.0)
    places = tuple(
        Placement(
            *(f"top stave {number}", 1, "5", 20 + (number - 1) * 533.0, 3.0),
            Face.BACK if number == 2 else Face.FRONT,
            from_front=4.0,
        )
        for number in (1, 2, 3)
    )
    layout = Layout(places, glue_ups=ups, cost=38.0)
    return SheetJob((board,), (top,), shop, layout, title="A top", currency="EUR")


DRAWN: dict[str, Callable[[], Picture]] = {
    "every-fate-front": lambda: _face(fates_job(), Face.FRONT),
    "every-fate-back": lambda: _face(fates_job(), Face.BACK),
    "every-fate-phone": lambda: _face(fates_job(), Face.FRONT, along=70),
    "every-fate-inches": lambda: _face(replace(fates_job(), units="inch"), Face.FRONT),
    "every-fate-upright": lambda: _face(fates_job(), Face.FRONT, upright=True),
    "mended-back-upright": lambda: _face(mended_job(), Face.BACK, upright=True),
    "mended-front": lambda: _face(mended_job(), Face.FRONT),
    "mended-back-tumbled": lambda: _face(mended_job(), Face.BACK),
    "page-summary": lambda: _page(printed_sheets(fates_job()), "Cutting list"),
    "page-board": lambda: _page(printed_sheets(fates_job()), "Board 1 · front face"),
    "page-repairs": lambda: _page(printed_sheets(mended_job()), "R2 slice, B1"),
    "page-splice": lambda: _page(printed_sheets(spliced_job()), "R1 splice, A1"),
    "page-glue-up": lambda: _page(printed_sheets(panel_job()), "Glue-up A1"),
    "page-buying": lambda: _page(printed_sheets(fates_job()), "Buying list"),
    "page-labels": lambda: _page(labels_pdf(fates_job()), "finished"),
}
