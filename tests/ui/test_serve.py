"""The server's own doors: the key gate, and pictures of known jobs only."""

from pathlib import Path
from typing import Any

import pytest
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from streamlit import net_util
from streamlit.web.server.server_util import is_url_from_allowed_origins

from tests.ui.loops import finished
from tests.ui.tiny_job import photo_of_a_board, tiny_job_folder
from ui import serve
from ui.files import JobFolder
from ui.gate import COOKIE, KeyGate
from ui.pictures import size_of

KEY = "open-sesame"


async def _inside(scope: Any, receive: Any, send: Any) -> None:
    await PlainTextResponse("in")(scope, receive, send)


def asked(kind: str = "http", query: str = "", cookie: str = "") -> dict[str, Any]:
    """What a gated server answers: the first message it sends."""
    sent: list[dict[str, Any]] = []

    async def send(message: dict[str, Any]) -> None:
        sent.append(message)

    async def receive() -> dict[str, Any]:
        return {"type": "http.request"}

    scope = {
        "type": kind,
        "method": "GET",
        "path": "/marks",
        "query_string": query.encode(),
        "headers": [(b"host", b"bench:8501"), (b"cookie", cookie.encode())],
        "scheme": "http",
        "server": ("bench", 8501),
    }
    finished(KeyGate(_inside, KEY)(scope, receive, send))
    return sent[0]


def test_nobody_gets_in_without_the_key() -> None:
    assert asked()["status"] == 403
    assert asked(query="key=open-sesamE")["status"] == 403
    assert asked(query="key=")["status"] == 403
    assert asked(cookie=f"{COOKIE}=wrong")["status"] == 403
    assert asked(cookie=f"other={KEY}")["status"] == 403
    assert asked("websocket") == {"type": "websocket.close", "code": 4403}


def test_the_key_is_taken_once_and_kept_in_a_cookie() -> None:
    answer = asked(query=f"job=tiny&key={KEY}")
    headers = {name.decode(): value.decode() for name, value in answer["headers"]}
    assert answer["status"] == 303
    # To the same place, whatever name or path the request gave this machine.
    assert headers["location"] == "?job=tiny"
    assert f"{COOKIE}={KEY}" in headers["set-cookie"]
    assert "HttpOnly" in headers["set-cookie"]
    assert asked(cookie=f"a=b; {COOKIE}={KEY}")["status"] == 200


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> JobFolder:
    monkeypatch.setenv("CLEARFACE_DATA", str(tmp_path / "data"))
    return tiny_job_folder(tmp_path / "data" / "jobs" / "tiny")


def fetched(job: str, folder: str, name: str, query: str = "") -> Any:
    scope = {
        "type": "http",
        "method": "GET",
        "path": "/",
        "query_string": query.encode(),
        "headers": [],
        "path_params": {"job": job, "folder": folder, "name": name},
    }
    return serve._file(Request(scope))


def test_a_photo_is_served_smaller_and_without_its_place(folder: JobFolder) -> None:
    front = folder.job().board("1").front
    assert front is not None
    assert front.photo is not None
    answer = fetched("tiny", "photos", Path(front.photo).name, "size=800")
    assert answer.status_code == 200
    assert size_of(answer.body) == (800, 450)
    assert "immutable" in answer.headers["cache-control"]


def test_a_part_of_a_photo_is_served_at_full_size(folder: JobFolder) -> None:
    front = folder.job().board("1").front
    assert front is not None
    assert front.photo is not None
    answer = fetched("tiny", "photos", Path(front.photo).name, "crop=100,200,400,500")
    assert size_of(answer.body) == (300, 300)


@pytest.mark.parametrize(
    ("job", "kind", "name", "query"),
    [
        ("tiny", "photos", "..", ""),
        ("tiny", "photos", "../job.json", ""),
        ("tiny", ".", "job.json", ""),
        ("../tiny", "photos", "x.jpg", ""),
        ("other", "photos", "x.jpg", ""),
        ("tiny", "photos", "none.jpg", ""),
        ("tiny", "photos", ".lock", ""),
    ],
)
def test_nothing_else_is_served(folder: JobFolder, job: str, kind: str, name: str, query: str) -> None:
    assert fetched(job, kind, name, query).status_code == 404


