"""The verb ``survey``: photographs of one board, or of a whole yard, and what belongs to photographing.

One board by its front and back; one face too long for a photo by several
(``--one-face``); a folder of many boards; the marker sheet to print; a phone's lens.
"""

import argparse
import os
import sys
import time
from dataclasses import asdict
from math import hypot
from pathlib import Path
from typing import Any

from layout.stock import Face, Turn
from ui.back_edge import back_edge_from
from ui.changes import edit_between
from ui.disk import check_writable, reason_of, write_whole
from ui.face_records import FurtherPhoto, Tick
from ui.files import JobFolder, bytes_of, is_free, kept_in, write_all
from ui.jobfile import BoardRecord, FaceRecord, Job, JobError
from ui.lengths import evenly_spaced, length_in_mm
from ui.lenses import lenses_of
from ui.long_board import surveyed_long_face
from ui.phones import lens_learnt, profile_for
from ui.pictures import jpeg
from ui.survey import Keep, kept_photo, photo_from, surveyed_board, turn_seen
from ui.surveyed import Corners, SurveyedFace, with_surveyed
from ui.wording import counted

__all__ = ["Answer", "survey"]

Answer = tuple[int, dict[str, Any], list[str]]
Named = tuple[Face, str, bytes]

_SURE = 0.5  # below this an outline asks to be looked at (vision.outline)


def survey(wanted: argparse.Namespace) -> Answer:
    """Boards from their photos: true scale, suggested marks, into a new job or one that is there."""
    if wanted.marker_sheet is not None:
        return _marker_sheet(wanted)
    if wanted.learn_lens is not None:
        return _lens(wanted)
    if not wanted.photos:
        raise JobError("give the photo of the board; see clearface survey --help")
    for path in wanted.photos:
        _check_there(path)
    if wanted.out is None:
        raise JobError("give --out, a new folder for the job or a job to add to")
    if len(wanted.photos) == 1 and wanted.photos[0].is_dir():
        return _survey_of_folder(wanted)
    return _survey_of_board(wanted)


def _check_there(path: Path) -> None:
    """A slip in the name is told of before anything that was left out."""
    try:
        path.stat()
    except FileNotFoundError:
        raise JobError(f"{path}: there is no such file or folder") from None
    except (OSError, ValueError) as error:
        raise JobError(f"{path}: can't be read ({reason_of(error)})") from error


def _marker_sheet(wanted: argparse.Namespace) -> Answer:
    from ui.drawing.marker_sheet import marker_sheet_pdf  # a PDF writer is not for the other verbs

    write_whole(wanted.marker_sheet, marker_sheet_pdf())
    lines = [
        f"{wanted.marker_sheet} written; print it at 100 %, glue it to something flat and lay it on the board"
    ]
    return 0, {"files": [str(wanted.marker_sheet)]}, lines


def _lens(wanted: argparse.Namespace) -> Answer:
    """The phone's lens from photos of the marker sheet or of a chessboard."""
    columns, rows = wanted.learn_lens
    if not wanted.photos:
        raise JobError("give the photos of the marker sheet or the chessboard")
    files = [(str(path), bytes_of(path)) for path in wanted.photos]
    found = lens_learnt(columns, rows, files)
    width, height = found.size_px
    kept = photo_from(files[0][1], files[0][0]).focal_35mm is not None
    line = f"the lens is learnt from {counted(len(files), 'photo')} of {width} x {height} pixels"
    if not kept:
        raise JobError(
            f"{line}, but they do not say the focal length, so later photos cannot be known to be this "
            "phone's; give the photos as the phone took them"
        )
    lens = found.prior.lens
    told = {"size_px": found.size_px, "focal_px": lens.focal_px, "k1": lens.k1, "k2": lens.k2}
    return 0, told, [f"{line} and kept for every later photo of this phone"]


