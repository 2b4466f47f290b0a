"""How a waney board's back lies beyond its front: typed, said again, and what it changes."""

from dataclasses import replace

import pytest

from layout.outline import rectangle
from layout.stock import DefectKind, Face, Turn, Where
from ui.back_edge import back_edge_from, back_edge_text
from ui.board_fields import back_edge_typed, turned_typed
from ui.board_frame import other_face, point_in_board_frame, reframed
from ui.face_records import FaceRecord, Place, Tick
from ui.further import place_added, place_named_anew, tick_added
from ui.jobfile import BoardRecord, Job, JobError, job_from, job_json
from vision.marks import Mark, Origin

LENGTH = 1500.0


@pytest.mark.parametrize(
    ("text", "units", "found"),
    [
        ("12 out / 8 under", "mm", ((0.0, 12.0), (LENGTH, -8.0))),
        ("+12/-8", "mm", ((0.0, 12.0), (LENGTH, -8.0))),
        ("3 under at 900 / 1 out at 0", "mm", ((0.0, 1.0), (900.0, -3.0))),
        ("5 out", "mm", ((0.0, 5.0),)),
        ("0", "mm", ((0.0, 0.0),)),
        (" ", "mm", ()),
        ('1/4 out ; 1/2" under', "inch", ((0.0, 6.35), (LENGTH, -12.7))),
    ],
)
def test_as_a_maker_types_it_and_as_it_is_said_again(text: str, units: str, found: object) -> None:
    assert back_edge_from(text, LENGTH, units) == found  # type: ignore[arg-type]
    said = back_edge_text(found, LENGTH, units)  # type: ignore[arg-type]
    assert back_edge_from(said, LENGTH, units) == found  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("12", "does not say which way; write 12 out, or 12 under"),
        ("+ 5 under", "says two things"),
        ("x out", "is not a length"),
        ("3 out at 9000", "is not on the board"),
        ("3 out at 0 / 4 out at 0", "two readings stand at one place"),
        ("900 out", "is too far"),
    ],
)
def test_what_says_nothing_sure_is_refused(text: str, why: str) -> None:
    with pytest.raises(ValueError, match=why):
        back_edge_from(text, LENGTH)


def face(top: float, bottom: float, **more: object) -> FaceRecord:
    """A face at true scale, off by 2 mm along and 0.5 across."""
    return FaceRecord(
        photo="photos/a.jpg",
        picture="pictures/a.jpg",
        px_per_mm=1.0,
        error_mm=2.1,
        error_along=((0.0, 2.0, 0.5), (LENGTH, 1.0, 0.4)),
        outline_mm=rectangle(0, top, LENGTH, bottom),
        outline_found=True,
        **more,  # type: ignore[arg-type]
    )


def board(**more: object) -> BoardRecord:
    """A waney board whose back is narrower, and known to 6 mm of how it lies over the front."""
    faces = {"front": face(0, 200), "back": face(20, 190, apart_mm=6.0)}
    return BoardRecord(id="1", length=LENGTH, widths=((0, 200),), thickness=34, waney=True, **(faces | more))


def test_how_the_faces_lie_counts_in_the_error_of_the_face_not_marked_on() -> None:
    made = board().board()
    assert made.marked_on is Face.BACK
    assert (made.off_on(Face.BACK), made.off_on(Face.FRONT)) == ((2.0, 0.5), (2.0, 6.5))
    sure = board(back=face(20, 190)).board()
    assert sure.marked_on is None
    assert sure.off_on(Face.FRONT) == sure.off_on(Face.BACK) == (2.0, 0.5)


def test_a_waney_board_of_an_older_job_is_as_sure_as_its_worse_face_on_both() -> None:
    made = board(back=face(20, 190).model_copy(update={"error_along": ((0.0, 1.0, 14.0),)})).board()
    assert made.marked_on is None
    assert made.off_on(Face.FRONT) == made.off_on(Face.BACK) == (2.0, 2.1)


def test_a_face_without_a_picture_is_as_unsure_as_the_other() -> None:
    assert board(back=None).board().off_on(Face.BACK) == (2.0, 0.5)


