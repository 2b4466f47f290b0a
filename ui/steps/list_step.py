"""The cutting list: typed, pasted or from a file; how each side of a part is seen, and its zones."""

from typing import Any

import streamlit as st

from layout.parts import Part, PartSide
from ui import state
from ui.canvas.component import drawing_surface
from ui.cutting_list import parts_from_rows, parts_to_csv, rows_of_text
from ui.jobfile import JobError
from ui.list_ops import ListState, list_edit, list_rows, parts_added
from ui.spreadsheet import rows_of_workbook
from ui.steps.frame import heading, plain, save
from ui.steps.part_fields import part_panel
from ui.surface_ops import part_edit
from ui.wording import counted

__all__ = ["show"]


def show() -> None:
    """The page."""
    heading(
        "Cutting list",
        'Finished sizes, length along the grain. Inches and fractions are taken too: `3/4"`, `15 1/2"`.',
    )
    _grid()
    _from_file()


@st.fragment
def _grid() -> None:
    known: ListState = state.note("list") or ListState()
    state.note("list", known)
    answer = state.answered("list", lambda job, op: list_edit(job, op, known))
    job = answer.session.job
    drawing_surface(
        "list",
        "list",
        job=state.job_id(),
        picture={},
        doc={"rows": list_rows(job)},
        memory="",
        **state.told(answer),
        wrong=known.wrong,
        aliases=known.aliases,
    )
    names = [part.name for part in job.parts]
    tapped = known.now(str(received_pick("list") or ""))
    name = tapped if tapped in names else state.picked("part", names)
    if name is not None:
        state.remember_pick("part", name)
        part = next(part for part in job.parts if part.name == name)
        _part(part)
        part_panel(job, part)


def received_pick(key: str) -> str | None:
    """The row whose sides were asked for."""
    kept = state.typed(key)
    return kept.get("picked") if kept else None


def _part(part: Part) -> None:
    st.subheader(f"Sides of {plain(part.name)}", anchor=False)
    key = f"part-{part.name}"
    answer = state.answered(key, lambda job, op: part_edit(job, part.name, op))
    found = [other for other in answer.session.job.parts if other.name == part.name]
    if not found:
        return
    drawing_surface(
        key,
        "part",
        job=state.job_id(),
        picture={"url": "", "width": part.length, "height": part.width, "label": f"part {part.name}"},
        doc=_drawn(found[0]),
        memory="",
        **state.told(answer),
    )


def _drawn(part: Part) -> dict[str, Any]:
    return {
        "name": part.name,
        "length": part.length,
        "width": part.width,
        "thickness": part.thickness,
        "outline": [list(point) for point in part.shape],
        "sides": {side.value: part.visibility(side).value for side in PartSide},
        "zones": [
            {"name": zone.name, "rule": zone.rule.value, "points": [list(point) for point in zone.outline]}
            for zone in part.zones
        ],
    }


def _from_file() -> None:
    job = state.folder().job()
    with st.expander("From a spreadsheet, and back"):
        given = st.file_uploader("A CSV or XLSX file", type=["csv", "txt", "xlsx"], key="list-file")
        if given is not None and state.note("list-file") != given.file_id:
            state.note("list-file", given.file_id)
            _read(given.name, given.getvalue())
            st.rerun()
        pasted = st.text_area("Or paste rows here", key="list-paste", placeholder="side\t4\t470\t240\t20")
        if st.button("Add the pasted rows", disabled=not pasted.strip()):
            _read("pasted rows", pasted.encode())
            st.rerun()
        if job.parts:
            st.download_button(
                "Save the list as CSV",
                parts_to_csv(job.parts),
                "cutting_list.csv",
                "text/csv",
                on_click="ignore",
            )


def _read(name: str, data: bytes) -> None:
    """Add what a file holds; mistakes are told with their cells, and then nothing of it is taken."""
    try:
        units = state.folder().job().units
        rows = (
            rows_of_workbook(data, name)
            if data[:2] == b"PK"
            else rows_of_text(data.decode("utf-8", "replace"), name)
        )
        found = parts_from_rows(rows, units)
    except JobError as error:
        state.say(str(error), bad=True)
        return
    if found.mistakes:
        for mistake in found.mistakes[:8]:
            state.say(f"{name}, {mistake}", bad=True)
        return
    if save(f"add {len(found.parts)} parts from {name}", lambda job: parts_added(job, found.parts)):
        state.say(f"{counted(len(found.parts), 'part')} taken from {name}.")
