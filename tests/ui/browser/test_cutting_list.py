"""The cutting list typed and pasted in a real browser."""

import pytest
from playwright.sync_api import Page

from layout.parts import PartSide, Visibility
from tests.ui.browser.hands import Server, opened, settled, until


def test_a_part_is_typed_with_the_keyboard_alone(desk: Page, server: Server, job: str) -> None:
    folder = server.folder(job)
    opened(desk, server.step(job, "list"), "Cutting list")
    desk.get_by_placeholder("new part").focus()
    for text in ("shelf", "3", '15 3/4"', "90", "20"):
        desk.keyboard.type(text)
        desk.keyboard.press("Tab")
    until(lambda: len(folder.job().parts) == 3)
    shelf = folder.job().parts[-1]
    assert (shelf.name, shelf.quantity, shelf.width, shelf.thickness) == ("shelf", 3, 90, 20)
    assert shelf.length == pytest.approx(400.05)


def test_a_word_for_a_number_is_shown_at_its_cell_until_it_is_mended(
    desk: Page, server: Server, job: str
) -> None:
    folder = server.folder(job)
    opened(desk, server.step(job, "list"), "Cutting list")
    cell = desk.get_by_label("Width of rail")
    cell.fill("wide")
    cell.press("Tab")
    desk.get_by_text("'wide' is not a length").first.wait_for()
    assert cell.get_attribute("aria-invalid") == "true"
    assert cell.input_value() == "wide"
    assert folder.job().parts[0].width == 60
    cell.fill("64")
    cell.press("Tab")
    until(lambda: folder.job().parts[0].width == 64)
    settled(desk)
    assert cell.get_attribute("aria-invalid") is None


def test_rows_are_pasted_from_a_spreadsheet(desk: Page, server: Server, job: str) -> None:
    folder = server.folder(job)
    opened(desk, server.step(job, "list"), "Cutting list")
    desk.get_by_placeholder("new part").focus()
    desk.evaluate(
        """() => {
          const input = [...document.querySelectorAll('*')].map((n) => n.shadowRoot).filter(Boolean)
            .map((root) => root.activeElement).find(Boolean);
          const data = new DataTransfer();
          data.setData('text/plain', 'door\\t2\\t350\\t60\\t20\\npost\\t4\\t200\\tthin\\t30');
          const how = { clipboardData: data, bubbles: true, composed: true };
          input.dispatchEvent(new ClipboardEvent('paste', how));
        }"""
    )
    until(lambda: len(folder.job().parts) == 3)
    assert [row.cells["width"] for row in folder.job().unfinished] == ["thin"]
    desk.get_by_text("'thin' is not a length").first.wait_for()


def test_sides_are_tapped_on_a_phone(phone: Page, server: Server, job: str) -> None:
    folder = server.folder(job)
    opened(phone, server.step(job, "list"), "Cutting list")
    phone.get_by_role("button", name="sides of slat").tap()
    phone.get_by_role("heading", name="Sides of slat").wait_for()
    side = phone.get_by_role("button", name="back: concealed; press to change")
    settled(phone)  # what is drawn anew while it is scrolled to is gone
    side.scroll_into_view_if_needed()
    settled(phone)
    side.tap()
    until(lambda: folder.job().parts[1].visibility(PartSide.BACK) is Visibility.SHOW)
