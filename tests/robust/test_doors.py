"""A real server, knocked at from outside: nothing told without the key, nothing outside the jobs at all."""

import http.client
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

import pytest

from tests.robust.jobs import files_of_full_job, full_job
from ui.files import JobFolder
from ui.gate import COOKIE

ROOT = Path(__file__).resolve().parents[2]
KEY = "a-key-of-more-than-sixteen-letters"
ROUTES = (
    "/", "/marks", "/?job=job", "/_stcore/health", "/_stcore/host-config", "/_stcore/stream", "/media/x.png",
    "/component/x/index.html", "/static/x", "/app/static/x", "/_stcore/upload_file/a/b",
    "/clearface/file/job/photos/a.jpg", "/clearface/sheet/job/7/upright?board=1&face=front",
    "/%5fstcore/health", "//", "/../", "/favicon.png", "/_stcore/metrics", "/vendor/x", "/no/such/route",
)  # fmt: skip


@dataclass
class Server:
    port: int
    log: Path
    data: Path

    def ask(
        self, path: str, *, method: str = "GET", body: bytes | None = None, **headers: str
    ) -> tuple[int, bytes]:
        """Status and body of an answer; the path goes out exactly as given."""
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=20)
        try:
            line.putrequest(method, path, skip_host="Host" in headers, skip_accept_encoding=True)
            for name, value in headers.items():
                line.putheader(name.replace("_", "-"), value)
            if body is not None:
                line.putheader("Content-Length", str(len(body)))
            line.endheaders(body)
            answer = line.getresponse()
            return answer.status, b"" if answer.status == 101 else answer.read()
        finally:
            line.close()

    def websocket(self, **headers: str) -> int:
        """Status of the answer to a websocket's first request; 101 lets it in."""
        shake = {
            "Connection": "Upgrade",
            "Upgrade": "websocket",
            "Sec-WebSocket-Version": "13",
            "Sec-WebSocket-Key": "AAAAAAAAAAAAAAAAAAAAAA==",
            "Sec-WebSocket-Protocol": "streamlit",
        }
        return self.ask("/_stcore/stream", **shake, **headers)[0]


@contextmanager
def served(folder: Path, data: Path, *options: str) -> Iterator[Server]:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    log = data.parent / "server.log"
    environment = os.environ | {
        "CLEARFACE_DATA": str(data),
        "CLEARFACE_KEY": KEY if "--phone" in options else "",
    }
    with log.open("wb") as out:
        program = subprocess.Popen(
            [sys.executable, "-m", "ui", "open", str(folder), "--no-browser", "--port", str(port), *options],
            cwd=ROOT,
            env=environment,
            stdin=subprocess.DEVNULL,
            stdout=out,
            stderr=out,
            start_new_session=True,
        )
    server = Server(port, log, data)
    try:
        until = time.monotonic() + 60
        while True:
            assert program.poll() is None, log.read_text()
            assert time.monotonic() < until, "the server did not start"
            try:
                server.ask("/_stcore/health")
                break
            except OSError:
                time.sleep(0.2)
        yield server
    finally:
        os.killpg(program.pid, signal.SIGTERM)
        try:
            program.wait(10)
        except subprocess.TimeoutExpired:
            os.killpg(program.pid, signal.SIGKILL)
            program.wait(10)


@pytest.fixture
def job(tmp_path: Path) -> Path:
    (tmp_path / "secret.jpg").write_bytes(files_of_full_job()["photos/a.jpg"])
    return JobFolder.created(tmp_path / "data" / "jobs" / "job", full_job(), files_of_full_job()).path


def is_empty_page(body: bytes) -> bool:
    """Whether an answer is the page before it knows what to show, as for an address nobody knows."""
    return body.lstrip().startswith(b"<!") and b"bedside" not in body


