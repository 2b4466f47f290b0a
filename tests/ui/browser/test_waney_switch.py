"""A board said to be waney on the page: the switch is kept, and its picture is to be made again."""

from playwright.sync_api import Page

from tests.ui.browser.hands import Server, opened, settled, until


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
