"""What the tape and the price list say of one board, each field on disk as it is left."""

import streamlit as st

from layout.stock import Face, PriceBasis, Turn
from ui.back_edge import back_edge_text
from ui.board_fields import (
    NOT_LOOKED_AT,
    back_edge_typed,
    back_widths_typed,
    basis_typed,
    board_change,
    heart_typed,
    length_typed,
    moisture_typed,
    price_typed,
    sheet_line_typed,
    species_typed,
    thickness_typed,
    turned_typed,
    waney_switched,
    widths_typed,
    without_board,
)
from ui.jobfile import BoardRecord, Job
from ui.lengths import Units, length_text
from ui.steps.frame import choice_field, plain, save, switch_field, text_field
from ui.surface_ops import replaced_board

__all__ = ["BACK_EDGE_HELP", "readings_panel"]

BACK_EDGE_HELP = (
    "how far the back's edge lies from the front's, along the datum edge: at each end hold a square with its "
    "stock on the front and its blade down past the front's edge, and read with a rule from the blade to the "
    "back's edge. Say **out** where the back reaches out beyond the front, so that you see its bark from "
    "above, and **under** where it is set in. Datum end first, then the far end; elsewhere add the place, as "
    "in 5 out at 900. It tells how the faces lie over one another to about 2 mm, where their outlines leave "
    "more than a third of the thickness open"
)


def readings_panel(job: Job, record: BoardRecord) -> None:
    """The fields of one board."""
    st.subheader(f"Board {plain(record.id)}", anchor=False)
    id = record.id
    left, middle, right = st.columns(3)
    with left:
        _size(job, record)
    with middle:
        _worth(job, record)
    with right:
        _how(job, record)
    if st.button(f"Take board {plain(id)} out of the job", key=f"drop-{id}"):
        save(f"take out board {id}", lambda now: without_board(now, id))
        st.rerun()


def _size(job: Job, record: BoardRecord) -> None:
    """What was measured first."""
    unit, id = job.units, record.id
    text_field(
        "Taped length", length_text(record.length, unit), f"length-{id}", board_change(id, length_typed)
    )
    text_field("Species", record.species, f"species-{id}", board_change(id, species_typed))
    text_field("Price", f"{record.price.amount:g}", f"price-{id}", board_change(id, price_typed))


def _worth(job: Job, record: BoardRecord) -> None:
    """Widths, moisture, price."""
    unit, id = job.units, record.id
    text_field(
        "Taped widths, from the datum end",
        _in_a_row(record.widths, unit),
        f"widths-{id}",
        board_change(id, widths_typed),
        help="one, or several evenly spaced from the datum end to the far end: three tell a bow of the board"
        " from a bent lens; of a waney board at least three, one more than it has photos, square across the"
        " front without the bark",
    )
    if record.waney and record.back is not None:
        text_field(
            "Taped widths of the back",
            _in_a_row(record.back_widths, unit),
            f"back-widths-{id}",
            board_change(id, back_widths_typed),
            placeholder="not read",
            help="as those of the front: bark slopes, so the back is wider or narrower, and cannot be brought"
            " to scale by the front's widths",
        )
        text_field(
            "Back beyond the front, at the datum edge",
            back_edge_text(record.back_edge, record.length, unit),
            f"back-edge-{id}",
            board_change(id, back_edge_typed),
            placeholder="12 out / 8 under" if unit == "mm" else '1/2" out ; 3/8" under',
            help=BACK_EDGE_HELP,
        )
        if not record.back_edge:
            st.caption(
                "At each end: a square held to the front's edge, a rule from it to the back's. **out** if "
                "you see bark from above, **under** if not."
            )
    text_field(
        "Moisture, %",
        "" if record.moisture is None else f"{record.moisture:g}",
        f"moisture-{id}",
        board_change(id, moisture_typed),
        placeholder="not measured",
    )
    choice_field(
        "Price is for",
        [basis.value for basis in PriceBasis],
        record.price.basis.value,
        f"basis-{id}",
        board_change(
            id,
            basis_typed,
        ),
    )


def _in_a_row(widths: tuple[tuple[float, float], ...], unit: Units) -> str:
    return (" / " if unit == "mm" else " ; ").join(length_text(width, unit) for _, width in widths)


def _how(job: Job, record: BoardRecord) -> None:
    """How it lies, was turned, and whether it is used."""
    unit, id = job.units, record.id
    text_field(
        "Thickness as it lies",
        length_text(record.thickness, unit),
        f"thick-{id}",
        board_change(id, thickness_typed),
    )
    choice_field(
        "Turned over for the back",
        [turn.value for turn in Turn],
        record.turned.value,
        f"turned-{id}",
        board_change(id, turned_typed),
        help="rolled over its long edge, or tumbled end over end",
    )
    choice_field(
        "Nearer the pith",
        [NOT_LOOKED_AT, *(face.value for face in Face)],
        NOT_LOOKED_AT if record.heart is None else record.heart.value,
        f"heart-{id}",
        board_change(id, heart_typed),
        help="look at the rings on the end: they curve round the face that lay nearer the pith;"
        " glue-ups turn staves by it",
    )
    switch_field(
        "Waney edges: followed in the photo",
        record.waney,
        f"waney-{id}",
        lambda now, on: replaced_board(now, waney_switched(now.board(id), on)),
    )
    switch_field("Already mine", record.owned, f"owned-{id}", lambda now, on: _switched(now, id, owned=on))
    switch_field(
        "Marker sheet lies beside it",
        record.sheet_on_bench,
        f"sheet-{id}",
        lambda now, on: _switched(now, id, sheet_on_bench=on),
    )
    text_field(
        "The line on the marker sheet measures",
        "" if record.sheet_line is None else length_text(record.sheet_line, unit),
        f"sheet-line-{id}",
        board_change(id, sheet_line_typed),
        placeholder="not measured",
    )
    switch_field(
        "Leave it out of the plan",
        record.forbidden,
        f"out-{id}",
        lambda now, on: _switched(now, id, forbidden=on),
    )


def _switched(job: Job, id: str, **on: bool) -> Job:
    return replaced_board(job, job.board(id).model_copy(update=on))