def addresses_bound(port: int) -> set[str]:
    """Addresses a port of this machine is listened at, as the system's own table says."""
    found = set()
    for table in ("/proc/net/tcp", "/proc/net/tcp6"):
        for line in Path(table).read_text().splitlines()[1:]:
            _, local, _, state, *_ = line.split()
            address, number = local.split(":")
            if int(number, 16) == port and state == "0A":
                found.add(address)
    return found


def test_a_phone_gets_in_with_the_key_and_nothing_is_told_without(job: Path, tmp_path: Path) -> None:
    with served(job, tmp_path / "data", "--phone") as server:
        assert addresses_bound(server.port) == {"00000000"}
        inside = {"Cookie": f"{COOKIE}={KEY}"}
        for route in ROUTES:
            for method in ("GET", "POST", "PUT", "DELETE", "OPTIONS", "HEAD"):
                status, body = server.ask(route, method=method)
                assert status == 403, (method, route, status)
                assert b"bedside" not in body
        assert server.websocket(Origin=f"http://127.0.0.1:{server.port}") == 403
        assert server.ask("/_stcore/health", **inside)[0] == 200
        assert server.ask("/clearface/file/job/photos/a.jpg?size=200", **inside)[0] == 200
        assert server.websocket(Origin=f"http://127.0.0.1:{server.port}", **inside) == 101
        assert server.websocket(Origin="http://example.invalid", **inside) == 403
        for name in (
            "../job.json",
            "..%2fjob.json",
            "%2e%2e%2f%2e%2e%2f%2e%2e%2fsecret.jpg",
            "..",
            ".lock",
            "%00",
        ):
            for kind in ("photos", "pictures", "..", "%2e%2e", ""):
                status, body = server.ask(f"/clearface/file/job/{kind}/{name}", **inside)
                assert status in (400, 404) or is_empty_page(body), (kind, name, status)
        for id in ("..", "../job", "%2e%2e%2fjob", "job%00", "none", "x" * 5000, quote("jób"), "job/../job"):
            status, body = server.ask(f"/clearface/file/{id}/photos/a.jpg", **inside)
            assert status in (400, 404) or is_empty_page(body), (id, status)
        for name in (
            "..%2fjob.json",
            "job.json",
            "%2e%2e%2fsecret.jpg",
            "upright",
            "upright?board=..&face=x",
        ):
            for revision in ("7", "0", "-1", "x"):
                status, body = server.ask(f"/clearface/sheet/job/{revision}/{name}", **inside)
                assert status in (400, 404) or is_empty_page(body), (name, revision, status)
        # Nobody can put a file where no page has asked for one, of whatever size; a page's own are held
        # to the size below by the same setting.
        too_big = server.ask("/_stcore/upload_file/a/b", method="PUT", body=b"x" * (61 << 20), **inside)[0]
        assert too_big in (400, 403, 404, 413)
        wrong = [
            server.ask(f"/?key=wrong{number}", X_Forwarded_For=f"192.0.2.{number}")[0] for number in range(12)
        ]
        assert wrong[:10] == [403] * 10
        assert wrong[10:] == [429] * 2
        log = server.log.read_text()
    assert "Traceback" not in log
    assert log.count(KEY) <= 1, "the key is told once, when the address is shown, and in no log"


def test_without_a_phone_only_this_machine_is_answered_under_its_own_name(job: Path, tmp_path: Path) -> None:
    with served(job, tmp_path / "data") as server:
        assert addresses_bound(server.port) == {"0100007F"}
        assert server.ask("/_stcore/health")[0] == 200
        assert server.ask("/_stcore/health", Host=f"localhost:{server.port}")[0] == 200
        for name in ("example.invalid", f"example.invalid:{server.port}", "127.0.0.1.example.invalid", ""):
            assert server.ask("/clearface/file/job/photos/a.jpg", Host=name)[0] == 400, name
        assert server.websocket(Origin="http://example.invalid") == 403
        assert server.websocket(Origin=f"http://example.invalid:{server.port}") == 403
        assert server.websocket(Origin=f"http://127.0.0.1:{server.port}") == 101
        log = server.log.read_text()
    assert "Traceback" not in log
