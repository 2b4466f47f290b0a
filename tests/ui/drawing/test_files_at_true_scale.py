"""SVG, DXF and GeoJSON read back with other libraries, compared with the layout to 0.1 mm."""

import io
import json

import ezdxf
import pytest
import shapely
from ezdxf import recover
from shapely.geometry import Polygon, shape
from svgelements import SVG, Group, Path

from layout.outline import Outline
from layout.stock import Face
from tests.ui.drawing.jobs import large_job
from ui.drawing.board_picture import board_scene
from ui.drawing.board_view import BoardView
from ui.drawing.dxf import LAYERS, board_dxf
from ui.drawing.geojson import board_geojson
from ui.drawing.vector import scene_svg
from vision.marks import Mark, MarkState

NEAR = 0.1  # mm
JOB = large_job(boards=3, copies=2)
VIEWS = [BoardView(board, JOB.parts, JOB.shop, JOB.layout, face) for board in JOB.boards for face in Face]
NAMES = [f"{view.board.id} {view.face.value}" for view in VIEWS]


def seen(view: BoardView, outline: Outline) -> Polygon:
    """Where an outline lies in the picture, worked out apart from the drawing code."""
    board = view.board
    if view.face is Face.FRONT:
        return Polygon(outline)
    if board.turned.value == "rolled":
        return Polygon([(x, board.width - y) for x, y in outline])
    return Polygon([(board.length - x, y) for x, y in outline])


def same(found: list[Polygon], wanted: list[Polygon]) -> bool:
    """Whether each wanted outline is there, within a tenth of a millimetre everywhere."""
    return len(found) == len(wanted) and all(
        any(one.exterior.hausdorff_distance(other.exterior) <= NEAR for other in found) for one in wanted
    )


def dxf_rings(text: str, layer: str) -> list[Polygon]:
    drawing, audit = recover.read(io.BytesIO(text.encode()))
    assert not audit.has_errors
    assert drawing.units == ezdxf.units.MM
    rings = drawing.modelspace().query(f'LWPOLYLINE[layer=="{layer}"]')
    return [Polygon([(x, -y) for x, y in ring.get_points("xy")]) for ring in rings]


@pytest.mark.parametrize("view", VIEWS, ids=NAMES)
def test_dxf(view):
    text = board_dxf(view)
    assert same(dxf_rings(text, "BOARD"), [seen(view, view.board.outline(view.face))])
    parts = [ring for layer in LAYERS if layer.startswith("PARTS") for ring in dxf_rings(text, layer)]
    assert same(parts, [seen(view, piece.sawn) for piece in view.pieces])
    assert same(dxf_rings(text, "FINISHED SHAPES"), [seen(view, piece.finished) for piece in view.pieces])
    slots = [shapely.box(*view.slot(cut)) for cut in view.cuts]
    assert same(dxf_rings(text, "KERF"), [seen(view, tuple(slot.exterior.coords[:-1])) for slot in slots])
    shown = [each for each in view.board.defects if each.shows_on(view.face)]
    assert same(dxf_rings(text, "DEFECTS"), [seen(view, each.outline) for each in shown])
    drawing = ezdxf.read(io.StringIO(text))
    words = {text.dxf.text for text in drawing.modelspace().query("TEXT")}
    assert words == {piece.mark for piece in view.pieces}


@pytest.mark.parametrize("view", VIEWS, ids=NAMES)
def test_svg(view):
    svg = SVG.parse(io.StringIO(scene_svg(board_scene(view), "test")), ppi=25.4)
    x0, y0 = svg.viewbox.x, svg.viewbox.y
    rings: dict[str, list[Polygon]] = {}
    paths = [
        (group.values["attributes"]["class"], path)
        for group in svg.select(lambda each: isinstance(each, Group) and "class" in each.values["attributes"])
        for path in group.select(lambda each: isinstance(each, Path) and len(each) > 4)
    ]
    for layer, path in paths:
        points = [(point.x + x0, point.y + y0) for point in path.as_points()]
        rings.setdefault(layer, []).append(Polygon(dict.fromkeys(points)))
    slots = [shapely.box(*view.slot(cut)) for cut in view.cuts]
    assert same(rings["kerf"], [seen(view, tuple(slot.exterior.coords[:-1])) for slot in slots])
    assert same(rings["board"], [seen(view, view.board.outline(view.face))])
    shown = [each for each in view.board.defects if each.shows_on(view.face)]
    drawn = [ring for layer, some in rings.items() if layer.startswith("defects-") for ring in some]
    assert same(drawn[::2], [seen(view, each.outline) for each in shown])  # each with a pale line below
    shaped = [piece for piece in view.pieces if piece.part.outline is not None]
    assert same(rings.get("finished-shape", []), [seen(view, piece.finished) for piece in shaped])


@pytest.mark.parametrize("view", VIEWS[::2], ids=NAMES[::2])
def test_geojson(view):
    board = view.board
    doubtful = Mark("m1", board.defects[0].kind, ((5, 5), (25, 5), (25, 15)), board.defects[0].where, 0.4)
    done = Mark("m2", board.defects[0].kind, ((5, 5), (25, 5), (25, 15)), board.defects[0].where)
    done = Mark(**{**done.__dict__, "state": MarkState.CONFIRMED})
    read = json.loads(board_geojson(view, [doubtful, done]))
    assert read["type"] == "FeatureCollection"
    defects = [each for each in read["features"] if each["properties"]["what"] == "defect"]
    assert [each["properties"]["id"] for each in defects] == [each.id for each in board.defects]
    for feature, defect in zip(defects, board.defects, strict=True):
        ring = shape(feature["geometry"])
        assert ring.is_valid
        assert ring.exterior.hausdorff_distance(Polygon(defect.outline).exterior) <= NEAR
        assert ring.exterior.is_ccw
        assert feature["properties"]["kind"] == defect.kind.value
    marks = [each for each in read["features"] if each["properties"]["what"] == "mark"]
    assert [each["properties"]["id"] for each in marks] == ["m1"]


def test_the_comparison_can_fail():
    view = VIEWS[0]
    shifted = [shapely.transform(seen(view, piece.sawn), lambda at: at + 0.2) for piece in view.pieces]
    assert not same(shifted, [seen(view, piece.sawn) for piece in view.pieces])
