"""Whatever is given as an SVG or DXF drawing of a part: an outline or one sentence, in bounded time."""

import io

import ezdxf
import pytest

from layout.outline import normal_outline
from tests.robust.answers import sentence
from tests.robust.mutations import damaged
from tests.robust.sizes import HANG, few_or_many, grown_mb, hang_after, seeded
from ui.jobfile import JobError
from ui.shapes import outline_from_drawing

SVG = b"""<svg xmlns="http://www.w3.org/2000/svg" width="300mm" height="80mm" viewBox="0 0 300 80">
<g transform="translate(5 5) rotate(2)"><path id="leg"
 d="M0,0 L280,10 C290,20 290,40 280,50 A30,30 0 0 1 200,60 Q100,80 0,50 Z"/>
<rect x="10" y="10" width="20" height="5" rx="1"/><circle cx="9" cy="9" r="3"/><use href="#leg" x="1"/>
<polygon points="0,0 10,0 10,10"/></g><text>leg</text></svg>"""


def dxf() -> bytes:
    drawing = ezdxf.new()
    space = drawing.modelspace()
    space.add_lwpolyline([(0, 0), (300, 10, 0, 0, 0.2), (300, 50), (0, 60)], close=True)
    space.add_circle((50, 30), 8)
    space.add_spline([(0, 0), (10, 5), (20, 0)])
    space.add_text("leg")
    out = io.StringIO()
    drawing.write(out)
    return out.getvalue().encode()


DXF = dxf()


def answered(data: bytes) -> bool:
    """Whether an outline was read; a refusal is proved to be one sentence."""
    try:
        outline = outline_from_drawing(data, "leg")
    except JobError as error:
        sentence(error)
        return False
    assert normal_outline(outline) == outline
    assert len(outline) <= 2000
    return True


def test_the_good_drawings_are_read() -> None:
    assert answered(SVG)
    assert answered(DXF)


@few_or_many(80)
def test_damaged_svg(cases: int) -> None:
    tried(
        SVG,
        cases,
        81,
        [
            b"1e999",
            b"-",
            b"nan",
            b"NaN",
            b"9" * 40,
            b"%",
            b"M",
            b"<use href='#leg'/>",
            b"matrix(0 0 0 0 0 0)",
        ],
    )


@few_or_many(60)
def test_damaged_dxf(cases: int) -> None:
    tried(DXF, cases, 82, [b"1e999\n", b"nan\n", b"  0\nEOF\n", b"999\n", b"-1\n"])


def tried(good: bytes, cases: int, seed: int, others: list[bytes]) -> None:
    chance = seeded(seed)
    read = 0
    with grown_mb(400):
        for case in range(cases):
            data = damaged(good, chance, others)
            if chance.random() < 0.6:  # one number or word exchanged, the rest left alone
                words = good.replace(b"\n", b" \n ").split(b" ")
                words[chance.randrange(len(words))] = chance.choice(others)
                data = b" ".join(words).replace(b" \n ", b"\n")
            with hang_after(HANG, f"case {case}: {data[:300]!r}"):
                try:
                    read += answered(data)
                except Exception as error:
                    pytest.fail(f"case {case}: {error!r} from {data[:600]!r}")
    assert 0 < read < cases


@pytest.mark.parametrize(
    "inside",
    [
        "<path d='M0,0 A1e-300,1e300 0 0 1 1e150,1e150 Z'/>",
        "<path d='M0,0 C1e9,1e9 -1e9,1e9 0,0 Z'/>",
        "<path d='" + "M0,0 h1 v1 z " * 3_000 + "'/>",
        "<g id='a'><use href='#a'/></g>",
        "<g>" * 3000 + "</g>" * 3000,
        "<image href='file:///etc/passwd'/><image href='http://example.invalid/x.png'/>",
        "<circle r='1e12'/><ellipse rx='nan' ry='5'/><rect width='-5' height='1e400'/>",
    ],
    ids=range(7),
)
def test_drawings_made_to_hurt(inside: str) -> None:
    with grown_mb(400), hang_after(60, inside[:40]):
        answered(f"<svg xmlns='http://www.w3.org/2000/svg'>{inside}</svg>".encode())


@pytest.mark.parametrize("link", ["href", "xlink:href"])
def test_things_used_twice_of_things_used_twice_are_too_much(link: str) -> None:
    """Two kilobytes that draw thirty million triangles: they once took all time and memory there was."""
    twice = "".join(
        f"<g id='g{n}'><use {link}='#g{n - 1}'/><use {link}='#g{n - 1}' x='1'/></g>" for n in range(1, 26)
    )
    drawing = (
        "<svg xmlns='http://www.w3.org/2000/svg' xmlns:xlink='http://www.w3.org/1999/xlink'>"
        f"<defs><path id='g0' d='M0 0L9 0L9 9Z'/>{twice}</defs><use {link}='#g25'/></svg>"
    )
    with grown_mb(50), hang_after(10, link), pytest.raises(JobError, match="too big"):
        outline_from_drawing(drawing.encode(), "bomb.svg")


def test_a_path_of_half_a_million_corners_is_too_much() -> None:
    drawing = f"<svg xmlns='http://www.w3.org/2000/svg'><path d='M0 0{'L1 1L2 0' * 250_000}Z'/></svg>"
    with hang_after(10, "path"), pytest.raises(JobError, match="too big"):
        outline_from_drawing(drawing.encode(), "path.svg")
