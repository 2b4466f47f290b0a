"""What each verb of the command does: an exit status, an answer for `--json`, and the same in lines."""

import argparse
import json
import os
import sys
import time
from dataclasses import asdict
from typing import Any

from layout.stock import Face, Turn
from ui import chain
from ui.changes import edit_between
from ui.cutting_list import parts_from_csv
from ui.disk import check_writable
from ui.files import JobFolder, bytes_of, is_free, kept_in, write_all
from ui.jobfile import BoardRecord, FaceRecord, Job, JobError, job_json
from ui.jobfile import schema as job_schema
from ui.lenses import lenses_of
from ui.outputs import face_looks, sheet_files
from ui.report import plan_report
from ui.sample import sample_job, settled
from ui.survey import SurveyedFace, photo_from, surveyed_board
from ui.wording import counted

__all__ = ["Answer", "check", "demo", "open_page", "plan", "schema", "sheets", "survey"]

Answer = tuple[int, dict[str, Any], list[str]]

_SURE = 0.5  # below this an outline asks to be looked at (vision.outline)


def survey(wanted: argparse.Namespace) -> Answer:
    """Boards from their photos: true scale, suggested marks, into a new job or one that is there."""
    if len(wanted.photos) == 1 and wanted.photos[0].is_dir():
        return _survey_of_folder(wanted)
    if wanted.length is None or wanted.width is None:
        raise JobError("give the --length and the --width that the tape says; see clearface survey --help")
    if len(wanted.photos) > 2:
        raise JobError(
            "survey takes one board: give the photo of its front and, if there is one, of its back"
        )
    adding = (wanted.out / "job.json").is_file()
    if not adding and not is_free(wanted.out):
        raise JobError(f"{wanted.out}: is neither new nor a job; give a new folder")
    check_writable(wanted.out)
    photos = [(face, str(path), bytes_of(path)) for face, path in zip(Face, wanted.photos, strict=False)]
    job = JobFolder(wanted.out).job() if adding else Job(name=wanted.out.resolve().name)
    files: dict[str, bytes] = {}
    others = lenses_of(job, photo_from(photos[0][2], photos[0][1]))
    record, faces = surveyed_board(
        _record(wanted, job), photos, kept_in(files), profile=job.lens, others=others
    )
    after = job.model_copy(update={"boards": (*job.boards, record)})
    if adding:
        write_all(wanted.out, files)
        JobFolder(wanted.out).do(edit_between(job, after, f"add board {record.id}"))
    else:
        JobFolder.created(wanted.out, after, files)
    told = {
        "job": str(wanted.out),
        "board": record.id,
        "faces": {face.value: _face_told(found) for face, found in faces.items()},
    }
    lines = [line for face, found in faces.items() for line in _face_lines(record.id, face, found)]
    return 0, told, [*lines, f"written to {wanted.out}"]


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


def plan(wanted: argparse.Namespace) -> Answer:
    """Lay out, ask the verifier, and only then keep the layout."""
    folder = JobFolder(wanted.job)
    before = folder.job()
    job = before
    if wanted.parts is not None:
        text = bytes_of(wanted.parts).decode("utf-8", "replace")
        job = job.model_copy(update={"parts": parts_from_csv(text, str(wanted.parts), job.units)})
    if wanted.accept is not None:
        job = chain.accepted(job, wanted.accept)
    for sentence in chain.parts_too_long(job):
        raise JobError(sentence)
    start = time.perf_counter()
    layout = chain.planned(
        job,
        seconds=wanted.seconds,
        iterations=wanted.iterations,
        seed=wanted.seed,
        looks=face_looks(job, folder.read),
    )
    seconds = time.perf_counter() - start
    job = job.model_copy(update={"layout": layout})
    report = plan_report(job, _verdict(job), seconds)
    if not report.violations:
        folder.do(edit_between(before, job, "plan"))
    return int(bool(report.violations)), report.as_dict(), report.lines()


