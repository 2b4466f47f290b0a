"""The sample job, done from its photographs as a maker would do it."""

import sys
from dataclasses import replace

from layout.stock import Face, Where
from ui import chain, survey
from ui.files import JobFolder, bytes_of, kept_in, samples_folder, write_all
from ui.jobfile import BoardRecord, FaceRecord, Job, JobError, job_from, job_json
from ui.lenses import lens_seen, lenses_of, sheets_in
from ui.library import folder_of, jobs_folder
from ui.surveyed import SurveyedFace
from ui.wording import counted
from vision.marks import MarkState

__all__ = ["SAMPLE", "finished_sample", "main", "sample_job", "sample_shelf", "settled"]

SAMPLE = "bedside_cabinets"
FINISHED = "finished"


def sample_job(keep: survey.Keep) -> tuple[Job, list[str]]:
    """The sample job surveyed from its photos.

    The sample's own job.json holds tape readings, the cutting list and the marks
    its maker has confirmed; what is suggested beyond them stays pending.

    Parameters
    ----------
    keep : callable
        Stores photos and pictures.

    Returns
    -------
    (Job, list of str)
        The job, and a line for each face photographed.
    """
    folder = samples_folder() / SAMPLE
    job = job_from(bytes_of(folder / "job.json"), "sample job")
    photos = {
        record.id: [
            (face, known.photo, bytes_of(folder / known.photo))
            for face in Face
            if (known := record.face(face)) is not None and known.photo is not None
        ]
        for record in job.boards
    }
    job = _with_lenses(job, photos)
    boards, notes = [], []
    for record in job.boards:
        size = survey.photo_from(photos[record.id][0][2], record.id)
        others = lenses_of(job, size, (record.id, Face.FRONT))
        surveyed, faces = survey.surveyed_board(record, photos[record.id], keep, others=others)
        boards.append(surveyed)
        notes += [_face_line(surveyed, face, found) for face, found in faces.items()]
    job = job.model_copy(update={"boards": tuple(boards)})
    return job, notes


def _with_lenses(job: Job, photos: dict[str, list[tuple[Face, str, bytes]]]) -> Job:
    """The job with its corners found, and what each photo alone says of the lens."""
    boards = []
    for record in job.boards:
        after = record
        for face, name, data in photos[record.id]:
            photo, known = survey.photo_from(data, name), record.face(face)
            corners = known.corners_px if known else None
            corners = corners or survey.corners_in(photo, name)[0]
            fresh = FaceRecord(
                photo=name,
                corners_px=corners,
                outline_mm=known.outline_mm if known else None,
                size_px=(photo.width_px, photo.height_px),
                lens=lens_seen(photo, corners, record, sheets_in(photo, record), face),
            )
            after = after.model_copy(update={face.value: fresh})
        boards.append(after)
    return job.model_copy(update={"boards": tuple(boards)})


def settled(job: Job, but: frozenset[str] = frozenset()) -> Job:
    """The job with every pending suggestion dismissed, as its maker did; boards named stay to be judged."""
    boards = tuple(
        board
        if board.id in but
        else board.model_copy(
            update={
                "marks": tuple(
                    replace(mark, state=MarkState.DISMISSED) if mark.state is MarkState.PENDING else mark
                    for mark in board.marks
                )
            }
        )
        for board in job.boards
    )
    return job.model_copy(update={"boards": boards})


def sample_shelf() -> str:
    """The id of the sample job among the maker's jobs, made if it is not there yet.

    It is the sample as `main` finished it, so that it opens at once. One board
    is left with its suggestions, for whoever opens it to try his hand.
    """
    id = SAMPLE.replace("_", "-")
    try:
        folder_of(id)
    except JobError:
        job, files = finished_sample()
        JobFolder.created(jobs_folder() / id, job, files)
    return id


def finished_sample() -> tuple[Job, dict[str, bytes]]:
    """The sample job as it was finished, and its files by their paths.

    Raises
    ------
    JobError
        The sample is not installed whole.
    """
    folder = samples_folder() / SAMPLE
    job = job_from(bytes_of(folder / FINISHED / "job.json"), "sample job")
    files: dict[str, bytes] = {}
    keep = kept_in(files)
    for path in sorted((folder / "photos").glob("*.jpg")):
        keep("photos", survey.kept_photo(bytes_of(path), path.name), ".jpg")
    for record in job.boards:
        for known in (record.front, record.back):
            if known is not None and known.picture is not None:
                files[known.picture] = bytes_of(folder / FINISHED / known.picture)
    return job, files


def main() -> int:
    """Finish the sample anew from its photographs: ``python -m ui.sample``; 0 when the verifier agrees."""
    files: dict[str, bytes] = {}
    job, _ = sample_job(kept_in(files))
    waiting = [board.id for board in job.boards if any(m.state is MarkState.PENDING for m in board.marks)]
    job = settled(job, frozenset(waiting[:1]))
    job = job.model_copy(update={"layout": chain.planned(job, seconds=30.0)})
    if chain.checked(job):
        return 1
    folder = samples_folder() / SAMPLE / FINISHED
    write_all(folder, {name: data for name, data in files.items() if name.startswith("pictures/")})
    write_all(folder, {"job.json": job_json(job).encode()})
    return 0


def _face_line(board: BoardRecord, face: Face, found: SurveyedFace) -> str:
    own = [mark for mark in board.marks if mark.where.value in (face.value, Where.THROUGH)]
    kept = sum(mark.state is MarkState.CONFIRMED for mark in own)
    waiting = sum(mark.state is MarkState.PENDING for mark in own)
    new = f", {waiting} of them not the maker's" if waiting else ""
    return (
        f"board {board.id}, {face.value}: true to +-{found.error_mm:.1f} mm; "
        f"{counted(len(found.marks), 'mark')} suggested{new}; the maker has {kept or 'none'}"
    )


if __name__ == "__main__":
    sys.exit(main())