@pytest.mark.parametrize("query", ["size=huge", "crop=1,2", "crop=0,0,9000,9000", "crop=a,b,c,d"])
def test_a_size_that_can_not_be_is_refused_or_left_out(folder: JobFolder, query: str) -> None:
    front = folder.job().board("1").front
    assert front is not None
    assert front.photo is not None
    assert fetched("tiny", "photos", Path(front.photo).name, query).status_code in (200, 404)


def test_a_phone_only_gets_in_on_request(monkeypatch: pytest.MonkeyPatch, folder: JobFolder) -> None:
    bound: dict[str, Any] = {}

    class Fake:
        def run(self, *, config: dict[str, Any]) -> None:
            bound.update(config)

    keys: list[str | None] = []

    def fake(key: str | None = None) -> Fake:
        keys.append(key)
        return Fake()

    monkeypatch.setattr(serve, "page_app", fake)
    serve.serve(folder.path, browser=False)
    assert (bound["server.address"], keys[-1]) == ("127.0.0.1", None)
    serve.serve(folder.path, phone=True, browser=False)
    assert bound["server.address"] == "0.0.0.0"
    assert keys[-1] is not None
    assert len(keys[-1]) >= 20


def test_no_stranger_is_asked_for_this_machine_s_address(
    monkeypatch: pytest.MonkeyPatch, folder: JobFolder
) -> None:
    bound: dict[str, Any] = {}

    class Fake:
        def run(self, *, config: dict[str, Any]) -> None:
            bound.update(config)

    def no(*_: object, **__: object) -> None:
        raise AssertionError("a stranger was asked")

    monkeypatch.setattr(net_util, "get_external_ip", net_util.get_external_ip)
    monkeypatch.setattr(net_util, "_make_blocking_http_get", no)
    monkeypatch.setattr(serve, "page_app", lambda *_: Fake())
    serve.serve(folder.path, phone=True, browser=False)
    assert bound["browser.serverAddress"] not in ("", "0.0.0.0")
    assert not is_url_from_allowed_origins("http://elsewhere.invalid")


def test_a_heavy_photo_is_not_decoded_whole_for_the_screen() -> None:
    from ui.pictures import screen_copy

    data = photo_of_a_board(scale=3.0)
    assert size_of(data) == (4800, 2700)
    assert size_of(screen_copy(data, 1200)) == (1200, 675)


def sheet(job: str, revision: int, name: str, query: str = "") -> Any:
    path = {"job": job, "revision": revision, "name": name}
    scope = {"type": "http", "method": "GET", "path": "/", "query_string": query.encode(), "headers": []}
    return serve._sheet(Request(scope | {"path_params": path}))


def test_a_marked_up_face_is_served_lying_and_standing(folder: JobFolder) -> None:
    now = folder.job().revision
    flat, standing = (
        sheet("tiny", now, "board-1-front.png"),
        sheet("tiny", now, "upright", "board=1&face=front"),
    )
    assert (flat.status_code, flat.media_type) == (200, "image/png")
    assert (standing.status_code, standing.media_type) == (200, "image/jpeg")
    (wide, high), (across, along) = size_of(flat.body), size_of(standing.body)
    assert wide > high
    assert along > across >= 1200 - 1


@pytest.mark.parametrize(
    ("job", "later", "name", "query"),
    [
        ("tiny", 1, "board-1-front.png", ""),  # a picture of a state that is no more
        ("tiny", 1, "upright", "board=1&face=front"),
        ("tiny", 0, "board-9-front.png", ""),
        ("tiny", 0, "job.json", ""),
        ("tiny", 0, "upright", "board=9&face=front"),
        ("tiny", 0, "upright", "board=1&face=side"),
        ("tiny", 0, "upright", ""),
        ("other", 0, "upright", "board=1&face=front"),
        ("../tiny", 0, "board-1-front.png", ""),
    ],
)
def test_no_other_sheet_is_served(folder: JobFolder, job: str, later: int, name: str, query: str) -> None:
    assert sheet(job, folder.job().revision + later, name, query).status_code == 404