def test_a_reading_makes_only_the_face_that_it_lays_anew() -> None:
    job = Job(name="one", boards=(board(),))
    typed = back_edge_typed(job.boards[0], "12 under / 8 under", job)
    assert typed.back_edge == ((0.0, -12.0), (LENGTH, -8.0))
    assert (typed.front and typed.front.picture) == "pictures/a.jpg"
    assert typed.back is not None
    assert (typed.back.picture, typed.back.apart_mm) == (None, None)
    assert job_from(job_json(Job(name="one", boards=(typed,)))).boards[0].back_edge == typed.back_edge


def test_the_other_face_is_said_as_it_is_seen_from_this_one() -> None:
    hole = Place(name="A", at_px=(10, 10), at_mm=(300.0, 60.0))
    nail = Place(name="a", at_px=(5, 5))
    read = board(
        front=face(0, 200, places=(hole,)),
        back=face(20, 190, places=(nail,)),
        back_edge=((0, -12), (300, -8)),
    )
    back = other_face(read, Face.BACK)
    assert back is not None
    assert back.on_lower
    assert back.out_mm == ((0, -12), (300, -8))
    assert [(one.at_px, one.other_mm) for one in back.same] == [((5, 5), (300.0, 140.0))]
    front = other_face(read, Face.FRONT)
    assert front is not None
    assert not front.on_lower
    assert front.out_mm == ((0, 12), (300, 8))
    assert front.same == ()  # the back does not know yet where its own lies
    wider = reframed(read, 210.0).front
    assert wider is not None
    assert wider.places[0].at_mm == (300.0, 65.0)


def test_a_place_is_named_and_a_tick_is_read() -> None:
    job = Job(name="one", boards=(board(),))
    after = place_added(job, "1", Face.BACK, 0, (40.0, 50.0), "hole A")
    after = tick_added(after, "1", Face.BACK, 0, (90.0, 50.0), "700")
    known = after.boards[0].back
    assert known is not None
    assert known.places == (Place(name="hole A", at_px=(40.0, 50.0)),)
    assert known.ticks == (Tick(at_px=(90.0, 50.0), reading=700.0),)
    with pytest.raises(JobError, match="marked on this face already"):
        place_added(after, "1", Face.BACK, 0, (1.0, 1.0), "Hole a")
    called = place_named_anew(after, "1", Face.BACK, 0, 0, "B")
    assert called.boards[0].back.places[0].name == "B"  # type: ignore[union-attr]
    assert place_named_anew(called, "1", Face.BACK, 0, 0, " ").boards[0].back.places == ()  # type: ignore[union-attr]
    with pytest.raises(JobError, match="give a letter or a word"):
        place_named_anew(after, "1", Face.BACK, 0, 0, "7")


def test_a_turn_put_right_leaves_the_back_as_its_picture_shows_it() -> None:
    knot = Mark("k", DefectKind.SOUND_KNOT, rectangle(100, 30, 140, 60), Where.BACK, 1.0, Origin.DRAWN)
    nail = Place(name="A", at_px=(5, 5), at_mm=(300.0, 60.0))
    said = board(back=face(20, 190, places=(nail,)), marks=(knot, replace(knot, id="f", where=Where.FRONT)))
    job = Job(name="one", boards=(said,))
    now = turned_typed(said, "tumbled", job)
    assert now.back is not None
    assert now.turned is Turn.TUMBLED
    assert point_in_board_frame((100.0, 140.0), now, Face.BACK) == (1400.0, 140.0)
    assert set(now.marks[0].outline) == {(1400, 170), (1360, 170), (1360, 140), (1400, 140)}
    assert now.marks[1].outline == said.marks[1].outline
    assert now.back.places[0].at_mm == (1200.0, 140.0)
    assert now.back.picture is None  # its widths were read from the other end
    seen_before, seen_now = (
        point_in_board_frame(one.marks[0].outline[0], one, Face.BACK) for one in (said, now)
    )
    assert seen_before in [point_in_board_frame(corner, now, Face.BACK) for corner in now.marks[0].outline], (
        seen_now
    )
    again = turned_typed(now, "rolled", job)
    assert again.marks == said.marks
    assert turned_typed(said, "rolled", job) is said


def test_the_back_of_a_square_board_of_one_width_keeps_its_picture_when_its_turn_is_put_right() -> None:
    said = board().model_copy(update={"waney": False})
    now = turned_typed(said, "tumbled", Job(name="one", boards=(said,)))
    assert now.back is not None
    assert now.back.picture == "pictures/a.jpg"
