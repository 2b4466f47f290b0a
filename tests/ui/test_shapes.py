import io

import ezdxf
import pytest
from ezdxf import units

from layout.outline import area_of, bounds_of
from ui.jobfile import JobError
from ui.shapes import outline_from_drawing


def svg(body: str, size: str = 'width="200mm" height="100mm" viewBox="0 0 200 100"') -> bytes:
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{body}</svg>'.encode()


def dxf(draw: str, unit: int = units.MM) -> bytes:
    drawing = ezdxf.new(units=unit)
    space = drawing.modelspace()
    if draw == "leg":
        space.add_lwpolyline([(10, 10), (310, 10), (310, 40), (10, 60)], close=True)
    elif draw == "disc":
        space.add_circle((0, 0), 50)
    else:
        space.add_line((0, 0), (10, 0))
    out = io.StringIO()
    drawing.write(out)
    return out.getvalue().encode()


def test_a_tapered_leg_is_read_in_millimetres_and_moved_to_its_corner() -> None:
    found = outline_from_drawing(svg('<path d="M20 30 H120 L120 50 L20 60 Z"/>'), "leg.svg")
    assert set(found) == {(0, 0), (100, 0), (100, 20), (0, 30)}


def test_the_unit_of_an_svg_counts() -> None:
    size = 'width="2in" height="1in" viewBox="0 0 200 100"'
    found = outline_from_drawing(svg('<rect x="0" y="0" width="200" height="100"/>', size), "rail.svg")
    assert bounds_of(found) == (0, 0, pytest.approx(50.8), pytest.approx(25.4))


def test_a_circle_becomes_corners_close_enough() -> None:
    found = outline_from_drawing(svg('<circle cx="60" cy="50" r="40"/>'), "disc.svg")
    assert area_of(found) == pytest.approx(3.14159265 * 40**2, rel=0.004)


def test_the_largest_of_several_outlines_is_taken() -> None:
    body = '<rect width="5" height="5"/><rect x="20" y="20" width="90" height="30"/>'
    assert bounds_of(outline_from_drawing(svg(body), "two.svg"))[2:] == (90, 30)


def test_a_dxf_is_read_in_its_own_unit() -> None:
    assert bounds_of(outline_from_drawing(dxf("leg"), "leg.dxf"))[2:] == (300, 50)
    inches = bounds_of(outline_from_drawing(dxf("leg", units.IN), "leg.dxf"))
    assert inches[2:] == (pytest.approx(7620), pytest.approx(1270))
    disc = outline_from_drawing(dxf("disc"), "disc.dxf")
    assert area_of(disc) == pytest.approx(3.14159265 * 50**2, rel=0.01)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (svg('<path d="M0 0 L10 10"/>'), "no closed outline"),
        (svg(""), "no closed outline"),
        (dxf("line"), "no closed outline"),
        (b"not a drawing", "neither an SVG nor a DXF"),
        (b"<svg><path d='M0", "not an SVG drawing"),
        (b'<!DOCTYPE x [<!ENTITY a "b">]>' + svg(""), "entities"),
        (b"<svg" + b" " * 5_000_000, "too big"),
    ],
)
def test_anything_else_is_refused_in_a_sentence(data: bytes, says: str) -> None:
    with pytest.raises(JobError, match=says) as caught:
        outline_from_drawing(data, "thing")
    assert str(caught.value).startswith("thing: ")
