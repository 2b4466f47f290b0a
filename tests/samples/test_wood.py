from dataclasses import replace

import numpy as np
import pytest
from shapely import Point, Polygon

from layout.stock import DefectKind, Face, Turn, Where
from samples.wood.picture import WoodClass, edge_picture, face_picture
from samples.wood.truth import Known, board_as_known, defects_of, face_outline, known_faults
from tests.samples.boards import THICK, knotty, lower_half, upper_half, waney


@pytest.fixture(scope="module")
def faults() -> dict[str, Known]:
    return {known.id: known for known in known_faults(knotty())}


def test_a_through_knot_is_one_cone_on_both_faces(faults: dict[str, Known]) -> None:
    """Its axis, followed by hand from the pith, meets each face inside the outline and near its middle."""
    board = knotty()
    knot = next(k for k in board.log.knots if k.id == "through")
    axis = np.array(knot.axis)
    for face in Face:
        (outline,) = faults["through"].shows[face]
        low, high = 0.0, 400.0
        z_face = board.depth_of(face)
        for _ in range(60):  # where along the branch does it cross this face?
            s = (low + high) / 2
            u, v = s * axis[1], s * axis[2]
            pith_u, pith_v = board.log.pith(np.full((1, 1), knot.x + s * axis[0], np.float32))
            over = np.array([u + float(pith_u[0, 0]) - board.u0, v + float(pith_v[0, 0]) - board.v0])
            z = float(over @ np.array(board.down))
            low, high = (s, high) if z > z_face else (low, s)
        x, y = knot.x + s * axis[0] - board.x0, float(over @ np.array(board.across))
        shape = Polygon(outline)
        assert shape.contains(Point(x, y))
        assert shape.centroid.distance(Point(x, y)) < 2.0
        radius = knot.radius * min(s / knot.alive, 1.0) ** 0.75
        assert shape.bounds[3] - shape.bounds[1] == pytest.approx(2 * radius, rel=0.15)


def test_a_knot_is_smaller_nearer_the_pith(faults: dict[str, Known]) -> None:
    front, back = (Polygon(faults["through"].shows[face][0]).area for face in Face)
    assert back < front


def test_the_depth_of_a_fault_is_where_sawing_loses_it(faults: dict[str, Known]) -> None:
    depth = faults["check"].depth[Face.FRONT]
    assert 4 < depth < 12
    shown = [{k.id for k in known_faults(lower_half(knotty(), depth + by))} for by in (-1.5, 1.0)]
    assert "check" in shown[0]
    assert "check" not in shown[1]


def test_a_closed_knot_shows_on_the_back_alone_and_its_depth_is_true(faults: dict[str, Known]) -> None:
    known = faults["closed"]
    assert set(known.shows) == {Face.BACK}
    depth = known.depth[Face.BACK]
    assert 0 < depth < THICK
    for by, there in ((-1.5, True), (1.0, False)):
        above = upper_half(knotty(), THICK - depth - by)
        assert ("closed" in {k.id for k in known_faults(above) if Face.BACK in k.shows}) is there


def test_dead_and_sound_are_told_apart(faults: dict[str, Known]) -> None:
    assert faults["dead"].kind[Face.FRONT] is DefectKind.DEAD_KNOT
    assert faults["through"].kind[Face.FRONT] is DefectKind.SOUND_KNOT


def test_defects_for_the_layout(faults: dict[str, Known]) -> None:
    (through,) = defects_of(faults["through"])
    assert through.where is Where.THROUGH
    hull = Polygon(through.outline).buffer(0.3)
    for face in Face:
        assert hull.contains(Polygon(faults["through"].shows[face][0]))
    (split,) = defects_of(faults["split"])
    assert split.where is Where.THROUGH
    (closed,) = defects_of(faults["closed"])
    assert (closed.where, closed.depth) == (
        Where.BACK,
        pytest.approx(faults["closed"].depth[Face.BACK], abs=0.06),
    )


def test_two_boards_sawn_apart_agree_on_the_cut() -> None:
    """The back of the upper board is the front of the lower one, mirrored: outlines, colours and classes."""
    board = knotty()
    above, below = upper_half(board, 12.0), lower_half(board, 12.0)
    one = face_picture(above, Face.BACK, 1.0, fine=2)
    two = face_picture(below, Face.FRONT, 1.0, fine=2)
    apart = np.abs(one.rgb[::-1].astype(int) - two.rgb.astype(int))
    assert np.quantile(apart, 0.999) <= 3
    assert (one.classes[::-1] != two.classes).mean() < 0.002
    back = {k.id: k.shows[Face.BACK] for k in known_faults(above) if Face.BACK in k.shows}
    front = {k.id: k.shows[Face.FRONT] for k in known_faults(below) if Face.FRONT in k.shows}
    assert set(back) == set(front) >= {"through", "dead", "split"}
    for name, outlines in back.items():
        for first, second in zip(outlines, front[name], strict=True):
            assert Polygon(first).hausdorff_distance(Polygon(second)) < 0.3


