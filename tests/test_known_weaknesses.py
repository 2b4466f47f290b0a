"""No library is let in with a weakness known and mended, and none that nobody looked at.

`advisories.csv` has a row for each advisory that was read, and one for each library without: the least
version without the weakness (empty where nothing is to be held), when it was looked at, and how:

- page: an advisory, or who cites it, was read in public text that reaches to 23 November 2026;
- notes: a release says so without a number;
- search: that text was searched and nothing newer found, which a public copy with gaps does not prove;
- list: only the advisory database of the Python packaging authority was looked at, whole to about 2023;
- not searched: nobody did; such libraries hold types or tables, or run in tests and clusters only.

No advisory service was asked; how to ask one is in DEVELOPERS.md.
"""

import csv
import tomllib
from collections.abc import Iterable
from datetime import date
from importlib.metadata import PackageNotFoundError, requires, version
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

HERE = Path(__file__).parent
with (HERE / "advisories.csv").open(newline="") as _table:
    ADVISORIES = tuple(csv.DictReader(_table))
MENDED = [(row["library"], row["mended"], row["advisory"]) for row in ADVISORIES if row["mended"]]
LOOKED_AT = {row["library"] for row in ADVISORIES}
WAYS = ("page", "notes", "search", "list", "not searched")


def named() -> list[Requirement]:
    """Every library that the project itself names, for running, testing, training and many machines."""
    project = tomllib.loads((HERE.parent / "pyproject.toml").read_text())["project"]
    extras = project["optional-dependencies"].values()
    return [
        Requirement(text) for text in (*project["dependencies"], *(one for extra in extras for one in extra))
    ]


def floors() -> dict[str, Version]:
    """The least version of every library that the project itself names."""
    found: dict[str, Version] = {}
    for asked in named():
        least = [Version(one.version) for one in asked.specifier if one.operator in (">=", "==")]
        assert least, f"{asked}: any version is let in; name the least"
        found[canonicalize_name(asked.name)] = max(least)
    return found


def needed(asked: Iterable[Requirement]) -> set[str]:
    """The libraries asked for, and as far as they are installed all that those ask for in turn."""
    seen: set[tuple[str, frozenset[str]]] = set()
    waiting = list(asked)
    while waiting:
        one = waiting.pop()
        name = canonicalize_name(one.name)
        wanted = ("", *one.extras)
        if (name, frozenset(wanted)) in seen:
            continue
        seen.add((name, frozenset(wanted)))
        try:
            of_this = [Requirement(text) for text in requires(one.name) or ()]
        except PackageNotFoundError:
            continue
        waiting += [
            each
            for each in of_this
            if each.marker is None or any(each.marker.evaluate({"extra": extra}) for extra in wanted)
        ]
    return {name for name, _ in seen}


@pytest.mark.parametrize(("library", "mended", "advisory"), MENDED)
def test_a_version_with_a_known_weakness_is_not_let_in(library: str, mended: str, advisory: str) -> None:
    least = floors().get(library)
    if least is not None:
        assert least >= Version(mended), f"{library} >= {least} lets in {advisory}"
    try:
        installed = Version(version(library))
    except PackageNotFoundError:
        return
    assert installed >= Version(mended), f"{library} {installed} has {advisory}"


def test_nothing_is_needed_that_nobody_looked_at() -> None:
    unseen = needed(named()) - LOOKED_AT
    assert not unseen, f"look for advisories of {sorted(unseen)} and add them to tests/advisories.csv"


def test_every_row_says_when_and_how_it_was_looked_at() -> None:
    for row in ADVISORIES:
        assert row["library"] == canonicalize_name(row["library"])
        assert date.fromisoformat(row["looked"]) >= date(2026, 11, 25)
        assert row["how"].startswith(WAYS), row
        assert row["advisory"] or row["how"].startswith("not searched"), row


def test_what_reads_the_bytes_of_a_phone_has_a_least_version() -> None:
    readers = {"streamlit", "starlette", "python-multipart", "h11", "pillow", "pillow-heif", "opencv-python"}
    assert readers <= floors().keys()


def test_a_library_that_nobody_looked_at_is_found() -> None:
    asked = [*named(), Requirement("a-library-nobody-looked-at>=1")]
    assert needed(asked) - LOOKED_AT == {"a-library-nobody-looked-at"}
