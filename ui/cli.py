"""The command ``clearface``: the whole job without a browser, and the page with one."""

import argparse
import json
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, NoReturn

from layout.stock import Face, Turn
from ui import verbs
from ui.files import JobFolder
from ui.jobfile import JobError
from ui.lengths import length_in_mm
from ui.rough import THINGS

__all__ = ["main"]


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command; its exit status: 0 done, 1 the verifier rejects the layout, 2 wrong input.

    Parameters
    ----------
    argv : sequence of str or None
        Arguments after the command's name; None takes those of the process.
    """
    try:
        wanted = _parser().parse_args(argv)
        status, told, lines = wanted.run(wanted)
        if isinstance(wanted.job, Path) and (spoiled := JobFolder(wanted.job).once_spoiled()):
            print(f"clearface: {spoiled}", file=sys.stderr)
    except JobError as error:
        print(f"clearface: {error}", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        print("clearface: stopped", file=sys.stderr)
        return 2
    except Exception as error:  # the last resort: a fault of ours still gets one line, not a traceback
        print(f"clearface: a fault in the program ({type(error).__name__}: {error})", file=sys.stderr)
        return 2
    _say(json.dumps(told, indent=1, ensure_ascii=False) if wanted.json else "\n".join(lines))
    return int(status)


def _say(text: str) -> None:
    """Print an answer; that nobody listens to its end any more (``| head``) is no fault."""
    try:
        print(text, flush=True)
    except BrokenPipeError:
        # Python flushes once more as it ends: into nothing.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except UnicodeEncodeError:  # a terminal without the letters of a board's name
        print(text.encode("ascii", "backslashreplace").decode(), flush=True)


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        raise JobError(f"{message}; see {self.prog} --help")


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="clearface", description="From photographs of boards to a cutting layout with clear show faces."
    )
    parser.set_defaults(run=verbs.open_page, json=False, job=None, phone=False, port=None, browser=True)
    actions = parser.add_subparsers(title="verbs", metavar="VERB", parser_class=_Parser)
    _demo_verb(_verb(actions, "demo", verbs.demo, "do the whole sample job without a browser"))
    _survey_verb(
        _verb(actions, "survey", verbs.survey, "bring photos of one board to true scale and suggest marks")
    )
    _plan_verb(_verb(actions, "plan", verbs.plan, "lay the parts out on the boards"))
    sheets = _verb(actions, "sheets", verbs.sheets, "write marked-up pictures and tables of the layout")
    sheets.add_argument("job", type=Path, metavar="JOB", help="folder of the job")
    sheets.add_argument("--out", type=Path, required=True, metavar="DIR")
    sheets.add_argument("--paper", choices=["A4", "Letter"], default="A4")
    sheets.add_argument(
        "--upright", action="store_true", help="also pictures of the boards standing, for a phone"
    )
    check = _verb(
        actions, "check", verbs.check, "ask the independent verifier; exit 1 if it rejects the layout"
    )
    check.add_argument("job", type=Path, metavar="JOB", help="folder of the job")
    page = _verb(actions, "open", verbs.open_page, "open the page on a job")
    page.add_argument(
        "job", type=Path, nargs="?", metavar="JOB", help="folder of the job; the last one if left out"
    )
    page.add_argument("--phone", action="store_true", help="let a phone in the same network in, with a key")
    page.add_argument("--port", type=_number("port", int, 1, 65535))
    page.add_argument("--no-browser", dest="browser", action="store_false", help="start no browser")
    _verb(actions, "schema", verbs.schema, "print the JSON Schema of job.json")
    return parser


def _verb(
    actions: Any, name: str, run: Callable[[argparse.Namespace], verbs.Answer], what: str
) -> argparse.ArgumentParser:
    verb: argparse.ArgumentParser = actions.add_parser(name, help=what, description=what)
    verb.add_argument("--json", action="store_true", help="answer in JSON")
    verb.set_defaults(run=run)
    return verb


def _number(what: str, kind: Callable[[str], Any], least: float, most: float) -> Callable[[str], Any]:
    def read(text: str) -> Any:
        try:
            value = kind(text)
        except ValueError:
            raise argparse.ArgumentTypeError(f"{what} is {text!r}; give a number") from None
        if not least <= value <= most:
            raise argparse.ArgumentTypeError(f"{what} is {text}; give {least:g} to {most:g}")
        return value

    return read


def _taped(what: str) -> Callable[[str], Any]:
    def read(text: str) -> float:
        try:
            value = length_in_mm(text)
        except ValueError as error:
            raise argparse.ArgumentTypeError(f"the taped {what}: {error}") from None
        if not 0 < value <= 20_000:
            raise argparse.ArgumentTypeError(
                f"the taped {what} is {text}; give more than 0 and at most 20000 mm"
            )
        return value

    return read


def _taped_several(what: str) -> Callable[[str], Any]:
    read_one = _taped(what)

    def read(text: str) -> tuple[float, ...]:
        return tuple(read_one(word) for word in text.split("/"))

    return read


def _demo_verb(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("--out", type=Path, required=True, metavar="DIR", help="new folder for the job")
    verb.add_argument("--seconds", type=_number("seconds", float, 0.1, 3600), default=10.0)


def _survey_verb(verb: argparse.ArgumentParser) -> None:
    verb.add_argument(
        "photos",
        type=Path,
        nargs="*",
        metavar="PHOTO",
        help="the front, then the back; or one folder of a yard's photos with its boards.csv",
    )
    verb.add_argument(
        "--one-face",
        action="store_true",
        help="the photos all show one face, piece by piece from left to right, each overlapping the last",
    )
    verb.add_argument(
        "--face",
        choices=[face.value for face in Face],
        help="which face the photo, or with --one-face the photos, show, if only one is photographed",
    )
    verb.add_argument("--length", type=_taped("length"), metavar="MM", help="needed but for a folder")
    verb.add_argument(
        "--width",
        type=_taped_several("width"),
        metavar="MM[/MM...]",
        help="needed but for a folder; several readings, evenly spaced from the datum end, as 148/150/151: "
        "three tell a bowed edge from a bent picture",
    )
    verb.add_argument(
        "--waney",
        action="store_true",
        help="its long edges are as they grew and followed; read three widths, more for several photos",
    )
    verb.add_argument(
        "--back-width",
        type=_taped_several("width of the back"),
        default=(),
        metavar="MM/MM/MM",
        help="a waney board's widths on its back, as --width: bark slopes, so they are not the front's",
    )
    verb.add_argument(
        "--back-edge",
        default="",
        metavar="READINGS",
        help="of a waney board, as '12 out / 8 under': how far its back reaches out beyond its front at the "
        "datum edge, or is set in under it, read with a square and a rule at the datum end and the far end",
    )
    verb.add_argument("--thickness", type=_taped("thickness"), default=27.0, metavar="MM")
    verb.add_argument("--species", default="oak")
    verb.add_argument("--number", metavar="CHALKED", help="the board's number; the next free one if left out")
    verb.add_argument("--turned", choices=[turn.value for turn in Turn], default=Turn.ROLLED.value)
    verb.add_argument(
        "--corners",
        metavar="X,Y",
        nargs=4,
        action="append",
        help="corners in the first photo [px]: datum end on the datum edge, then round along the board; with "
        "--one-face given once more for each further photo, in order: where the board is cut off there",
    )
    verb.add_argument(
        "--tick",
        action="append",
        default=[],
        metavar="[N:]X,Y=MM",
        help="a pencil line across the board in the first photo, or in photo N of --one-face [px], its tape "
        "reading from the datum end; three of them, a quarter of the length apart, make the picture true to "
        "about a millimetre",
    )
    verb.add_argument(
        "--sheet-beside", action="store_true", help="the marker sheet lies on the bench, not on the board"
    )
    verb.add_argument(
        "--sheet-line", type=_taped("line on the marker sheet"), metavar="MM", help="what that line measures"
    )
    verb.add_argument(
        "--check-with", choices=list(THINGS), help="a thing of known size that lies on the board"
    )
    verb.add_argument(
        "--check-corners", metavar="X,Y", nargs=4, help="its corners in the front photo [px], round it"
    )
    verb.add_argument("--out", type=Path, metavar="DIR", help="new folder, or a job to add to")
    verb.add_argument(
        "--marker-sheet",
        type=Path,
        metavar="FILE",
        help="write the marker sheet to print (PDF), nothing else",
    )
    verb.add_argument(
        "--learn-lens",
        type=_number("inner corners", int, 3, 40),
        nargs=2,
        metavar=("ALONG", "ACROSS"),
        help="learn the phone's lens from photos of a chessboard with so many inner corners, "
        "or of the marker sheet (8 5), and keep it; nothing else",
    )
    verb.add_argument(
        "--workers",
        type=_number("workers", int, 1, 256),
        help="processes for a folder; all cores if left out",
    )
    verb.add_argument("--cluster", metavar="ADDRESS", help="of a Dask scheduler that shares out a folder")


def _plan_verb(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("job", type=Path, metavar="JOB", help="folder of the job")
    verb.add_argument(
        "--parts", type=Path, metavar="CSV", help="cutting list that takes the place of the job's"
    )
    verb.add_argument(
        "--accept",
        type=_number("accept", float, 0, 1),
        metavar="SCORE",
        help="first confirm every pending suggestion of at least this score, 0 to 1",
    )
    verb.add_argument("--seconds", type=_number("seconds", float, 0.1, 3600), default=10.0)
    verb.add_argument("--iterations", type=_number("iterations", int, 1, 10**9))
    verb.add_argument("--seed", type=_number("seed", int, 0, 2**32 - 1), default=0)
