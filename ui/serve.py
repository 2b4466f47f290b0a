"""The page's server: Streamlit with picture routes of our own, and a key before everything for a phone."""

import logging
import os
import secrets
import socket
import sys
import webbrowser
from importlib.resources import files
from mimetypes import guess_type
from pathlib import Path
from threading import Timer

import streamlit as st
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route
from streamlit import net_util

from layout.solve.prover import keep_ready
from layout.stock import Face
from ui.canvas.assets import SCRIPT, SCRIPT_NAME
from ui.drawing.sheets import Paper
from ui.gate import fit_key, gates
from ui.jobfile import JobError
from ui.library import folder_of, id_of, last_job, remember
from ui.ready import picture_part, ready_picture
from ui.ready_sheets import ready_sheets, ready_upright
from ui.sample import sample_shelf
from ui.steps.frame import plain
from vision.errors import VisionError

__all__ = ["page_app", "serve"]

_LOG = logging.getLogger(__name__)
PAGE = Path(str(files("ui") / "app.py"))
KEY = "CLEARFACE_KEY"
_FOREVER = {
    "Cache-Control": "private, max-age=31536000, immutable",
    "Cross-Origin-Resource-Policy": "same-origin",
}


def page_app(key: str | None = None) -> st.App:
    """The page with its routes; with a key, gated."""
    return st.App(
        PAGE,
        routes=[
            Route("/clearface/file/{job}/{folder}/{name}", _file),
            Route("/clearface/sheet/{job}/{revision:int}/{name}", _sheet),
            Route(f"/clearface/{SCRIPT_NAME}", _script),
        ],
        middleware=gates(key),
        on_script_error=_told_plainly,
    )


def _told_plainly(error: Exception) -> bool:
    """A fault of the program in a sentence; Streamlit's own box offers to ask strangers about it."""
    if isinstance(error, JobError):  # no fault: a full disk, a folder gone, another program writing
        st.error(plain(str(error)))
        return True
    _LOG.error("fault in the page", exc_info=error)
    st.error(
        "This part of the page met a fault in the program. Your job is safe on disk: load the page again. "
        f"({type(error).__name__})"
    )
    return True


def serve(job: Path | None, *, phone: bool = False, port: int | None = None, browser: bool = True) -> None:
    """Open the page on a job, the last one, or the sample, and serve it until stopped.

    Raises
    ------
    JobError
        The folder holds no job, or the port is taken.
    """
    id = id_of(job) if job is not None else (last_job() or sample_shelf())
    remember(id)
    given = os.environ.get(KEY)
    key = fit_key(given) if given else (secrets.token_urlsafe(18) if phone else None)
    address = "0.0.0.0" if phone else "127.0.0.1"
    port = _free_port(address, port)
    host = _lan_address() if phone else "127.0.0.1"
    url = f"http://{host}:{port}/?job={id}" + (f"&key={key}" if key else "")
    _ask_no_stranger()
    _believe_no_proxy()
    _announce(url, phone)
    keep_ready()
    if browser and not phone:
        Timer(1.5, webbrowser.open, (url,)).start()
    page_app(key).run(
        config={
            "server.port": port,
            "server.address": address,
            "server.headless": True,
            "browser.serverAddress": host,  # else Streamlit asks a stranger for this machine's address
            "server.maxUploadSize": 60,
            "server.fileWatcherType": "none",
            "browser.gatherUsageStats": False,
            "client.toolbarMode": "minimal",
            "client.showErrorDetails": "none",
            "theme.base": "light",
            "theme.primaryColor": "#1f5c57",
            "theme.backgroundColor": "#fbfaf7",
            "theme.secondaryBackgroundColor": "#efece4",
            "theme.textColor": "#20242a",
            "theme.font": "sans-serif",
        }
    )


def _ask_no_stranger() -> None:
    """Keep Streamlit from asking a server elsewhere for this machine's address.

    It does so for the address it prints, and whenever a web page of another
    origin knocks; neither needs it here.
    """
    net_util.get_external_ip = lambda: None


def _believe_no_proxy() -> None:
    """Let a caller's address be the one it calls from.

    The server beneath takes the word of whoever calls from this machine for another
    address, as a proxy would give it: every wrong key could then come from a new one.
    """
    os.environ["FORWARDED_ALLOW_IPS"] = ""


def _announce(url: str, phone: bool) -> None:
    sys.stdout.write(f"clearface is at {url}\n")
    if phone:
        import segno

        segno.make(url, error="m").terminal(sys.stdout, compact=True)
        sys.stdout.write("Point the phone's camera at the square. Only who has this key gets in.\n")
    sys.stdout.write("Stop with Ctrl+C.\n")
    sys.stdout.flush()


def _free_port(address: str, wanted: int | None) -> int:
    for port in (wanted,) if wanted else (8501, *range(8502, 8520), 0):
        with socket.socket() as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((address, port))
            except OSError:
                continue
            return int(probe.getsockname()[1])
    raise JobError(f"port {wanted} is taken; give another --port")


def _lan_address() -> str:
    """The address of this machine in the local network; asks the routing table and sends nothing."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))
            return str(probe.getsockname()[0])
        except OSError:
            return "127.0.0.1"


def _script(_: Request) -> Response:
    return Response(SCRIPT, media_type="text/javascript", headers=_FOREVER)


def _file(request: Request) -> Response:
    """A picture of a job, made ready for a screen: whole, smaller (?size=), or a part of it (?crop=)."""
    given = request.path_params
    if given["folder"] not in ("photos", "pictures") or not _plain(given["name"]):
        return PlainTextResponse("no such picture", 404)
    try:
        folder = folder_of(given["job"])
        size = int(request.query_params.get("size", "0"))
        name = f"{given['folder']}/{given['name']}"
        if crop := request.query_params.get("crop"):
            x0, y0, x1, y1 = (int(value) for value in crop.split(","))
            data = picture_part(folder, name, (x0, y0, x1, y1))
        else:
            data = ready_picture(folder, name, size)
    except (JobError, VisionError, ValueError):
        return PlainTextResponse("no such picture", 404)
    return Response(data, media_type="image/jpeg", headers=_FOREVER)


def _sheet(request: Request) -> Response:
    """A marked-up picture: one of the sheets by its name, or `upright` of a ?board= and ?face=."""
    given, asked = request.path_params, request.query_params
    try:
        folder = folder_of(given["job"])
        if given["name"] == "upright":
            face = Face(asked.get("face", ""))
            data = ready_upright(folder, given["revision"], asked.get("board", ""), face)
            return Response(data, media_type="image/jpeg", headers=_FOREVER)
        paper: Paper = "Letter" if asked.get("paper") == "Letter" else "A4"
        data = ready_sheets(folder, given["revision"], paper)[given["name"]]
    except (JobError, VisionError, ValueError, KeyError):
        return PlainTextResponse("no such picture", 404)
    kind = guess_type(given["name"])[0] or "application/octet-stream"
    return Response(data, media_type=kind, headers=_FOREVER)


def _plain(name: str) -> bool:
    return all(letter.isalnum() or letter in "._-" for letter in name) and not name.startswith(".")
