"""Nothing leaves the maker's machine: the page asks its own server and nobody else."""

from urllib.parse import urlsplit

from playwright.sync_api import Page

from tests.ui.browser.hands import Server, opened
from ui.changes import edit_between

LURE = "![x](http://elsewhere.invalid/x.png)"
STEPS = [("list", "Cutting list"), ("boards", "Boards"), ("marks", "Marks"), ("layout", "Layout")]


def test_every_request_goes_to_the_page_s_own_server(desk: Page, server: Server, job: str) -> None:
    folder = server.folder(job)
    now = folder.job()
    folder.do(edit_between(now, now.model_copy(update={"name": LURE}), "rename"))
    asked: set[str] = set()
    desk.on("request", lambda request: asked.add(urlsplit(request.url).netloc))
    for step, title in STEPS:
        opened(desk, server.step(job, step), title)
    assert asked - {""} == {urlsplit(server.url).netloc}


def test_the_browser_would_stop_any_other(desk: Page, server: Server, job: str) -> None:
    opened(desk, server.step(job, "marks"), "Marks")
    told = desk.evaluate(
        """() => new Promise((done) => {
          const image = new Image();
          document.addEventListener('securitypolicyviolation', (event) => done(event.violatedDirective));
          image.src = 'http://elsewhere.invalid/x.png';
          setTimeout(() => done('nothing stopped it'), 4000);
        })"""
    )
    assert told == "img-src"
