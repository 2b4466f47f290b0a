"""One whole job, from a photograph to the sheets, at a desk and on a phone; every tap counted."""

import zipfile
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page

from tests.builders import tiny_parts, tiny_shop
from tests.ui.browser.hands import REPOSITORY, Server, opened, own_name, settled, until
from tests.ui.browser.test_access import grave
from ui.files import JobFolder
from ui.jobfile import Job
from vision.marks import MarkState

PHOTO = REPOSITORY / "samples" / "bedside_cabinets" / "photos" / "1-front.jpg"
LENGTH, WIDTH = "2050", "290"  # what the sample's tape says of board 1
MOST_TAPS = 12


@dataclass
class Hand:
    """Counts what a hand does."""

    page: Page
    taps: int = 0

    def tap(self, what: Locator) -> None:
        self.taps += 1
        what.scroll_into_view_if_needed()
        if self.page.evaluate("navigator.maxTouchPoints > 0"):
            what.tap()
        else:
            what.click()

    def type_into(self, what: Locator, text: str) -> None:
        """A tap into the field and the typing; leaving it is the next tap."""
        self.tap(what)
        what.fill(text)

    def go(self, step: str) -> None:
        """By the step's link."""
        self.tap(self.page.get_by_role("link", name=step, exact=True))
        self.page.get_by_role("heading", name=step, level=1, exact=True).wait_for()
        settled(self.page)


@pytest.mark.parametrize("size", ["desk", "phone"])
def test_from_a_photo_to_the_sheets(
    size: str, server: Server, request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    page: Page = request.getfixturevalue(size)
    name = own_name(request.node)
    parts = Job(name="One board", parts=tiny_parts(), settings=tiny_shop())
    folder = JobFolder.created(server.data / "jobs" / name, parts)
    opened(page, server.step(name, "boards"), "Boards")
    hand = Hand(page)

    with page.expect_file_chooser() as chooser:
        hand.tap(page.get_by_role("button", name="Upload").and_(page.locator("button")))
    chooser.value.set_files(PHOTO)
    page.get_by_label("Taped length, mm").wait_for()
    hand.type_into(page.get_by_label("Taped length, mm"), LENGTH)
    hand.type_into(page.get_by_label("Taped width, mm"), WIDTH)
    hand.tap(page.get_by_role("button", name="Put it on the board"))
    page.get_by_text("True to scale.").wait_for(timeout=60_000)
    settled(page)

    hand.go("Marks")
    hand.tap(page.get_by_role("button", name="Keep all"))
    until(lambda: any(mark.state is MarkState.CONFIRMED for mark in folder.job().board("1").marks))
    settled(page)

    hand.go("Layout")
    hand.tap(page.get_by_role("button", name="Lay the parts out"))
    page.get_by_text("of 3").first.wait_for(timeout=60_000)
    until(lambda: folder.job().layout is not None, 60)
    assert hand.taps <= MOST_TAPS, f"{hand.taps} taps from the photo to the layout"
    to_layout = hand.taps
    page.get_by_text("finds nothing wrong").wait_for(timeout=60_000)
    settled(page)

    hand.go("Sheets")
    hand.tap(page.get_by_role("button", name="Make the sheets"))
    save = page.get_by_role("button", name="Save everything (ZIP)")
    save.wait_for(timeout=90_000)
    board = page.get_by_role("img", name="board 1, front, marked up")
    board.scroll_into_view_if_needed()
    page.wait_for_function("node => node.complete && node.naturalWidth > 1000", arg=board.element_handle())
    stands = board.evaluate(
        "node => [node.naturalHeight > node.naturalWidth, node.currentSrc.includes('upright')]"
    )
    assert stands == [size == "phone", size == "phone"]
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
    assert grave(page) == []
    with page.expect_download() as download:
        hand.tap(save)
    saved = tmp_path / "sheets.zip"
    download.value.save_as(saved)
    with zipfile.ZipFile(saved) as packed:
        names = packed.namelist()
        assert packed.testzip() is None
    assert {"parts.csv", "cuts.csv", "board-1-front.png"} <= set(names)
    layout = folder.job().layout
    assert layout is not None
    assert len(layout.placements) + len(layout.unplaced) == 3
    assert to_layout == 8, "the count that the README gives"
