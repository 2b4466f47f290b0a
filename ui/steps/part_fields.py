"""What else may be said of a part: outline, glue-up, oversize, priority, rules of its sides."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import streamlit as st

from layout.parts import Part, Staves, Visibility
from layout.rules import RULES, USUAL
from ui import state
from ui.jobfile import Job, JobError
from ui.lengths import length_in_mm, length_text
from ui.list_ops import renamed
from ui.shapes import outline_from_drawing
from ui.steps.frame import choice_field, plain, save, switch_field, text_field

__all__ = ["part_panel"]

_NONE = "any board"


def part_panel(job: Job, part: Part) -> None:
    """The rarer fields of one part."""
    with st.expander(f"More of {plain(part.name)}: shape, glue-up, oversize, rules"):
        _shape(part)
        left, right = st.columns(2)
        with left:
            _place(job, part)
        with right:
            _rules(part)
            _glue(job, part)


def _place(job: Job, part: Part) -> None:
    """Oversize, and what a plan may do with it."""
    name = part.name
    _oversize(job, part, "length_allowance", "Oversize in length")
    _oversize(job, part, "width_allowance", "Oversize in width")
    text_field(
        "Placed before others (0 as the rest, higher is earlier)",
        str(part.priority),
        f"priority-{name}",
        lambda now, text: _with(now, name, priority=_whole(text)),
    )
    others = [other.name for other in job.parts if other.name != name]
    choice_field(
        "From the same board as",
        [_NONE, *others],
        part.same_board_as or _NONE,
        f"mate-{name}",
        lambda now, text: _with(now, name, same_board_as=None if text == _NONE else text),
    )
    switch_field(
        "May lie either way along the board",
        part.turn_end_for_end,
        f"ends-{name}",
        lambda now, on: _with(now, name, turn_end_for_end=on),
    )
    switch_field(
        "Its show face may be patched",
        part.mend_show,
        f"mend-{name}",
        lambda now, on: _with(now, name, mend_show=on),
    )


def _rules(part: Part) -> None:
    """What its sides tolerate."""
    name = part.name
    for seen in Visibility:
        choice_field(
            f"A side that is {_IS[seen]} tolerates",
            list(RULES),
            part.tolerates.get(seen, USUAL[seen]),
            f"rule-{seen}-{name}",
            _rule(name, seen),
        )


_IS = {Visibility.SHOW: "on show", Visibility.SEEN_IN_USE: "seen in use", Visibility.CONCEALED: "concealed"}


def _shape(part: Part) -> None:
    given = st.file_uploader(
        f"Outline of {plain(part.name)} from a drawing (SVG or DXF)",
        type=["svg", "dxf"],
        key=f"shape-{part.name}",
    )
    if given is not None and state.note(f"shape-{part.name}") != given.file_id:
        state.note(f"shape-{part.name}", given.file_id)
        try:
            outline = outline_from_drawing(given.getvalue(), given.name)
        except JobError as error:
            state.say(str(error), bad=True)
        else:
            length, width = max(x for x, _ in outline), max(y for _, y in outline)
            save(
                f"{part.name}: outline of {given.name}",
                lambda job: _with(job, part.name, outline=outline, length=length, width=width),
            )
        st.rerun()
    if part.outline is not None:
        st.button(
            "Make it a plain rectangle",
            key=f"plain-{part.name}",
            on_click=lambda: _saved(
                f"{part.name}: rectangle", lambda job: _with(job, part.name, outline=None)
            ),
        )


def _glue(job: Job, part: Part) -> None:
    name, staves = part.name, part.staves
    switch_field(
        "Glued up from staves",
        staves is not None,
        f"staves-{name}",
        lambda now, on: _with(now, name, staves=Staves() if on else None),
    )
    if staves is not None:
        for field, label in (("least", "Narrowest stave"), ("most", "Widest stave")):
            text_field(
                label, length_text(getattr(staves, field), job.units), f"{field}-{name}", _stave(name, field)
            )
    text_field(
        "Layers glued to its thickness",
        str(part.layers),
        f"layers-{name}",
        lambda now, text: _with(now, name, layers=_whole(text)),
    )


def _stave(name: str, field: str) -> Callable[[Job, str], Job]:
    def change(job: Job, text: str) -> Job:
        staves = _part(job, name).staves or Staves()
        size: dict[str, Any] = {field: length_in_mm(text, job.units)}
        return _with(job, name, staves=replace(staves, **size))

    return change


def _rule(name: str, seen: Visibility) -> Callable[[Job, str], Job]:
    def change(job: Job, text: str) -> Job:
        kept = {key: value for key, value in _part(job, name).tolerates.items() if key is not seen}
        return _with(job, name, tolerates=kept if text == USUAL[seen] else kept | {seen: text})

    return change


def _oversize(job: Job, part: Part, field: str, label: str) -> None:
    value = getattr(part, field)
    text_field(
        label,
        "" if value is None else length_text(value, job.units),
        f"{field}-{part.name}",
        lambda now, text: _with(
            now, part.name, **{field: length_in_mm(text, now.units) if text.strip() else None}
        ),
        placeholder="as the shop's",
    )


def _saved(label: str, change: Callable[[Job], Job]) -> None:
    save(label, change)


def _with(job: Job, name: str, **changes: Any) -> Job:
    return renamed(job, name, replace(_part(job, name), **changes))


def _part(job: Job, name: str) -> Part:
    for part in job.parts:
        if part.name == name:
            return part
    raise JobError(f"part {name!r} is gone: it was taken away in another window")


def _whole(text: str) -> int:
    try:
        return int(text.strip())
    except ValueError:
        raise ValueError(f"{text.strip()!r} is not a whole number") from None