def _survey_of_board(wanted: argparse.Namespace) -> Answer:
    if wanted.length is None or wanted.width is None:
        raise JobError("give the --length and the --width that the tape says; see clearface survey --help")
    if wanted.one_face and len(wanted.photos) < 2:
        raise JobError("--one-face takes two photos or more of one face, each overlapping the one before")
    if len(wanted.photos) > 2 and not wanted.one_face:
        raise JobError(
            "survey takes one board: give the photo of its front and, if there is one, of its back; "
            "for overlapping photos of one long face add --one-face"
        )
    if wanted.face and len(wanted.photos) > 1 and not wanted.one_face:
        raise JobError("--face takes the photo of that one face; leave it out for front and back")
    adding = (wanted.out / "job.json").is_file()
    if not adding and not is_free(wanted.out):
        raise JobError(f"{wanted.out}: is neither new nor a job; give a new folder")
    check_writable(wanted.out)
    first = Face(wanted.face or Face.FRONT)
    faces_of = [first] * len(wanted.photos) if wanted.one_face else [first, first.other]
    photos = [(face, str(path), bytes_of(path)) for face, path in zip(faces_of, wanted.photos, strict=False)]
    job = JobFolder(wanted.out).job() if adding else Job(name=wanted.out.resolve().name)
    files: dict[str, bytes] = {}
    record, faces = _surveyed(wanted, job, photos, kept_in(files))
    after = job.model_copy(update={"boards": (*job.boards, record)})
    if adding:
        write_all(wanted.out, files)
        JobFolder(wanted.out).do(edit_between(job, after, f"add board {record.id}"))
    else:
        JobFolder.created(wanted.out, after, files)
    told: dict[str, Any] = {
        "job": str(wanted.out),
        "board": record.id,
        "faces": {face.value: _face_told(found) for face, found in faces.items()},
    }
    lines = [line for face, found in faces.items() for line in _face_lines(record.id, face, found)]
    if len(faces) > 1:
        doubt = turn_seen(record, faces[Face.FRONT].picture, faces[Face.BACK].picture).message
        told["turn"] = doubt or None
        lines += [f"board {record.id}: {doubt}"] if doubt else []
    return 0, told, [*lines, f"written to {wanted.out}"]


def _surveyed(
    wanted: argparse.Namespace, job: Job, photos: list[Named], keep: Keep
) -> tuple[BoardRecord, dict[Face, SurveyedFace]]:
    record = _record(wanted, job)
    first = photo_from(photos[0][2], photos[0][1])
    others = lenses_of(job, first)
    if not wanted.one_face:
        return surveyed_board(
            record,
            photos,
            keep,
            profile_of=lambda photo: profile_for(job, photo),
            others=others,
            check=_check(wanted),
        )
    taken = [(photo_from(data, name), name) for _, name, data in photos]
    face = photos[0][0]
    found = surveyed_long_face(taken, record, face, profile=profile_for(job, first), others=others)
    paths = [keep("photos", kept_photo(data, name), ".jpg") for _, name, data in photos]
    known = record.face(face) or FaceRecord()
    given = known.further or tuple(FurtherPhoto(photo=path) for path in paths[1:])
    further = tuple(
        one.model_copy(update={"photo": path}) for one, path in zip(given, paths[1:], strict=True)
    )
    record = record.model_copy(update={face.value: known.model_copy(update={"further": further})})
    picture = keep("pictures", jpeg(found.picture), ".jpg")
    return with_surveyed(record, face, found, paths[0], picture), {face: found}


def _survey_of_folder(wanted: argparse.Namespace) -> Answer:
    """A yard: every board of a folder's list, by all cores or a cluster; boards that can't be are named."""
    from ui import catalogue  # process pools are not for the other verbs

    def tell(line: str) -> None:
        sys.stderr.write(f"{line}\n")

    start = time.perf_counter()
    if wanted.cluster:
        with catalogue.dask_workers(wanted.cluster) as (workers, threads):
            found = catalogue.catalogued(wanted.photos[0], wanted.out, workers, 2 * threads, tell)
    else:
        many = wanted.workers or os.cpu_count() or 1
        with catalogue.cores(many) as workers:
            found = catalogue.catalogued(wanted.photos[0], wanted.out, workers, 2 * many, tell)
    seconds = time.perf_counter() - start
    told = {"job": str(wanted.out), "seconds": round(seconds, 1)} | asdict(found)
    lines = [
        f"{counted(len(found.done), 'board')} surveyed in {seconds:.0f} s, {len(found.before)} done before, "
        f"{len(found.problems)} not; written to {wanted.out}"
    ]
    return 2 if found.problems else 0, told, lines


def _record(wanted: argparse.Namespace, job: Job) -> BoardRecord:
    taken = {board.id for board in job.boards}
    number = wanted.number or next(str(n) for n in range(1, len(taken) + 2) if str(n) not in taken)
    if number in taken:
        raise JobError(f"board {number} is in the job already; give another --number")
    first = _set_by_hand(wanted)
    on_back = wanted.face == Face.BACK.value
    return BoardRecord(
        id=number,
        length=wanted.length,
        widths=evenly_spaced(wanted.width, wanted.length),
        back_widths=evenly_spaced(wanted.back_width, wanted.length) if wanted.back_width else (),
        back_edge=_back_edge(wanted),
        waney=wanted.waney,
        thickness=wanted.thickness,
        species=wanted.species,
        turned=Turn(wanted.turned),
        sheet_on_bench=wanted.sheet_beside,
        sheet_line=wanted.sheet_line,
        front=None if on_back else first,
        back=first if on_back else None,
    )


