"""The gate counts wrong keys, and forgets them after a while."""

from typing import Any

import pytest
from starlette.responses import PlainTextResponse
from starlette.types import Receive, Scope, Send

from tests.ui.loops import finished
from ui.gate import COOKIE, TRIES, KeyGate, Tries, fit_key
from ui.jobfile import JobError

KEY = "long-enough-a-key"


class Door:
    """A gate with a clock of its own, and who knocks at it."""

    def __init__(self) -> None:
        self.now = 0.0
        self.gate = KeyGate(self._inside, KEY, Tries(lambda: self.now))

    async def _inside(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http":
            await PlainTextResponse("in")(scope, receive, send)
        else:
            await send({"type": "websocket.accept"})

    def knock(
        self, key: str | None = None, cookie: str = "", address: str = "10.0.0.2", kind: str = "http"
    ) -> Any:
        sent: list[Any] = []

        async def send(message: Any) -> None:
            sent.append(message)

        async def receive() -> Any:
            return {"type": "http.request"}

        scope = {
            "type": kind,
            "method": "GET",
            "path": "/",
            "query_string": b"" if key is None else f"key={key}".encode(),
            "headers": [(b"host", b"bench"), (b"cookie", cookie.encode())],
            "scheme": "http",
            "server": ("bench", 80),
            "client": (address, 5),
        }
        finished(self.gate(scope, receive, send))
        return sent[0].get("status", sent[0].get("code", sent[0]["type"]))


def test_ten_wrong_keys_shut_the_door_for_that_address_for_a_minute() -> None:
    door = Door()
    assert [door.knock(f"wrong{number}") for number in range(TRIES)] == [403] * TRIES
    assert door.knock(KEY) == 429, "even the right key has to wait, or a guess would show"
    assert door.knock(cookie=f"{COOKIE}={KEY}") == 429
    assert door.knock(cookie=f"{COOKIE}={KEY}", kind="websocket") == 4403
    assert door.knock(KEY, address="10.0.0.3") == 303
    door.now = 61.0
    assert door.knock(KEY) == 303


def test_keys_tried_in_cookies_and_by_websocket_count_too() -> None:
    door = Door()
    for number in range(TRIES):
        door.knock(cookie=f"{COOKIE}=wrong{number}", kind=("http", "websocket")[number % 2])
    assert door.knock(KEY) == 429


def test_an_old_cookie_sent_a_hundred_times_is_one_wrong_key() -> None:
    door = Door()
    assert {door.knock(cookie=f"{COOKIE}=of-yesterday") for _ in range(100)} == {403}
    assert door.knock(KEY) == 303


def test_addresses_without_end_take_no_memory_without_end() -> None:
    tries = Tries()
    for number in range(3000):
        tries.wrong(str(number), "x")
    assert len(tries._wrong) == 1000


def test_a_key_that_can_be_guessed_is_refused() -> None:
    with pytest.raises(JobError, match="at least 16"):
        fit_key("open-sesame")
    assert fit_key(KEY) == KEY


@pytest.mark.parametrize("key", ["", "\udcff", "é" * 20, "\x00", KEY.upper(), KEY[:-1]])
def test_odd_keys_are_wrong_keys(key: str) -> None:
    assert Door().knock(cookie=f"{COOKIE}=" + key.encode("utf-8", "replace").decode()) == 403
