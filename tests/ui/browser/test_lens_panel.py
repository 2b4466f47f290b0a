"""The phone's lens learnt on the page, from the photographs of a real one.

Source: Debian's package ``opencv-doc``; see ``tests/truth/test_against_opencv_chessboard.py``.
"""

import pytest
from playwright.sync_api import Page

from tests.truth.test_against_opencv_chessboard import COLUMNS, PHOTOS, ROWS
from tests.ui.browser.hands import Server, opened, settled, until


@pytest.mark.skipif(len(PHOTOS) < 10, reason="Debian's opencv-doc, with its photographs, is not installed")
@pytest.mark.parametrize("size", ["desk", "phone"])
def test_the_lens_is_learnt_and_forgotten(
    size: str, server: Server, job: str, request: pytest.FixtureRequest
) -> None:
    page: Page = request.getfixturevalue(size)
    folder = server.folder(job)
    opened(page, server.step(job, "boards"), "Boards")
    page.get_by_text("The phone's lens, and the marker sheet").click()
    with page.expect_download() as download:
        page.get_by_role("button", name="Save the marker sheet to print").click()
    assert download.value.suggested_filename == "marker_sheet.pdf"
    page.get_by_label("Inner corners along a chessboard").fill(str(COLUMNS))
    page.get_by_label("Inner corners across it").fill(str(ROWS))
    panel = page.locator('[data-testid="stFileUploader"]').filter(has_text="the chessboard")
    with page.expect_file_chooser() as chooser:
        panel.locator("button").first.click()
    chooser.value.set_files(PHOTOS[:6])
    page.get_by_role("button", name="Learn the lens").click()
    until(lambda: folder.job().lens is not None, 60)
    settled(page)
    lens = folder.job().lens
    assert lens is not None
    assert lens.size_px == (640, 480)
    page.get_by_text("The lens is learnt.").wait_for()
    if page.get_by_text("The lens is known for photos of 640 x 480 pixels.").is_hidden():
        page.get_by_text("The phone's lens, and the marker sheet").click()
    page.get_by_text("The lens is known for photos of 640 x 480 pixels.").wait_for()
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
    page.get_by_role("button", name="Forget the lens").click()
    until(lambda: folder.job().lens is None)


@pytest.mark.skipif(len(PHOTOS) < 10, reason="Debian's opencv-doc, with its photographs, is not installed")
def test_photographs_without_a_chessboard_teach_nothing_and_say_why(
    desk: Page, server: Server, job: str
) -> None:
    opened(desk, server.step(job, "boards"), "Boards")
    desk.get_by_text("The phone's lens, and the marker sheet").click()
    desk.get_by_label("Inner corners along a chessboard").fill("12")
    panel = desk.locator('[data-testid="stFileUploader"]').filter(has_text="the chessboard")
    with desk.expect_file_chooser() as chooser:
        panel.locator("button").first.click()
    chooser.value.set_files(PHOTOS[:3])
    desk.get_by_role("button", name="Learn the lens").click()
    desk.get_by_text("in 0 of 3 pictures").first.wait_for()
    assert server.folder(job).job().lens is None
