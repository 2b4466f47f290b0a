"""Clear-face cuttings against worked examples of the National Hardwood Lumber Association's rules.

Sources, as read by us in secondary texts unless marked:
[1] Grading article, goodwoodcorp.com/HardwoodGrading.asp: surface measure, trial grade.
[2] westcoastlands.net/SawmillGradng.html: number of cuttings, fractions dropped.
[3] Grade chart, hooddistribution.com/resources/lumber-grades: the rule table
    (its "60-2/3 %" for 1 Common is a misprint for 66-2/3).
[4] NHLA "Rules Corner" pages on nhla.com, quoting the rule book, paragraphs 31-72.
"""

import pytest

from layout.grade import (
    FOOT,
    GRADES,
    INCH,
    Cutting,
    cuttings_of,
    grade_of,
    holes_allowed,
    standard_length,
    surface_measure,
)
from layout.outline import rectangle
from layout.stock import Board, Defect, DefectKind, Face, Where

FAS, COMMON, *_ = GRADES

# Cells of the map: a cutting may come out one of them short at each side [units].
SLACK = 0.6


def inches(width: float, feet: float, *defects: tuple[float, float, float, float]) -> Board:
    """A board and its through knots (x0, y0, x1, y1), all in inches but for the length in feet."""
    knots = tuple(
        Defect(str(n), DefectKind.DEAD_KNOT, rectangle(*(v * INCH for v in box)), Where.THROUGH)
        for n, box in enumerate(defects)
    )
    return Board.square_edged("1", feet * FOOT, width * INCH, 27.0, defects=knots)


def test_surface_measure_drops_odd_inches_of_length_and_keeps_fractions_of_width() -> None:
    # [1]: 6-7/16 in x 10 ft 9 in counts as 10 ft: 5.36, so 5
    assert standard_length(10 * FOOT + 9 * INCH) == 10
    assert surface_measure(6.4375 * INCH, 10 * FOOT + 9 * INCH) == 5
    # 7-3/4 in x 8 ft 3 in: 5.17, so 5 (derived by the same formula)
    assert surface_measure(7.75 * INCH, 8 * FOOT + 3 * INCH) == 5


@pytest.mark.parametrize(
    ("measure", "grade", "cuttings", "units"),
    [
        (5, FAS, 1, 50),  # 5/4 -> 1 cutting (derived)
        (5, COMMON, 2, 40),  # (5+1)/3 = 2 (derived)
        (4, FAS, 1, 40),  # [2]
        (4, COMMON, 1, 32),  # [2]: "1/3 of 4+1 is 1"
        (8, FAS, 2, 80),  # [2]
        (8, COMMON, 3, 64),  # [2]
    ],
)
def test_cuttings_and_units_of_a_surface_measure(
    measure: int, grade: object, cuttings: int, units: int
) -> None:
    assert grade in GRADES
    chosen = GRADES[GRADES.index(grade)]  # type: ignore[arg-type]
    assert chosen.cuttings(measure) == cuttings
    assert chosen.needed(measure) == units


def test_units_needed_for_a_surface_measure_of_five() -> None:
    # [3]: FAS 50, 1 Common 40, 2A 30, 3A 20
    assert [grade.needed(5) for grade in GRADES] == [50, 40, 30, 20]


def test_holes_in_sound_cuttings() -> None:
    # [4]: cuttings of 11-3/4 and 25-1/4 units: one 1/4 in hole; four 1/4 in or two 1/2 in
    assert holes_allowed(11.75) == (1, 0)
    assert holes_allowed(25.25) == (4, 2)


def test_a_cutting_unit_is_an_inch_by_a_foot() -> None:
    # [4] paragraph 31 ff.: 4 in x 5 ft is 20 units
    assert Cutting(0, 0, 5 * FOOT, 4 * INCH).units == pytest.approx(20.0)


def test_a_clear_board_is_one_cutting_and_fas() -> None:
    board = inches(8, 12)
    (cutting,) = cuttings_of(board, Face.FRONT, FAS)
    assert cutting.units == pytest.approx(8 * 12, abs=SLACK)
    assert grade_of(board, Face.FRONT) is FAS


def test_a_knot_in_the_middle_leaves_two_cuttings_and_too_few_units_for_fas() -> None:
    # 8 in x 12 ft, SM 8. A knot over the full width from 66 to 78 in leaves 2 x 5.5 ft x 8 in = 88
    # units, less the margin of nothing: 88 >= 80 in two cuttings, so FAS holds.
    board = inches(8, 12, (66, 0, 78, 8))
    found = cuttings_of(board, Face.FRONT, FAS)
    assert len(found) == 2
    assert sum(item.units for item in found) == pytest.approx(88, abs=SLACK)
    assert grade_of(board, Face.FRONT) is FAS
    # From 54 to 90 in: 2 x 4.5 ft x 8 in = 72 units, and 4.5 ft is too short for any FAS cutting.
    worse = inches(8, 12, (54, 0, 90, 8))
    assert cuttings_of(worse, Face.FRONT, FAS) == ()
    assert sum(item.units for item in cuttings_of(worse, Face.FRONT, COMMON)) == pytest.approx(72, abs=SLACK)
    assert grade_of(worse, Face.FRONT) is COMMON


def test_a_board_too_small_for_a_grade_is_of_the_next() -> None:
    # [3]: FAS asks for 6 in x 8 ft; a clear board of 5 in x 8 ft is 1 Common at best
    assert grade_of(inches(5, 8), Face.FRONT) is COMMON


def test_faces_are_graded_apart() -> None:
    knot = Defect("k", DefectKind.SOUND_KNOT, rectangle(54 * INCH, 0, 90 * INCH, 8 * INCH), Where.BACK)
    board = Board.square_edged("1", 12 * FOOT, 8 * INCH, 27.0, defects=(knot,))
    assert grade_of(board, Face.FRONT) is FAS
    assert grade_of(board, Face.BACK) is COMMON
