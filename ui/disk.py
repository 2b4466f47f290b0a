"""Bytes to disk and back: whole or not at all, and what goes wrong said in one sentence."""

import os
import stat
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from glob import escape
from pathlib import Path

from ui.jobfile import JobError

__all__ = [
    "PART",
    "append",
    "bytes_of",
    "check_writable",
    "is_free",
    "reason_of",
    "refusing",
    "write_all",
    "write_whole",
]

PART = ".part"
"""How the name of a file ends while it is being written; it begins with a dot."""
_LEFT_OVER = 60.0  # seconds; no file takes that long to write
_LARGEST = 1_000_000_000  # bytes; 80 megapixels in the fullest form any camera gives are half of that


def bytes_of(path: Path) -> bytes:
    """The bytes of a file somebody named.

    Raises
    ------
    JobError
        It is not there, can't be read, or is no file that could be meant.
    """
    try:
        found = path.stat()
        if not stat.S_ISREG(found.st_mode) and not stat.S_ISDIR(found.st_mode):
            raise JobError(f"{path}: is no plain file; copy what it holds into one")
        if found.st_size > _LARGEST:
            raise JobError(f"{path}: {found.st_size / 1e9:.1f} GB; the most that is read is 1 GB")
        return path.read_bytes()
    except FileNotFoundError:
        raise JobError(f"{path}: there is no such file") from None
    except (OSError, ValueError) as error:
        raise JobError(f"{path}: can't be read ({reason_of(error)})") from error


def is_free(folder: Path) -> bool:
    """Whether a folder may be filled: it is not there yet, or empty."""
    return not folder.exists() or (folder.is_dir() and not any(folder.iterdir()))


def check_writable(folder: Path) -> None:
    """Find out before long work whether its result can be written.

    Raises
    ------
    JobError
        The folder, or the one it is to be made in, can't be written.
    """
    there = next(path for path in (folder, *folder.absolute().parents) if path.exists())
    with refusing(folder):
        handle, name = tempfile.mkstemp(prefix=".probe.", suffix=PART, dir=there)
        os.close(handle)
        Path(name).unlink()


def write_whole(path: Path, data: bytes) -> None:
    """Write a file so that it is there whole or as it was before, whatever happens meanwhile.

    Raises
    ------
    JobError
        The disk is full, the folder can't be written, or the name can't be.
    """
    with refusing(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=PART, dir=path.parent)
        try:
            _clear_away(path, Path(name).stat().st_mtime)
            with os.fdopen(handle, "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            Path(name).chmod(0o644)
            Path(name).replace(path)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
        _settle(path.parent)


def _clear_away(path: Path, now: float) -> None:
    """Remove what a program killed while it wrote this file has left of it.

    `now` is told by the disk: a share keeps the time of its own machine, which may be hours off.
    """
    for part in path.parent.glob(f".{escape(path.name)}.*{PART}"):
        with suppress(FileNotFoundError):  # another program is done with it just now
            if now - part.stat().st_mtime > _LEFT_OVER:
                part.unlink()


def append(path: Path, data: bytes) -> None:
    """Add bytes to the end of a file; a crash may leave them there in part.

    Raises
    ------
    JobError
        As for `write_whole`.
    """
    with refusing(path):
        new = not path.exists()
        with path.open("ab") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if new:
            _settle(path.parent)


def _settle(folder: Path) -> None:
    """Force a folder's names to disk, where the system can: a file's new name is as safe as its bytes."""
    if os.name == "posix":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


@contextmanager
def refusing(path: Path) -> Iterator[None]:
    """Turn what the system says of a write into one sentence."""
    try:
        yield
    except (OSError, ValueError) as error:
        raise JobError(f"{path}: can't be written ({reason_of(error)})") from error


def reason_of(error: Exception) -> str:
    """What the system says, without its numbers."""
    return (error.strerror if isinstance(error, OSError) else None) or str(error)


def write_all(folder: Path, files: Mapping[str, bytes]) -> tuple[Path, ...]:
    """Write files into a folder, each whole; their paths."""
    paths = []
    for name, data in files.items():
        path = folder / name
        write_whole(path, data)
        paths.append(path)
    return tuple(paths)
