"""The jobs on this machine: where each is, which was last open, a new one, the sample."""

import json
import re
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any

from ui.files import JobFolder, bytes_of, data_folder, write_whole
from ui.jobfile import VERSION, Job, JobError

__all__ = ["Shelf", "folder_of", "id_of", "jobs_folder", "last_job", "new_job", "remember", "shelves"]

_HEAD = re.compile(rb'\{\s*"version":\s*(\d{1,9}),\s*"name":\s*("(?:[^"\\\x00-\x1f]|\\.)*")')
_ID = re.compile(r"[a-z0-9][a-z0-9_-]{0,80}")


@dataclass(frozen=True)
class Shelf:
    """One job in the list of jobs."""

    id: str
    name: str
    changed: float
    problem: str = ""  # why it can't be opened


def shelves(but: str = "") -> tuple[Shelf, ...]:
    """Every job on this machine but one, the last changed first; of one that can't be opened, why."""
    found = []
    for id in {*_inside(), *_known()["elsewhere"]} - {but}:
        try:
            folder = folder_of(id)
            changed = (folder.path / "job.json").stat().st_mtime
        except (JobError, OSError):
            continue  # gone, or a stick that is not plugged in
        try:
            found.append(Shelf(id, _name_of(folder), changed))
        except JobError as error:
            found.append(Shelf(id, id, changed, str(error)))
    return tuple(sorted(found, key=lambda shelf: (-shelf.changed, shelf.id)))


def _name_of(folder: JobFolder) -> str:
    """The name on a job, from the first lines of its file: a yard of thousands of boards need not be read."""
    try:
        with (folder.path / "job.json").open("rb") as file:
            found = _HEAD.match(file.read(2000))
        if found is not None and int(found[1]) == VERSION:
            return str(json.loads(found[2]))
    except (OSError, ValueError):
        pass  # then opening it whole says what is wrong
    return folder.job().name


def folder_of(id: str) -> JobFolder:
    """The folder of a job by its id.

    Raises
    ------
    JobError
        No such job.
    """
    if not _ID.fullmatch(id):
        raise JobError(f"{id[:40]!r} is not the name of a job")
    elsewhere = _known()["elsewhere"].get(id)
    path = Path(elsewhere) if elsewhere else jobs_folder() / id
    try:
        there = (path / "job.json").is_file()
    except (OSError, ValueError):  # a name that no folder can have
        there = False
    if not there:
        raise JobError(f"the job {id!r} is not on this machine any more")
    return JobFolder(path)


def id_of(path: Path) -> str:
    """The id of the job in a folder, wherever it is; it is known by it from now on.

    Raises
    ------
    JobError
        There is no job in it.
    """
    path = path.resolve()
    JobFolder(path).job()
    if path.parent == jobs_folder().resolve() and _ID.fullmatch(path.name):
        return path.name
    id = f"{_plain(path.name)}-{sha256(str(path).encode()).hexdigest()[:8]}"
    known = _known()
    if known["elsewhere"].get(id) != str(path):
        known["elsewhere"][id] = str(path)
        _write(known)
    return id


def new_job(name: str) -> str:
    """The id of a new, empty job.

    Raises
    ------
    JobError
        It has no name.
    """
    if not name.strip():
        raise JobError("give the job a name")
    base = _plain(name)
    number, id = 1, base
    while (jobs_folder() / id).exists():
        number += 1
        id = f"{base}-{number}"
    JobFolder.created(jobs_folder() / id, Job(name=name.strip()))
    return id


def last_job() -> str | None:
    """The id of the job last open, if it is still there."""
    id = _known()["last"]
    try:
        folder_of(id or "")
    except JobError:
        return None
    return str(id)


def remember(id: str) -> None:
    """Note which job was last open."""
    known = _known()
    if known["last"] != id:
        _write(known | {"last": id})


def jobs_folder() -> Path:
    """Where jobs made by the program itself are kept."""
    return data_folder() / "jobs"


def _inside() -> list[str]:
    if not jobs_folder().is_dir():
        return []
    return [path.name for path in jobs_folder().iterdir() if _ID.fullmatch(path.name)]


def _known() -> dict[str, Any]:
    try:
        raw = json.loads(bytes_of(data_folder() / "known.json"))
        last, elsewhere = raw.get("last"), dict(raw.get("elsewhere", {}))
        return {
            "last": last if isinstance(last, str) else None,
            "elsewhere": {id: path for id, path in elsewhere.items() if isinstance(path, str)},
        }
    except (JobError, ValueError, TypeError, AttributeError):
        return {"last": None, "elsewhere": {}}


def _write(known: dict[str, Any]) -> None:
    write_whole(data_folder() / "known.json", json.dumps(known, indent=1).encode())


def _plain(name: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:60] or "job"
