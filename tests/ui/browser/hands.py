"""A server of its own, and hands for a page: mouse, fingers, patience."""

import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import CDPSession, Page

from ui.files import JobFolder

REPOSITORY = Path(__file__).resolve().parents[3]
DESK = {"viewport": {"width": 1280, "height": 900}}
PHONE = {
    "viewport": {"width": 390, "height": 844},
    "has_touch": True,
    "is_mobile": True,
    "device_scale_factor": 2,
}


LATE = "it did not come to hold in time"


def own_name(test: pytest.Item) -> str:
    """A name for a job of this test, another one when it is tried again."""
    name = test.name.replace("[", "-").replace("]", "").replace("_", "-")[:60].strip("-")
    tried = getattr(test, "execution_count", 1)
    return name if tried < 2 else f"{name}-{tried}"


@dataclass
class Server:
    """A running page.

    Parameters
    ----------
    url : str
        Without a path.
    data : Path
        Where it keeps its jobs.
    """

    url: str
    data: Path
    process: subprocess.Popen[bytes]
    log: Path

    def folder(self, job: str) -> JobFolder:
        return JobFolder(self.data / "jobs" / job)

    def step(self, job: str, step: str = "") -> str:
        return f"{self.url}/{step}?job={job}"


def started(data: Path, job: Path, *more: str, port: int | None = None) -> Server:
    """A server of its own, healthy."""
    port = port or free_port()
    log = data / f"server-{port}-{time.monotonic_ns()}.log"
    environment = os.environ | {"CLEARFACE_DATA": str(data), "OMP_NUM_THREADS": "1"}
    with log.open("wb") as out:
        process = subprocess.Popen(
            [sys.executable, "-m", "ui", "open", str(job), "--no-browser", "--port", str(port), *more],
            cwd=REPOSITORY,
            env=environment,
            stdin=subprocess.DEVNULL,
            stdout=out,
            stderr=subprocess.STDOUT,
            start_new_session=True,
        )
    server = Server(f"http://127.0.0.1:{port}", data, process, log)
    deadline = time.monotonic() + 60
    while time.monotonic() < deadline:
        if process.poll() is not None:
            pytest.fail(f"the server stopped: {log.read_text()}")
        try:
            with urllib.request.urlopen(f"{server.url}/_stcore/health", timeout=2):
                return server
        except urllib.error.HTTPError:
            return server  # gated: it answers
        except OSError:
            time.sleep(0.1)
    stopped(server)
    pytest.fail(f"the server did not answer: {log.read_text()}")


def stopped(server: Server, how: signal.Signals = signal.SIGTERM) -> None:
    """End a server and all it started."""
    if server.process.poll() is None:
        os.killpg(server.process.pid, how)
        try:
            server.process.wait(8)
        except subprocess.TimeoutExpired:
            os.killpg(server.process.pid, signal.SIGKILL)
            server.process.wait(8)


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def settled(page: Page) -> None:
    """Wait until the script has run and every edit is answered."""
    page.wait_for_selector('[data-testid="stApp"][data-test-script-state="notRunning"]')
    page.wait_for_function(
        """() => [...document.querySelectorAll('*')].filter((node) => node.shadowRoot)
          .map((node) => node.shadowRoot.querySelector('.clearface')).filter(Boolean)
          .every((told) => told.dataset.ready && told.dataset.pending === '0')"""
    )


def opened(page: Page, address: str, title: str) -> Page:
    """The page at an address, its step shown."""
    page.goto(address)
    page.get_by_role("heading", name=title, level=1).wait_for()
    settled(page)
    return page


def until(holds: Callable[[], bool], seconds: float = 20.0) -> None:
    """Wait for something on disk."""
    deadline = time.monotonic() + seconds
    while not holds():
        assert time.monotonic() < deadline, LATE
        time.sleep(0.03)


def touch(page: Page) -> CDPSession:
    return page.context.new_cdp_session(page)


def finger(session: CDPSession, kind: str, *points: tuple[float, float]) -> None:
    touches = [{"x": x, "y": y, "id": number} for number, (x, y) in enumerate(points)]
    session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": touches})


def dragged_by_finger(
    page: Page, start: tuple[float, float], end: tuple[float, float], steps: int = 6
) -> None:
    """One finger put down, moved and lifted."""
    session = touch(page)
    finger(session, "touchStart", start)
    for step in range(1, steps + 1):
        share = step / steps
        finger(
            session,
            "touchMove",
            (start[0] + (end[0] - start[0]) * share, start[1] + (end[1] - start[1]) * share),
        )
    finger(session, "touchEnd")
    session.detach()


def dragged_by_mouse(page: Page, start: tuple[float, float], end: tuple[float, float]) -> None:
    page.mouse.move(*start)
    page.mouse.down()
    page.mouse.move((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    page.mouse.move(*end)
    page.mouse.up()


def on_screen(page: Page, x: float, y: float) -> tuple[float, float]:
    """Where a point of the drawing surface's world lies on the screen."""
    found = page.locator(".stage svg").first.evaluate(
        """(svg, [x, y]) => {
          const matrix = svg.querySelector('g').transform.baseVal.consolidate().matrix;
          const box = svg.getBoundingClientRect();
          return [box.left + matrix.a * x + matrix.c * y + matrix.e,
                  box.top + matrix.b * x + matrix.d * y + matrix.f];
        }""",
        [x, y],
    )
    return float(found[0]), float(found[1])
