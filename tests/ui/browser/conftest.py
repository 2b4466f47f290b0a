"""A real browser on a real server, both started once for this folder and gone after it.

The browser's player keeps an event loop running as long as it lives: tests elsewhere need theirs.
"""

import os
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from tests.ui.browser.hands import DESK, LATE, PHONE, Server, own_name, started, stopped
from tests.ui.tiny_job import tiny_job_folder

OUR_FILES = re.compile(r"\b(?:ui|layout|vision)/[a-z_/]+\.py")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """A test that waited in vain, or for what was drawn anew, is tried once more: a machine may be late.

    A wrong answer is not.
    """
    late = pytest.mark.flaky(reruns=1, only_rerun=["TimeoutError", LATE, "not attached to the DOM"])
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker(late)


@pytest.fixture(scope="package")
def chromium() -> Iterator[Browser]:
    path = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if path is None:
        if os.environ.get("CI"):
            pytest.fail("no Chromium here: the page's tests must run")
        pytest.skip("no Chromium here; install it to test the page")
    with sync_playwright() as player:
        arguments = ["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"]
        browser = player.chromium.launch(executable_path=path, args=arguments)
        yield browser
        browser.close()


@pytest.fixture(scope="package")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    data = tmp_path_factory.mktemp("page")
    tiny_job_folder(data / "jobs" / "tiny")
    running = started(data, data / "jobs" / "tiny")
    yield running
    stopped(running)
    log = running.log.read_text()
    # Streamlit itself writes one when a window goes away in the middle of a message.
    faults = [line for line in log.splitlines() if OUR_FILES.search(line)]
    assert "fault in the page" not in log, log[-3000:]
    assert faults == [], log[-3000:]


@pytest.fixture
def job(server: Server, request: pytest.FixtureRequest) -> str:
    """A tiny job of the test's own."""
    name = own_name(request.node)
    tiny_job_folder(server.data / "jobs" / name)
    return name


def _context(chromium: Browser, size: dict[str, Any]) -> Iterator[BrowserContext]:
    context = chromium.new_context(**size)
    context.set_default_timeout(30_000)
    yield context
    context.close()


@pytest.fixture(scope="package")
def desk_context(chromium: Browser) -> Iterator[BrowserContext]:
    yield from _context(chromium, DESK)


@pytest.fixture(scope="package")
def phone_context(chromium: Browser) -> Iterator[BrowserContext]:
    yield from _context(chromium, PHONE)


@pytest.fixture
def desk(desk_context: BrowserContext) -> Iterator[Page]:
    yield from _watched(desk_context)


@pytest.fixture
def phone(phone_context: BrowserContext) -> Iterator[Page]:
    yield from _watched(phone_context)


def _watched(context: BrowserContext) -> Iterator[Page]:
    page = context.new_page()
    problems: list[str] = []
    page.on("pageerror", lambda error: problems.append(str(error)))
    yield page
    page.close()
    assert problems == []