def sheets(wanted: argparse.Namespace) -> Answer:
    """Pictures and tables of the job's layout into a folder."""
    folder = JobFolder(wanted.job)
    check_writable(wanted.out)
    paths = write_all(wanted.out, sheet_files(folder.job(), folder.read))
    told = {"files": [str(path) for path in paths]}
    return 0, told, [f"{counted(len(paths), 'file')} written to {wanted.out}"]


def check(wanted: argparse.Namespace) -> Answer:
    """The verifier's word on the job's layout."""
    found = chain.checked(JobFolder(wanted.job).job())
    told = {"violations": [asdict(one) for one in found]}
    if not found:
        return 0, told, ["the verifier finds nothing wrong"]
    return 1, told, [f"board {one.board}: {one.message}" if one.board else one.message for one in found]


def demo(wanted: argparse.Namespace) -> Answer:
    """The whole sample job from its photographs, into a new folder."""
    if not is_free(wanted.out):
        raise JobError(f"{wanted.out}: is not empty; give a new folder")
    check_writable(wanted.out)
    start = time.perf_counter()
    files: dict[str, bytes] = {}
    job, notes = sample_job(kept_in(files))
    job = settled(job)
    layout = chain.planned(job, seconds=wanted.seconds, looks=face_looks(job, files.__getitem__))
    job = job.model_copy(update={"layout": layout})
    report = plan_report(job, _verdict(job), time.perf_counter() - start)
    drawn = sheet_files(job, files.__getitem__)
    paths = write_all(wanted.out, files | {f"sheets/{name}": data for name, data in drawn.items()})
    write_all(wanted.out, {"job.json": job_json(job).encode()})
    told = report.as_dict() | {"notes": notes, "files": [str(path) for path in paths]}
    lines = [*notes, *report.lines(), f"written to {wanted.out} (pictures and tables in sheets/)"]
    return int(bool(report.violations)), told, lines


def schema(_: argparse.Namespace) -> Answer:
    """The JSON Schema of job.json."""
    told = job_schema()
    return 0, told, [json.dumps(told, indent=1)]


def open_page(wanted: argparse.Namespace) -> Answer:
    """The page, until it is closed."""
    from ui.serve import serve  # streamlit takes a second to load; the other verbs do without

    serve(wanted.job, phone=wanted.phone, port=wanted.port, browser=wanted.browser)
    return 0, {}, ["closed"]


def _record(wanted: argparse.Namespace, job: Job) -> BoardRecord:
    taken = {board.id for board in job.boards}
    number = wanted.number or next(str(n) for n in range(1, len(taken) + 2) if str(n) not in taken)
    if number in taken:
        raise JobError(f"board {number} is in the job already; give another --number")
    front = None
    if wanted.corners:
        first, second, third, fourth = (_corner(text) for text in wanted.corners)
        front = FaceRecord(corners_px=(first, second, third, fourth))
    return BoardRecord(
        id=number,
        length=wanted.length,
        widths=((0.0, wanted.width),),
        thickness=wanted.thickness,
        species=wanted.species,
        turned=Turn(wanted.turned),
        front=front,
    )


def _corner(text: str) -> tuple[float, float]:
    try:
        x, y = (float(value) for value in text.split(","))
    except ValueError:
        raise JobError(f"corner {text!r}: give x,y in pixels of the photo, for example 120,340") from None
    return x, y


def _face_told(found: SurveyedFace) -> dict[str, Any]:
    return {
        "px_per_mm": found.px_per_mm,
        "error_mm": round(found.error_mm, 2),
        "corners_px": found.corners_px,
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
    return [first, *(f"  {note}" for note in found.notes)]


def _verdict(job: Job) -> tuple[str, ...]:
    return tuple(
        f"board {one.board}: {one.message}" if one.board else one.message for one in chain.checked(job)
    )
