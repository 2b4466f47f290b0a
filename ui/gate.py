"""Who may talk to the page: the maker's own browser, and a phone that has the key; nobody else.

Three layers of plain ASGI, outermost first:

* `QuietHeaders` tells browsers to send no address on, to guess no file kinds, to put the page in no frame;
* a check of the Host header on loopback (Starlette's `TrustedHostMiddleware`), so that no web page
  elsewhere can reach in under a name of its own that it points at this machine;
* `KeyGate`, with ``--phone``: every route and the websocket ask for the key.
"""

import hmac
from collections import OrderedDict, deque
from collections.abc import Callable
from hashlib import sha256
from time import monotonic
from urllib.parse import urlencode

from starlette.middleware import Middleware
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from ui.jobfile import JobError

__all__ = ["COOKIE", "TRIES", "KeyGate", "QuietHeaders", "Tries", "fit_key", "gates"]

COOKIE = "clearface_key"
TRIES = 10
"""Wrong keys one address may offer in `_WHILE`; the same wrong key again is not counted."""
_WHILE = 60.0  # seconds
_ADDRESSES = 1000  # addresses whose tries are remembered
_SHORTEST_KEY = 16  # letters
_DAY = 86_400  # seconds
# Whatever stands in a job (a part called "![](http://...)"), the browser asks nobody
# but this server: no picture, script or message goes to or comes from elsewhere.
# Streamlit's own script needs eval and blobs.
_WITHIN = "; ".join(
    (
        "default-src 'self'",
        "img-src 'self' data: blob:",
        "font-src 'self' data:",
        "style-src 'self' 'unsafe-inline'",
        "script-src 'self' 'unsafe-inline' 'unsafe-eval' blob:",
        "worker-src 'self' blob:",
        "connect-src 'self' ws: wss: data: blob:",
        "frame-ancestors 'none'",
    )
)
_QUIET = (
    (b"referrer-policy", b"no-referrer"),
    (b"x-content-type-options", b"nosniff"),
    (b"content-security-policy", _WITHIN.encode()),
)


def gates(key: str | None) -> list[Middleware]:
    """The layers before the page: by the key if there is one, else by the name it is called under."""
    if key:
        return [Middleware(QuietHeaders), Middleware(KeyGate, key=fit_key(key))]
    own = ["127.0.0.1", "localhost", "[::1]"]
    return [
        Middleware(QuietHeaders),
        Middleware(TrustedHostMiddleware, allowed_hosts=own, www_redirect=False),
    ]


def fit_key(key: str) -> str:
    """The key itself.

    Raises
    ------
    JobError
        It is so short that it could be guessed.
    """
    if len(key) < _SHORTEST_KEY:
        raise JobError(
            f"the key has {len(key)} letters; give at least {_SHORTEST_KEY}, or none and one is made"
        )
    return key


class Tries:
    """Counts wrong keys by address, for a while.

    Parameters
    ----------
    clock : callable
        Seconds that never run backwards.
    """

    def __init__(self, clock: Callable[[], float] = monotonic) -> None:
        self._clock = clock
        self._wrong: OrderedDict[str, deque[tuple[float, bytes]]] = OrderedDict()

    def too_many(self, address: str) -> bool:
        """Whether this address has offered too many wrong keys."""
        return len(self._recent(address)) >= TRIES

    def wrong(self, address: str, offered: str) -> None:
        """Note a wrong key; of a key only a digest is remembered."""
        mark = sha256(offered.encode()).digest()[:8]
        recent = self._recent(address)
        if all(mark != seen for _, seen in recent):
            recent.append((self._clock(), mark))
            self._wrong[address] = recent
            self._wrong.move_to_end(address)
            while len(self._wrong) > _ADDRESSES:
                self._wrong.popitem(last=False)

    def _recent(self, address: str) -> deque[tuple[float, bytes]]:
        recent = self._wrong.get(address, deque())
        while recent and self._clock() - recent[0][0] > _WHILE:
            recent.popleft()
        return recent


class KeyGate:
    """Lets nobody in without the key: once in the address, from then on in a cookie.

    Parameters
    ----------
    app : ASGI application
    key : str
    tries : Tries, optional
    """

    def __init__(self, app: ASGIApp, key: str, tries: Tries | None = None) -> None:
        self.app = app
        self._key = key.encode()
        self._tries = tries or Tries()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        address = (scope.get("client") or ("unknown",))[0]
        shut = self._tries.too_many(address)
        if not shut and self._has_cookie(scope, address):
            await self.app(scope, receive, send)
        elif scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": 4403})
        else:
            await self._answer(Request(scope), address, shut)(scope, receive, send)

    def _answer(self, request: Request, address: str, shut: bool) -> Response:
        if shut:
            said = (
                "Too many wrong keys from here. Wait a minute, then use the address that clearface printed.\n"
            )
            return PlainTextResponse(said, 429, {"Retry-After": "60"})
        offered = request.query_params.get("key")
        if offered is not None and self._fits(offered, address):
            rest = urlencode(
                [(name, value) for name, value in request.query_params.multi_items() if name != "key"]
            )
            # Never the whole address: its host is what the request says of itself.
            answer: Response = RedirectResponse(f"?{rest}", 303)
            answer.set_cookie(COOKIE, self._key.decode(), httponly=True, samesite="strict", max_age=_DAY)
            return answer
        return PlainTextResponse("Open the address with the key that clearface printed.\n", 403)

    def _has_cookie(self, scope: Scope, address: str) -> bool:
        for name, value in scope.get("headers", ()):
            if name == b"cookie":
                for crumb in value.decode("latin-1").split(";"):
                    label, _, given = crumb.strip().partition("=")
                    if label == COOKIE and self._fits(given, address):
                        return True
        return False

    def _fits(self, offered: str, address: str) -> bool:
        if hmac.compare_digest(offered.encode("utf-8", "replace"), self._key):
            return True
        self._tries.wrong(address, offered)
        return False


class QuietHeaders:
    """Adds to every answer what keeps a browser from telling others, guessing and framing.

    Parameters
    ----------
    app : ASGI application
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        async def quietly(message: Message) -> None:
            if message["type"] == "http.response.start":
                message = {**message, "headers": [*message.get("headers", ()), *_QUIET]}
            await send(message)

        await self.app(scope, receive, quietly if scope["type"] == "http" else send)
