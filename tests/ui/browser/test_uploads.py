"""What a maker gives the page by mistake: too large, or nothing. One sentence each, and the page goes on."""

import http.client
from pathlib import Path
from urllib.parse import urlsplit

from playwright.sync_api import Page

from tests.ui.browser.hands import Server, opened, until
from tests.ui.tiny_job import photo_of_a_board


def sparse(path: Path, size: int) -> Path:
    with path.open("wb") as file:
        file.truncate(size)
    return path


def test_a_file_too_large_is_named_with_what_may_be_given(
    desk: Page, server: Server, job: str, tmp_path: Path
) -> None:
    opened(desk, server.step(job, "boards"), "Boards")
    panel = desk.locator('[data-testid="stFileUploader"]').filter(has_text="as many as you like").first
    with desk.expect_file_chooser() as chooser:
        panel.locator("button").first.click()
    chooser.value.set_files(sparse(tmp_path / "huge.jpg", 61_000_000))
    reason = desk.get_by_text("File must be 60.0MB or smaller.").first
    reason.wait_for()
    box = reason.bounding_box()
    assert box is not None
    assert box["width"] > 150  # for eyes too: a phone has no tooltips
    # The page takes the next one.
    (tmp_path / "board.jpg").write_bytes(photo_of_a_board())
    panel.locator("input[type=file]").set_input_files(tmp_path / "board.jpg")
    until(lambda: len(server.folder(job).job().loose) == 1, 30)


def test_what_comes_round_the_page_is_refused_before_it_is_read(server: Server, job: str) -> None:
    """A window that is not open may give nothing, of whatever size."""
    opened_at = urlsplit(server.url)
    for size in (10, 400_000_000):
        line = http.client.HTTPConnection(opened_at.hostname or "", opened_at.port, timeout=20)
        line.putrequest("PUT", "/_stcore/upload_file/no-such-window/some-file")
        line.putheader("Content-Type", "multipart/form-data; boundary=x")
        line.putheader("Content-Length", str(size))
        line.endheaders()
        line.send(b"--x\r\n")
        answer = line.getresponse()
        assert answer.status == 403
        line.close()
