"""The job as a whole: what it is, how far each board has come, the shop it is made in."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import streamlit as st

from layout.allowances import Sawing
from ui import state
from ui.jobfile import Job
from ui.lengths import length_in_mm, length_text
from ui.library import new_job, shelves
from ui.session import Action
from ui.states import STAGES, board_state, next_thing
from ui.steps.frame import choice_field, heading, plain, switch_field, text_field
from ui.webtable import web_table

__all__ = ["boards_at_a_glance", "other_jobs", "show"]

_LENGTHS = (
    ("kerf", "Kerf", "what the saw blade takes"),
    ("end_trim", "End trim", "cut off each end of every board first"),
    ("edge_trim", "Edge trim", "taken off each long edge to get it straight"),
    ("length", "Oversize in length", "how much longer a part is sawn, in all"),
    ("width", "Oversize in width", "how much wider a part is sawn, in all"),
    ("skim", "Least planed off a face", "0 for boards already planed"),
    ("defect_margin", "Kept clear round a fault", "beyond the picture's own error"),
)
_ROUND_KNOTS = (
    ("knot_along", "Disturbed grain along a knot"),
    ("knot_across", "Disturbed grain across a knot"),
)
_REPAIRS = (
    ("rate", "An hour at the bench costs"),
    ("patch", "Minutes for an inlaid patch (less than 0: never)"),
    ("slice", "Minutes for a glued-on slice"),
    ("splice", "Minutes for a scarf splice"),
    ("edge_strip", "Minutes for an edge strip"),
    ("filler", "Minutes for filler"),
)
_AT_ONCE = 100  # boards in one table
_NEXT = {"list": "Cutting list", "boards": "Boards", "marks": "Marks", "layout": "Layout", "sheets": "Sheets"}


def show() -> None:
    """The page."""
    session = state.folder().session()
    job = session.job
    heading(job.name)
    where, why = next_thing(job)
    st.markdown(f"**Next: {_NEXT[where]}.** {plain(why)}")
    st.header("Boards at a glance", anchor=False)
    st.html(boards_at_a_glance(job, _stretch(len(job.boards))))
    _undo_buttons(state.history_of(session))
    st.header("The job", anchor=False)
    left, middle, right = st.columns(3)
    with left:
        text_field("Name of the job", job.name, "job-name", _with("name"))
    with middle:
        text_field("Currency", job.currency, "job-currency", _with("currency"))
    with right:
        choice_field("Lengths in", ("mm", "inch"), job.units, "job-units", _with("units"))
    _shop(job)
    _repairs(job)
    other_jobs(state.job_id())


def _stretch(many: int) -> slice:
    """Which boards of a long list are shown: a hundred at a time."""
    if many <= _AT_ONCE:
        return slice(None)
    first = st.selectbox(
        f"Of {many} boards",
        range(0, many, _AT_ONCE),
        format_func=lambda first: f"{first + 1} to {min(first + _AT_ONCE, many)}",
        key="boards-shown",
    )
    return slice(first, first + _AT_ONCE)


def boards_at_a_glance(job: Job, shown: slice = slice(None)) -> str:
    """A table of the boards and how far each has come, as HTML."""
    if not job.boards:
        return "<p>There is no board yet.</p>"
    rows = []
    for record in job.boards[shown]:
        found = board_state(job, record)
        told = [_told(stage, done, found.waiting) for stage, done in zip(STAGES, found.reached, strict=True)]
        rows.append([record.id, *told])
    return web_table("boards and how far they are", ["board", *STAGES], rows)


def _told(stage: str, done: bool, waiting: int) -> str:
    if done:
        return "✓ yes"
    return f"{waiting} to judge" if stage == "marked" and waiting else "–"


def _with(field: str) -> Callable[[Job, str], Job]:
    def change(job: Job, text: str) -> Job:
        if not text.strip():
            raise ValueError("give at least one letter")
        return job.model_copy(update={field: text.strip()})

    return change


def _undo_buttons(history: dict[str, str]) -> None:

    with st.container(horizontal=True):
        st.button(
            f"↶ Undo {plain(history['undo'])}".strip(),
            disabled=not history["undo"],
            on_click=lambda: state.undo(Action.UNDO),
            key="undo",
        )
        st.button(
            f"↷ Redo {plain(history['redo'])}".strip(),
            disabled=not history["redo"],
            on_click=lambda: state.undo(Action.REDO),
            key="redo",
        )


def _shop(job: Job) -> None:
    shop = job.settings
    with st.expander("The shop: saw, allowances, planer"):
        _sawing(job)
        columns = st.columns(2)
        for number, (name, label, help) in enumerate(_LENGTHS):
            with columns[number % 2]:
                current = length_text(getattr(shop.allowances, name), job.units)
                text_field(label, current, f"shop-{name}", _allowance(name), help=help)
        with columns[len(_LENGTHS) % 2]:
            text_field(
                "Planer takes, at most",
                length_text(shop.planer_width, job.units),
                "shop-planer",
                lambda job, text: _shop_with(job, planer_width=length_in_mm(text, job.units)),
            )
        left, right = st.columns(2)
        for column, (name, label), practice in zip((left, right), _ROUND_KNOTS, ("1", "0.25"), strict=True):
            with column:
                text_field(
                    label,
                    f"{getattr(shop.allowances, name):g}",
                    f"shop-{name}",
                    _share_of_knot(name),
                    help="kept clear on each side of a knot, in sizes of the knot; "
                    f"common practice is {practice}, 0 counts the knot alone",
                )


def _sawing(job: Job) -> None:
    shop = job.settings
    left, right = st.columns(2)
    with left:
        choice_field(
            "Sawing",
            [way.value for way in Sawing],
            shop.sawing.value,
            "shop-sawing",
            lambda job, text: _shop_with(job, sawing=Sawing(text)),
            help="The order of cuts decides which layouts can be sawn.",
        )
    with right:
        choice_field(
            "Changes between crosscut and rip, at most",
            ("2", "3"),
            str(shop.stages),
            "shop-stages",
            lambda job, text: _shop_with(job, stages=int(text)),
        )


def _repairs(job: Job) -> None:
    rules = job.settings.repairs
    with st.expander("Repairs: what the shop makes, and what it costs"):
        switch_field(
            "A plan may count on repairs",
            rules.allowed,
            "repairs-allowed",
            lambda job, on: _shop_with(job, repairs=replace(job.settings.repairs, allowed=on)),
        )
        columns = st.columns(2)
        for number, (name, label) in enumerate(_REPAIRS):
            with columns[number % 2]:
                text_field(label, f"{getattr(rules, name):g}", f"repairs-{name}", _repair_rule(name))


def _repair_rule(name: str) -> Callable[[Job, str], Job]:
    def change(job: Job, text: str) -> Job:
        rule: dict[str, Any] = {name: _number(text)}
        return _shop_with(job, repairs=replace(job.settings.repairs, **rule))

    return change


def _share_of_knot(name: str) -> Callable[[Job, str], Job]:
    def change(job: Job, text: str) -> Job:
        share: dict[str, Any] = {name: _number(text)}
        return _shop_with(job, allowances=replace(job.settings.allowances, **share))

    return change


def _number(text: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise ValueError(f"{text!r} is not a number") from None


def _allowance(name: str) -> Callable[[Job, str], Job]:
    def change(job: Job, text: str) -> Job:
        value = length_in_mm(text, job.units)
        return _shop_with(job, allowances=replace(job.settings.allowances, **{name: value}))

    return change


def _shop_with(job: Job, **changes: Any) -> Job:
    return job.model_copy(update={"settings": replace(job.settings, **changes)})


def other_jobs(current: str) -> None:
    """The jobs on this machine to open, the last changed first, and a new one to begin."""
    with st.expander("Other jobs"):
        for shelf in shelves(but=current):
            if shelf.problem:
                st.markdown(f"{plain(shelf.name)} can't be opened: {plain(shelf.problem)}")
            else:
                st.button(
                    f"Open {plain(shelf.name)}",
                    key=f"open-{shelf.id}",
                    on_click=state.open_job,
                    args=(shelf.id,),
                )
        name = st.text_input("Name of a new job", key="new-job-name")
        st.button("Begin a new job", disabled=not name.strip(), on_click=_begin, args=(name,))


def _begin(name: str) -> None:
    state.open_job(new_job(name))