@pytest.mark.parametrize("turned", list(Turn))
def test_pictures_show_faults_where_the_truth_says(turned: Turn, faults: dict[str, Known]) -> None:
    board = replace(knotty(), turned=turned)
    known = board_as_known(board)
    for face in Face:
        classes = face_picture(board, face, 1.0, fine=2).classes
        rows, columns = np.nonzero(np.isin(classes, (WoodClass.SOUND_KNOT, WoodClass.DEAD_KNOT)))
        seen = set()
        for row, column in zip(rows, columns, strict=True):
            x, y = column + 0.5, row + 0.5
            if face is Face.BACK:
                x, y = known.back_seen(x, y)
            seen.add((int(x), int(y)))
        drawn = [Polygon(o) for n in ("through", "dead", "closed") for o in faults[n].shows.get(face, ())]
        assert sum(shape.area for shape in drawn) == pytest.approx(len(seen), rel=0.08)
        outside = [
            p for p in seen if not any(s.buffer(1.0).contains(Point(p[0] + 0.5, p[1] + 0.5)) for s in drawn)
        ]
        assert outside == []


def test_sapwood_runs_on_from_face_to_face() -> None:
    """On every depth between, the border moves on steadily: no face invents its own."""
    board = waney()
    areas = []
    for z in (0.0, 10.0, 20.0):
        shown = {k.id: k for k in known_faults(lower_half(board, z))}["sapwood"].shows[Face.FRONT]
        assert len(shown) == 2  # one strip along each edge
        areas.append(max(float(np.mean([p[1] for p in outline])) for outline in shown))
    steps = np.diff(areas)
    assert (np.sign(steps) == np.sign(steps[0])).all()
    assert np.abs(steps).max() < 12.0


def test_a_waney_board_is_narrower_on_its_bark_side() -> None:
    board = waney()
    front, back = (Polygon(face_outline(board, face)) for face in Face)
    assert front.area < back.area
    assert back.bounds[3] <= board.width + 1e-6
    shown = face_picture(board, Face.FRONT, 1.0, fine=2)
    wood = ~np.isin(shown.classes, (WoodClass.WANE, WoodClass.NO_WOOD))
    assert wood.sum() == pytest.approx(front.area, rel=0.01)
    assert shown.below[shown.classes == WoodClass.WANE].max() > 0.7 * THICK


def test_the_edge_shows_what_the_faces_show() -> None:
    """Along an arris the picture of the edge meets the picture of the face."""
    board = knotty()
    face = face_picture(board, Face.FRONT, 1.0, fine=1).rgb[0].astype(float).mean(axis=1)
    edge = edge_picture(board, "near edge", 1.0)[0].astype(float).mean(axis=1)
    smooth = np.ones(25) / 25
    one, two = np.convolve(face, smooth, "valid"), np.convolve(edge, smooth, "valid")
    assert abs(one.mean() - two.mean()) < 12


def test_same_seed_same_board() -> None:
    one, two = (
        face_picture(knotty(), Face.FRONT, 1.0, fine=2),
        face_picture(knotty(), Face.FRONT, 1.0, fine=2),
    )
    assert np.array_equal(one.rgb, two.rgb)
    assert known_faults(knotty()) == known_faults(knotty())


def test_a_rough_board_has_the_saws_marks_and_the_same_faults() -> None:
    """Bands across the grain: rows alike, columns not; what is where stays."""
    part = (450.0, 0.0, 600.0, 90.0)
    smooth = face_picture(knotty(), Face.FRONT, 1.0, fine=2, span=part)
    rough = face_picture(replace(knotty(), planed=False), Face.FRONT, 1.0, fine=2, span=part)
    assert np.array_equal(rough.classes, smooth.classes)
    across = [shown.rgb.mean(axis=(0, 2)) for shown in (smooth, rough)]
    waves = [np.abs(np.diff(profile, 2)).mean() for profile in across]
    assert waves[1] > 1.5 * waves[0]
