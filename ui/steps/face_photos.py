"""The photographs of one face: which is looked at, the ticks read in it, and more of a long one."""

from collections.abc import Sequence

import streamlit as st

from layout.stock import Face
from ui import state
from ui.face_records import FurtherPhoto, Place
from ui.further import photos_kept, place_named_anew, tick_read_anew, with_further, without_photo
from ui.jobfile import Job, JobError
from ui.lengths import length_text
from ui.steps.frame import save, text_field

__all__ = ["further_photos", "photo_picker", "ticks_panel"]


def photo_picker(board: str, face: Face, photos: Sequence[FurtherPhoto]) -> int:
    """Which photo of a face is looked at, counted from 0."""
    if len(photos) < 2:
        return 0
    numbers = list(range(len(photos)))
    chosen = st.radio(
        "Photo of this face, from left to right",
        numbers,
        format_func=lambda number: str(number + 1),
        horizontal=True,
        key=f"photo-of-{board}-{face.value}",
    )
    return int(chosen)


def ticks_panel(job: Job, board: str, face: Face, number: int, photos: Sequence[FurtherPhoto]) -> None:
    """The readings of the ticks in a photo; how to add one is said where there are few."""
    ticks = photos[number].ticks
    if not ticks and len(photos) > 1:
        st.markdown(
            "Pencil lines square across the board, one in each overlap and one every half metre, read with "
            "the tape from the datum end of the whole board: press **Add a tick**, tap each line in every "
            "photo that shows it and give its reading."
        )
    elif len(ticks) < 3 and len(photos) == 1:
        st.markdown(
            "Three pencil lines square across the board, a quarter of its length apart and read with the "
            "tape, make its picture true to about a millimetre even if the lens is not known: press "
            "**Add a tick**, tap each line in the photo and give its reading from the datum end. "
            "Where the line runs exactly is seen by itself. Half of that is had by reading the width at "
            "both ends and in the middle."
        )
    _places(board, face, number, photos[number].places)
    if not ticks:
        return
    columns = st.columns(4)
    for index, tick in enumerate(ticks):
        with columns[index % len(columns)]:
            text_field(
                f"Tick {index + 1} reads",
                length_text(tick.reading, job.units),
                f"tick-{board}-{face.value}-{number}-{index}",
                lambda now, text, index=index: tick_read_anew(now, board, face, number, index, text),  # type: ignore[misc]
                help="empty it to take the tick away",
            )


def _places(board: str, face: Face, number: int, places: Sequence[Place]) -> None:
    """The names of the places that both faces show."""
    columns = st.columns(4) if places else []
    for index, place in enumerate(places):
        with columns[index % len(columns)]:
            text_field(
                f"Place {index + 1} is called",
                place.name,
                f"place-{board}-{face.value}-{number}-{index}",
                lambda now, text, index=index: place_named_anew(now, board, face, number, index, text),  # type: ignore[misc]
                help="the same name on the other face means the same hole or nail; empty it to take it away",
            )


def further_photos(board: str, face: Face, photos: Sequence[FurtherPhoto]) -> None:
    """Add photos of a face that is too long for one, or take one out again."""
    with st.expander("Further photographs of this face, if it is too long for one", expanded=len(photos) > 1):
        st.markdown(
            "Photograph it piece by piece from the datum end on, each photo a third over the one before. "
            "A chalk line across the overlap, added as a tick in both photos, makes a doubtful join sure. "
            "Of a waney board set the corners of each photo by hand where it is cut off, on the wood and not "
            "on the bark. Read its width at one place more than there are photos, evenly spaced, and give "
            "all below under **Taped widths**. Pencil lines every half metre, read with the tape and added "
            "as ticks, make it true to about a millimetre."
        )
        given = st.file_uploader(
            "The next photographs of this face, in order",
            type=["image/*", "heic", "heif"],
            accept_multiple_files=True,
            key=f"further-{board}-{face.value}-{len(photos)}",
        )
        if given and st.button("Add them to this face", key=f"add-further-{board}-{face.value}"):
            _add(board, face, [(one.name, one.getvalue()) for one in given])
        for number in range(1, len(photos)):
            if st.button(f"Take photo {number + 1} out", key=f"drop-further-{board}-{face.value}-{number}"):
                save(
                    f"take photo {number + 1} out of board {board}",
                    lambda job, number=number: without_photo(job, board, face, number),  # type: ignore[misc]
                )
                st.rerun(scope="app")


def _add(board: str, face: Face, files: list[tuple[str, bytes]]) -> None:
    here = state.folder()
    try:
        fresh = photos_kept(here, files)
    except JobError as error:
        st.error(str(error))
        return
    save(f"add photos to board {board}", lambda job: with_further(job, board, face, fresh))
    st.rerun(scope="app")
