"""The page's server killed while a maker draws: every mark he drew is on disk in the end, once, in order."""

import random
import signal
import threading
from pathlib import Path

import pytest
from playwright.sync_api import Browser, TimeoutError

from tests.ui.browser.hands import DESK, dragged_by_mouse, on_screen, opened, settled, started, stopped, until
from tests.ui.tiny_job import tiny_job_folder
from ui.disk import PART
from ui.jobfile import job_from


@pytest.mark.soak
def test_a_server_killed_again_and_again(chromium: Browser, tmp_path: Path) -> None:
    kills, chance = 20, random.Random(91)
    folder = tiny_job_folder(tmp_path / "jobs" / "tiny")
    server = started(tmp_path, folder.path)
    port = int(server.url.rsplit(":", 1)[1])
    context = chromium.new_context(**DESK)
    page = context.new_page()
    drawn = 0
    seen: set[str] = set()

    def on_disk() -> list[str]:
        marks = job_from((folder.path / "job.json").read_bytes()).board("1").marks
        return [mark.id for mark in marks if mark.id.startswith("drawn")]

    try:
        opened(page, server.step("tiny", "marks"), "Marks")
        shapes = page.locator('.stage [role="button"][aria-label*="kept, at"]')
        before = shapes.count()
        for kill in range(kills):
            hand = threading.Timer(chance.uniform(0.0, 0.8), stopped, (server, signal.SIGKILL))
            hand.start()
            for _ in range(chance.randint(1, 4)):
                x, y = 30 + 33.0 * (drawn % 28), 12 + 30.0 * (drawn // 28 % 6)
                try:
                    page.get_by_role("button", name="Ellipse").click(timeout=3000)
                except TimeoutError:
                    break  # the browser says by now that nobody answers, and lets nobody draw
                dragged_by_mouse(page, on_screen(page, x, y), on_screen(page, x + 24, y + 20))
                drawn = shapes.count() - before
            hand.join()
            kept = on_disk()
            assert seen <= set(kept), f"kill {kill}: a mark that was on disk is gone"
            server = started(tmp_path, folder.path, port=port)
            wanted = drawn
            until(lambda wanted=wanted: len(on_disk()) == wanted, 90)  # type: ignore[misc]
            seen = set(on_disk())
            assert len(seen) == drawn
            settled(page)
    finally:
        context.close()
        stopped(server)
    xs = [min(x for x, _ in mark.outline) for mark in folder.job().board("1").marks if mark.id in seen]
    assert len(xs) == drawn >= kills // 2
    assert len(list(folder.path.rglob(f".*{PART}"))) <= kills
