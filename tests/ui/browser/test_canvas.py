"""The drawing surface by mouse, by touch and by keys, in a real browser."""

import pytest
from playwright.sync_api import Page

from layout.stock import DefectKind, Face
from tests.ui.browser.hands import (
    Server,
    dragged_by_finger,
    dragged_by_mouse,
    finger,
    on_screen,
    opened,
    settled,
    touch,
    until,
)
from tests.ui.tiny_job import PHOTO_CORNERS
from ui.changes import edit_between
from ui.face_records import FurtherPhoto
from ui.files import JobFolder
from ui.jobfile import Job
from ui.session import Ask
from ui.surface_ops import replaced_board
from vision.marks import Mark, MarkState


def marks(folder: JobFolder) -> dict[str, Mark]:
    return {mark.id: mark for mark in folder.job().board("1").marks}


def centre(mark: Mark) -> tuple[float, float]:
    xs, ys = [x for x, _ in mark.outline], [y for _, y in mark.outline]
    return (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2


def test_a_suggestion_is_tapped_and_kept_by_a_key(desk: Page, server: Server, job: str) -> None:
    folder = server.folder(job)
    opened(desk, server.step(job, "marks"), "Marks")
    desk.mouse.click(*on_screen(desk, 715, 75))
    desk.keyboard.press("k")
    until(lambda: marks(folder)["front-1"].state is MarkState.CONFIRMED)
    desk.keyboard.press("Control+z")
    until(lambda: marks(folder)["front-1"].state is MarkState.PENDING)
    desk.keyboard.press("Control+y")
    until(lambda: marks(folder)["front-1"].state is MarkState.CONFIRMED)


def test_a_mark_is_renamed(desk: Page, server: Server, job: str) -> None:
    folder = server.folder(job)
    opened(desk, server.step(job, "marks"), "Marks")
    desk.mouse.click(*on_screen(desk, 715, 75))
    desk.get_by_label("Kind").select_option("bark pocket")
    until(lambda: marks(folder)["front-1"].kind is DefectKind.BARK_POCKET)


def test_an_ellipse_is_drawn_by_mouse_where_it_was_drawn(desk: Page, server: Server, job: str) -> None:
    folder = server.folder(job)
    opened(desk, server.step(job, "marks"), "Marks")
    desk.get_by_role("button", name="Ellipse").click()
    dragged_by_mouse(desk, on_screen(desk, 200, 50), on_screen(desk, 240, 90))
    until(lambda: len(marks(folder)) == 4)
    drawn = list(marks(folder).values())[-1]
    assert centre(drawn) == pytest.approx((220, 70), abs=1.5)
    assert drawn.state is MarkState.CONFIRMED


def test_a_crack_is_two_clicks(desk: Page, server: Server, job: str) -> None:
    folder = server.folder(job)
    opened(desk, server.step(job, "marks"), "Marks")
    desk.get_by_role("button", name="Crack").click()
    desk.mouse.click(*on_screen(desk, 850, 40))
    desk.mouse.click(*on_screen(desk, 950, 44))
    until(lambda: len(marks(folder)) == 4)
    drawn = list(marks(folder).values())[-1]
    assert drawn.kind is DefectKind.CHECK
    assert centre(drawn) == pytest.approx((900, 42), abs=1.5)


def test_sapwood_is_a_band_to_the_near_edge_on_a_phone(phone: Page, server: Server, job: str) -> None:
    folder = server.folder(job)
    opened(phone, server.step(job, "marks"), "Marks")
    phone.get_by_role("button", name="Sapwood band").tap()
    phone.locator(".stage").first.scroll_into_view_if_needed()
    dragged_by_finger(phone, on_screen(phone, 100, 190), on_screen(phone, 700, 180))
    until(lambda: len(marks(folder)) == 4)
    drawn = list(marks(folder).values())[-1]
    assert drawn.kind is DefectKind.SAPWOOD
    ys = [y for _, y in drawn.outline]
    assert (min(ys), max(ys)) == (pytest.approx(180, abs=3), pytest.approx(210))


def test_two_fingers_zoom_and_draw_nothing(phone: Page, server: Server, job: str) -> None:
    folder = server.folder(job)
    opened(phone, server.step(job, "marks"), "Marks")
    phone.get_by_role("button", name="Ellipse").tap()
    phone.locator(".stage").first.scroll_into_view_if_needed()
    x, y = on_screen(phone, 500, 105)
    before = on_screen(phone, 600, 105)[1] - y
    session = touch(phone)
    finger(session, "touchStart", (x, y - 20))
    finger(session, "touchStart", (x, y - 20), (x, y + 20))
    for spread in (30, 50, 80):
        finger(session, "touchMove", (x, y - spread), (x, y + spread))
    finger(session, "touchEnd")
    after = on_screen(phone, 600, 105)[1] - on_screen(phone, 500, 105)[1]
    assert after / before == pytest.approx(4.0, rel=0.1)
    assert phone.evaluate("visualViewport.scale") == 1
    settled(phone)
    assert len(marks(folder)) == 3


def test_a_board_stands_upright_on_a_phone(phone: Page, server: Server, job: str) -> None:
    opened(phone, server.step(job, "marks"), "Marks")
    near, far = on_screen(phone, 0, 105), on_screen(phone, 1000, 105)
    assert abs(near[0] - far[0]) < 1
    assert far[1] - near[1] > 300


def test_corners_move_by_mouse_by_touch_and_by_keys(
    desk: Page, phone: Page, server: Server, job: str
) -> None:
    folder = server.folder(job)

    def corner(index: int) -> tuple[float, float]:
        front = folder.job().board("1").face(Face.FRONT)
        assert front is not None
        assert front.corners_px is not None
        return front.corners_px[index]

    opened(desk, server.step(job, "boards"), "Boards")
    dragged_by_mouse(desk, on_screen(desk, *PHOTO_CORNERS[0]), on_screen(desk, 180, 330))
    until(lambda: corner(0) != PHOTO_CORNERS[0])
    assert corner(0) == pytest.approx((180, 330), abs=2)
    desk.get_by_role("button", name="corner handle: far end, datum edge").focus()
    for _ in range(5):
        desk.keyboard.press("Shift+ArrowLeft")
    until(lambda: corner(1)[0] < PHOTO_CORNERS[1][0] - 49)
    assert corner(1) == pytest.approx((PHOTO_CORNERS[1][0] - 50, PHOTO_CORNERS[1][1]))

    opened(phone, server.step(job, "boards"), "Boards")
    phone.locator(".stage").first.scroll_into_view_if_needed()
    start = on_screen(phone, *PHOTO_CORNERS[2])
    session = touch(phone)
    finger(session, "touchStart", start)
    finger(session, "touchMove", (start[0] - 10, start[1] - 12))
    assert phone.locator(".glass").first.is_visible()
    finger(session, "touchEnd")
    until(lambda: corner(2) != PHOTO_CORNERS[2])
    assert phone.locator(".glass").first.is_hidden()


def test_a_part_is_dragged_locked_and_marked_as_cut(desk: Page, server: Server, job: str) -> None:
    folder = server.folder(job)

    def slat() -> tuple[float, float, bool, bool]:
        layout = folder.job().layout
        assert layout is not None
        item = next(item for item in layout.placements if item.part == "slat")
        return item.x, item.y, item.locked, item.cut

    opened(desk, server.step(job, "layout"), "Layout")
    desk.locator(".stage").first.scroll_into_view_if_needed()
    dragged_by_mouse(desk, on_screen(desk, 200, 170), on_screen(desk, 640, 172))
    until(lambda: slat()[0] > 400)
    assert slat()[:3] == (pytest.approx(460, abs=2), pytest.approx(139, abs=2), True)
    settled(desk)
    desk.reload()  # a view built anew knows what was picked
    settled(desk)
    desk.get_by_role("button", name="Mark as cut").click()
    until(lambda: slat()[3])


def test_a_part_can_not_be_dragged_into_a_fault(desk: Page, server: Server, job: str) -> None:
    opened(desk, server.step(job, "layout"), "Layout")
    desk.locator(".stage").first.scroll_into_view_if_needed()
    dragged_by_mouse(desk, on_screen(desk, 200, 100), on_screen(desk, 400, 100))
    desk.get_by_text("can't lie there").wait_for()
    layout = server.folder(job).job().layout
    assert layout is not None
    assert [item.x for item in layout.placements] == [20, 20, 20]


def test_a_tick_is_tapped_and_its_reading_typed(desk: Page, server: Server, job: str) -> None:
    folder = server.folder(job)
    opened(desk, server.step(job, "boards"), "Boards")
    desk.get_by_role("button", name="Add a tick").click()
    desk.mouse.click(*on_screen(desk, 800, 430))
    desk.get_by_label("tape reading at the tick").fill("512")
    desk.get_by_role("button", name="Keep the tick").click()

    def ticks() -> list[tuple[tuple[float, float], float]]:
        front = folder.job().board("1").front
        return [(tick.at_px, tick.reading) for tick in front.ticks] if front else []

    until(lambda: bool(ticks()))
    ((place, reading),) = ticks()
    assert place == pytest.approx((800, 430), abs=2)
    assert reading == 512
    settled(desk)
    assert desk.get_by_role("textbox", name="Tick 1 reads").input_value() == "512"


def test_a_further_photo_of_a_long_board_does_not_claim_the_datum_end(
    desk: Page, server: Server, job: str
) -> None:
    """Its near end is where the photo cuts the board off."""
    folder = server.folder(job)

    def longer(job: Job) -> Job:
        board = job.board("1")
        front = board.face(Face.FRONT)
        assert front is not None
        assert front.photo is not None
        more = (FurtherPhoto(photo=front.photo, corners_px=front.corners_px),)
        return replaced_board(
            job, board.model_copy(update={"front": front.model_copy(update={"further": more})})
        )

    folder.take(lambda _: (Ask("", 0, lambda job: edit_between(job, longer(job), "a further photo")),))
    opened(desk, server.step(job, "boards"), "Boards")
    desk.get_by_role("button", name="corner handle: datum end, datum edge").wait_for()
    desk.get_by_role("radiogroup", name="Photo of this face").get_by_text("2", exact=True).click()
    desk.get_by_role("button", name="corner handle: near end, datum edge").wait_for()
    assert desk.locator("text.flag").first.text_content() == "nearer the datum end"
