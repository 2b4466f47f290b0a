"""For everybody: no serious finding of axe-core on any step, at both sizes, and no sideways scroll."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from tests.ui.browser.hands import Server, on_screen, opened

STEPS = [
    ("", "Tiny"),
    ("list", "Cutting list"),
    ("boards", "Boards"),
    ("marks", "Marks"),
    ("layout", "Layout"),
    ("sheets", "Sheets"),
]
GRAVE = ("serious", "critical")


def grave(page: Page) -> list[str]:
    """What axe-core finds serious, with the place."""
    found = Axe().run(page).response["violations"]
    return [
        f"{one['impact']} {one['id']}: {one['nodes'][0]['target']} {one['nodes'][0]['failureSummary']}"
        for one in found
        if one["impact"] in GRAVE
    ]


@pytest.mark.parametrize(("step", "title"), STEPS)
def test_nobody_is_shut_out_at_a_desk(desk: Page, server: Server, step: str, title: str) -> None:
    opened(desk, server.step("tiny", step), title)
    if step in ("marks", "layout"):
        desk.mouse.click(*on_screen(desk, *((715, 75) if step == "marks" else (200, 35))))
    assert grave(desk) == []


@pytest.mark.parametrize(("step", "title"), STEPS)
def test_nobody_is_shut_out_on_a_phone(phone: Page, server: Server, step: str, title: str) -> None:
    opened(phone, server.step("tiny", step), title)
    wide = phone.evaluate("[document.documentElement.scrollWidth, innerWidth]")
    assert wide[0] <= wide[1]
    inner = phone.locator('[data-testid="stMain"]').evaluate("(node) => [node.scrollWidth, node.clientWidth]")
    assert inner[0] <= inner[1]
    assert grave(phone) == []


def test_the_check_can_fail(desk: Page) -> None:
    desk.set_content("<html lang='en'><title>t</title><main><h1>t</h1><img src='x.png'></main></html>")
    assert any("image-alt" in one for one in grave(desk))
