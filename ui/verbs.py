"""What each verb of the command does: an exit status, an answer for `--json`, and the same in lines."""

import argparse
import json
import time
from dataclasses import asdict

from layout.solve.prover import make_ready
from ui import chain
from ui.changes import edit_between
from ui.cutting_list import parts_from_csv
from ui.disk import check_writable
from ui.files import JobFolder, bytes_of, is_free, kept_in, write_all
from ui.jobfile import Job, JobError, job_json
from ui.jobfile import schema as job_schema
from ui.outputs import face_looks, sheet_files
from ui.planning import worse
from ui.report import plan_report
from ui.sample import sample_job, settled
from ui.survey_verb import Answer, survey
from ui.wording import counted

__all__ = ["Answer", "check", "demo", "open_page", "plan", "schema", "sheets", "survey"]


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
    after = job.model_copy(update={"layout": layout})
    stays = worse(job, after)
    report = plan_report(job if stays else after, _verdict(job if stays else after), seconds)
    if not report.violations:
        folder.do(edit_between(before, report.job, "plan"))
    lines = report.lines()
    if stays:
        lines.append("No better plan was found in this time; the present one stays.")
    return int(bool(report.violations)), report.as_dict() | {"present_plan_stays": stays}, lines


def sheets(wanted: argparse.Namespace) -> Answer:
    """Pictures and tables of the job's layout into a folder."""
    folder = JobFolder(wanted.job)
    check_writable(wanted.out)
    drawn = sheet_files(folder.job(), folder.read, wanted.paper, upright=wanted.upright)
    paths = write_all(wanted.out, drawn)
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
    make_ready()
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


def _verdict(job: Job) -> tuple[str, ...]:
    return tuple(
        f"board {one.board}: {one.message}" if one.board else one.message for one in chain.checked(job)
    )
