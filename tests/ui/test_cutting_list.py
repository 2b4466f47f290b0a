import pytest

from layout.parts import Part, PartSide, Visibility
from ui.cutting_list import parts_from_csv, parts_from_rows, parts_to_csv, rows_of_text
from ui.jobfile import JobError

LIST = """Name,Qty,Length,Width,Thickness,Back,Edges
side,4,"15 3/4\\"",300 mm,20,show,concealed
rail,2,400,60,22,,
""".replace('\\"', '""')


def test_a_csv_becomes_parts() -> None:
    side, rail = parts_from_csv(LIST)
    assert (side.quantity, side.length, side.width, side.thickness) == (4, pytest.approx(400.05), 300, 20)
    assert side.visibility(PartSide.BACK) is Visibility.SHOW
    assert side.visibility(PartSide.FAR_EDGE) is Visibility.CONCEALED
    assert rail.sides == {}


def test_rows_pasted_without_a_heading_are_read_in_the_usual_order() -> None:
    (part,) = parts_from_rows(rows_of_text("side\t2\t500\t100\t20")).parts
    assert part == Part("side", 500, 100, 20, quantity=2)


def test_semicolons_and_decimal_commas_are_read() -> None:
    (part,) = parts_from_csv("name;length;width;thickness\nside;500,5;100;20\n")
    assert part.length == 500.5


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("name,length,width,thickness\nside,500,wide,20", "row 1, width: 'wide' is not a length"),
        ("name,length,width,thickness\nside,500,,20", "row 1, width: is empty; give a length"),
        ("name,length,width,thickness\nside,0,60,20", "row 1, length: '0' can't be"),
        ("name,length,width,thickness\n,500,60,20", "row 1, name: is empty"),
        ("name,length,width,thickness\na,1,1,1\na,2,2,2", "row 2, name: two parts are called 'a'"),
        ("name,qty,length,width,thickness\na,two,1,1,1", "row 1, quantity: 'two' is not a number"),
        ("name,qty,length,width,thickness\na,1.5,1,1,1", "row 1, quantity: '1.5' can't be"),
        ("name,length,width,thickness,face\na,1,1,1,pretty", "row 1, face: 'pretty' is not known"),
        ("name,length,width\na,1,1", "the column 'thickness' is missing"),
        ("name,length,width,thickness,colour\na,1,1,1,red", "column 'colour' is not known"),
        ("", "is empty"),
        ("name,length,width,thickness", "holds no part"),
    ],
)
def test_a_mistake_is_named_at_its_cell(text: str, message: str) -> None:
    with pytest.raises(JobError) as caught:
        parts_from_csv(text, "list.csv")
    assert str(caught.value).startswith(f"list.csv: {message}")


def test_one_bad_row_does_not_hide_the_others() -> None:
    found = parts_from_rows(rows_of_text("name,length,width,thickness\na,x,1,1\nb,2,2,2\nc,3,y,3"))
    assert [part.name for part in found.parts] == ["b"]
    assert [(mistake.row, mistake.column) for mistake in found.mistakes] == [(1, "length"), (3, "width")]


def test_a_list_written_as_csv_is_read_back_alike() -> None:
    parts = parts_from_csv(LIST)
    again = parts_from_csv(parts_to_csv(parts))
    assert [(p.name, p.quantity, p.width) for p in again] == [(p.name, p.quantity, p.width) for p in parts]
    assert all(
        one.visibility(side) is other.visibility(side)
        for one, other in zip(parts, again, strict=True)
        for side in PartSide
    )
