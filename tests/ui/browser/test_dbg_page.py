import signal, time
from tests.ui.browser.hands import *
from tests.ui.tiny_job import tiny_job_folder
from ui.jobfile import job_from
def test_dbg(chromium, tmp_path):
    folder = tiny_job_folder(tmp_path / "jobs" / "tiny")
    server = started(tmp_path, folder.path); port=int(server.url.rsplit(":",1)[1])
    ctx=chromium.new_context(**DESK); page=ctx.new_page()
    page.on("pageerror", lambda e: print("PAGEERROR", e)); page.on("console", lambda m: print("CONSOLE", m.type, m.text[:200]))
    opened(page, server.step("tiny","marks"), "Marks")
    def told():
        return page.evaluate("""() => [...document.querySelectorAll('*')].filter((node) => node.shadowRoot).map((node) => node.shadowRoot.querySelector('.clearface')).filter(Boolean).map((t) => JSON.stringify(t.dataset)+' '+t.querySelectorAll('[role=button]').length)""")
    stopped(server, signal.SIGKILL); print("killed", told())
    for n in range(2):
        page.get_by_role("button", name="Ellipse").click()
        x=30+33*n
        dragged_by_mouse(page, on_screen(page,x,12), on_screen(page,x+24,32)); print("drawn",told())
    page.screenshot(path="/tmp/cf/robust/a.png")
    server=started(tmp_path, folder.path, port=port)
    for n in range(8):
        time.sleep(4); print(n, told(), len(job_from((folder.path/"job.json").read_bytes()).board("1").marks))
    page.screenshot(path="/tmp/cf/robust/b.png")
    print(server.log.read_text()[-1500:])
    stopped(server)
