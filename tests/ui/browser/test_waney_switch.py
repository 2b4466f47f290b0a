"""A board said to be waney on the page: the switch is kept, and its picture is to be made again."""

import pytest
from playwright.sync_api import Page

from tests.ui.browser.hands import Server, on_screen, opened, settled, until
from ui.changes import edit_between
from ui.jobfile import Job
from ui.session import Ask


def test_the_waney_switch_is_kept_and_asks_for_a_new_picture(desk: Page, server: Server, job: str) -> None:
    folder = server.folder(job)
    before = folder.job().boards[0]
    assert before.front is not None
    assert before.front.picture is not None
    opened(desk, server.step(job, "boards"), "Boards")
    desk.get_by_text("Waney edges: followed in the photo").first.click()
    until(lambda: folder.job().boards[0].waney)
    after = folder.job().boards[0].front
    assert after is not None
    assert after.picture is None
    settled(desk)
    desk.reload()
    settled(desk)
    assert desk.get_by_role("checkbox", name="Waney edges: followed in the photo").first.is_checked()
    # And back again, as a slip is put right.
    desk.get_by_text("Waney edges: followed in the photo").first.click()
    until(lambda: not folder.job().boards[0].waney)


def test_the_outline_followed_is_seen_where_faults_are_marked(desk: Page, server: Server, job: str) -> None:
    """The rim of a face is drawn over its picture."""
    ring = ((0.0, 8.0), (400.0, 0.0), (1000.0, 12.0), (1000.0, 200.0), (0.0, 210.0))

    def grown(job: Job) -> Job:
        board = job.boards[0]
        front = board.front
        assert front is not None
        front = front.model_copy(update={"outline_mm": ring, "outline_found": True})
        return job.model_copy(update={"boards": (board.model_copy(update={"front": front}), *job.boards[1:])})

    folder = server.folder(job)
    folder.take(lambda _: (Ask("", 0, lambda job: edit_between(job, grown(job), "outline")),))
    opened(desk, server.step(job, "marks"), "Marks")
    seen = desk.locator(".stage path.rim").first.bounding_box()
    assert seen is not None
    (left, top), (right, low) = on_screen(desk, 0, 0), on_screen(desk, 1000, 210)
    assert (seen["x"], seen["y"]) == pytest.approx((left, top), abs=6)  # the line's own width is in it
    assert (seen["x"] + seen["width"], seen["y"] + seen["height"]) == pytest.approx((right, low), abs=6)
