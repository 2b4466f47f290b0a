"""The drawing surface mounted in the page: values down, edits up."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import streamlit as st

from ui.canvas.assets import LOADER, STYLE

__all__ = ["Mode", "Received", "drawing_surface", "received"]

Mode = Literal["corners", "marks", "layout", "part", "list"]

_mount = st.components.v2.component(
    "clearface_canvas", html='<div class="clearface"></div>', css=STYLE, js=LOADER
)


@dataclass(frozen=True)
class Received:
    """Edits of one window that were not answered when it sent them."""

    client: str
    ops: tuple[dict[str, Any], ...]


def received(state: Any) -> Received:
    """What a drawing surface has sent, from its state; to be read before it is mounted."""
    sent = state.get("ops") if isinstance(state, Mapping) else None
    given = sent.get("ops") if isinstance(sent, Mapping) else None
    if not isinstance(sent, Mapping) or not isinstance(given, Sequence):
        return Received("", ())
    ops = [dict(op) for op in given if isinstance(op, Mapping) and isinstance(op.get("seq"), int)]
    return Received(str(sent.get("client", ""))[:32], tuple(sorted(ops, key=lambda op: int(op["seq"]))))


def drawing_surface(
    key: str,
    mode: Mode,
    *,
    job: str,
    picture: dict[str, Any],
    doc: dict[str, Any],
    ack: dict[str, Any],
    history: dict[str, str],
    memory: str,
    note: str = "",
    refused: bool = False,
    **more: Sequence[str] | Mapping[str, str] | float | bool,
) -> None:
    """Mount it.

    Parameters
    ----------
    key : str
        One for each place in the page.
    mode : "corners", "marks", "layout", "part" or "list"
    job : str
        Id of the job; what could not be sent is kept in the window under it.
    picture : dict
        url, width and height in the unit of the shapes, a label, and where to ask for a crop.
    doc : dict
        What is drawn; see the head of the mode's script.
    ack : dict
        client and the last seq of it that is on disk.
    history : dict
        Names of what undo and redo would do; "" for nothing.
    memory : str
        Name under which the window keeps its zoom and place.
    note : str
        One sentence to show; `refused` says that an edit was not taken.
    """
    _mount(
        key=key,
        data={
            "mode": mode,
            "job": job,
            "place": key,
            "picture": picture,
            "doc": doc,
            "ack": ack,
            "history": history,
            "memory": memory,
            "note": note,
            "refused": refused,
            **more,
        },
        on_ops_change=lambda: None,
    )