def _back_edge(wanted: argparse.Namespace) -> tuple[tuple[float, float], ...]:
    if wanted.back_edge and not wanted.waney:
        raise JobError("--back-edge is for a waney board; add --waney, or leave it out")
    try:
        return back_edge_from(wanted.back_edge, wanted.length)
    except ValueError as error:
        raise JobError(f"--back-edge: {error}") from error


def _set_by_hand(wanted: argparse.Namespace) -> FaceRecord | None:
    """The corners and ticks of the first photo, and with --one-face of the further ones."""
    many = len(wanted.photos) if wanted.one_face else 1
    quads = [_quad(texts) for texts in wanted.corners or ()]
    if len(quads) > many:
        raise JobError(f"--corners is given {len(quads)} times for {counted(many, 'photo')}; once for each")
    ticks: list[list[Tick]] = [[] for _ in range(many)]
    for text in wanted.tick:
        number, _, place = text.rpartition(":")
        if number and not (number.isdecimal() and 1 <= int(number) <= many):
            raise JobError(f"tick {text!r}: there is no photo {number}; give 1 to {many} before the colon")
        ticks[int(number or 1) - 1].append(_tick(place))
    if not quads and not any(ticks):
        return None
    corners = [*quads, *[None] * (many - len(quads))]
    further = tuple(
        FurtherPhoto(photo=str(path), corners_px=quad, ticks=tuple(several))
        for path, quad, several in zip(wanted.photos[1:many], corners[1:], ticks[1:], strict=True)
    )
    return FaceRecord(corners_px=corners[0], ticks=tuple(ticks[0]), further=further)


def _corner(text: str) -> tuple[float, float]:
    try:
        x, y = (float(value) for value in text.split(","))
    except ValueError:
        raise JobError(f"corner {text!r}: give x,y in pixels of the photo, for example 120,340") from None
    return x, y


def _quad(texts: list[str]) -> Corners:
    first, second, third, fourth = (_corner(text) for text in texts)
    return first, second, third, fourth


def _tick(text: str) -> Tick:
    place, _, reading = text.partition("=")
    try:
        return Tick(at_px=_corner(place), reading=length_in_mm(reading))
    except ValueError:
        raise JobError(
            f"tick {text!r}: give its place in the photo and its reading, for example 1200,640=900"
        ) from None


def _check(wanted: argparse.Namespace) -> tuple[str, Corners] | None:
    if (wanted.check_with is None) != (wanted.check_corners is None):
        raise JobError("--check-with and --check-corners go together: what lies there, and its four corners")
    return None if wanted.check_with is None else (wanted.check_with, _quad(wanted.check_corners))


def _face_told(found: SurveyedFace) -> dict[str, Any]:
    return {
        "px_per_mm": found.px_per_mm,
        "error_mm": round(found.error_mm, 2),
        "apart_mm": round(found.apart_mm, 2) if found.apart_mm else None,
        "error_along_mm": [
            {"x": round(x, 1), "along": round(along, 2), "across": round(across, 2)}
            for x, along, across in found.error_along
        ],
        "corners_px": found.corners_px,
        "further_corners_px": list(found.further_corners),
        "joins": [asdict(join) for join in found.joins],
        "rough_check": None if found.rough is None else asdict(found.rough),
        "confidence": found.confidence,
        "marks": [
            {"id": mark.id, "kind": mark.kind.value, "score": mark.score, "outline_mm": mark.outline}
            for mark in found.marks
        ],
        "notes": list(found.notes),
    }


def _face_lines(number: str, face: Face, found: SurveyedFace) -> list[str]:
    unsure = found.confidence is not None and found.confidence < _SURE
    look = "; unsure of the outline, look at it" if unsure else ""
    first = (
        f"board {number}, {face.value}: true to +-{found.error_mm:.1f} mm, "
        f"{counted(len(found.marks), 'mark')} suggested{look}"
    )
    agreed = [f"  {found.rough.message}"] if found.rough else []
    if found.apart_mm:
        agreed = [f"  over the other face it lies to +-{found.apart_mm:.1f} mm across", *agreed]
    return [first, *_along_lines(found), *agreed, *(f"  {note}" for note in found.notes)]


def _along_lines(found: SurveyedFace) -> list[str]:
    """The error at both ends and in the middle."""
    if len(found.error_along) < 3:
        return []
    stations = (found.error_along[0], found.error_along[len(found.error_along) // 2], found.error_along[-1])
    said = ", ".join(f"+-{hypot(along, across):.1f} mm at {x:.0f}" for x, along, across in stations)
    return [f"  along it: {said}"]
