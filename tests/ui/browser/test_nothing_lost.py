"""A refresh, a second window, a killed server: nothing is lost and nothing overwritten."""

import signal
from pathlib import Path

from playwright.sync_api import Browser, Page

from tests.ui.browser.hands import (
    DESK,
    Server,
    dragged_by_mouse,
    on_screen,
    opened,
    settled,
    started,
    stopped,
    until,
)
from tests.ui.tiny_job import tiny_job_folder
from ui.files import JobFolder
from vision.marks import MarkState


def states(folder: JobFolder) -> dict[str, MarkState]:
    return {mark.id: mark.state for mark in folder.job().board("1").marks}


def test_a_refresh_shows_what_is_on_disk(desk: Page, server: Server, job: str) -> None:
    opened(desk, server.step(job, "marks"), "Marks")
    desk.get_by_role("button", name="Ellipse").click()
    dragged_by_mouse(desk, on_screen(desk, 200, 50), on_screen(desk, 240, 90))
    desk.get_by_role("button", name="sound knot, kept, at 220 mm").wait_for()
    settled(desk)
    desk.reload()
    desk.get_by_role("button", name="sound knot, kept, at 220 mm").wait_for()
    desk.get_by_role("button", name="Undo").first.click()
    until(lambda: len(states(server.folder(job))) == 3)


def test_quick_edits_all_arrive_once_and_in_order(desk: Page, server: Server, job: str) -> None:
    folder = server.folder(job)
    opened(desk, server.step(job, "marks"), "Marks")
    before = folder.job().revision
    for number in range(6):
        desk.get_by_role("button", name="Ellipse").click()
        x = 60 + 50 * number
        dragged_by_mouse(desk, on_screen(desk, x, 20), on_screen(desk, x + 24, 44))
    until(lambda: len(states(folder)) == 9)
    settled(desk)
    drawn = [mark for mark in folder.job().board("1").marks if mark.id.startswith("drawn")]
    xs = [min(x for x, _ in mark.outline) for mark in drawn]
    assert xs == sorted(xs)
    assert folder.job().revision == before + 6


def test_two_windows_on_one_job_both_count(desk: Page, server: Server, job: str) -> None:
    folder = server.folder(job)
    opened(desk, server.step(job, "list"), "Cutting list")
    other = desk.context.new_page()
    opened(other, server.step(job, "list"), "Cutting list")
    first, second = desk.get_by_label("Width of rail"), other.get_by_label("Length of slat")
    first.fill("62")
    first.press("Tab")
    second.fill("390")
    second.press("Tab")
    until(lambda: (folder.job().parts[0].width, folder.job().parts[1].length) == (62, 390))
    other.close()


def test_a_killed_server_loses_nothing(chromium: Browser, tmp_path: Path) -> None:
    folder = tiny_job_folder(tmp_path / "jobs" / "tiny")
    server = started(tmp_path, folder.path)
    context = chromium.new_context(**DESK)
    page = context.new_page()
    try:
        opened(page, server.step("tiny", "marks"), "Marks")
        page.mouse.click(*on_screen(page, 715, 75))
        page.keyboard.press("k")
        until(lambda: states(folder)["front-1"] is MarkState.CONFIRMED)
        stopped(server, signal.SIGKILL)
        # the window draws on while nobody answers, and sends it when somebody does
        page.get_by_role("button", name="Ellipse").click()
        dragged_by_mouse(page, on_screen(page, 200, 50), on_screen(page, 240, 90))
        again = started(tmp_path, folder.path, port=int(server.url.rsplit(":", 1)[1]))
        try:
            until(lambda: len(states(folder)) == 4, 40)
            assert states(folder)["front-1"] is MarkState.CONFIRMED
            assert folder.job().revision == 2
        finally:
            stopped(again)
    finally:
        context.close()
        stopped(server)
