"""What stands in job.json: the schema of a job on disk, and messages a maker can act on.

A job is a folder::

    job.json      this schema
    edits.jsonl   what was changed, one edit a line: undo, redo, who has been answered
    photos/       as taken, named by their contents
    pictures/     true-scale pictures, one a face

Lengths are millimetres, points are [x, y], everything about a board is in the
board frame (`layout.stock`); only corners are pixels of the photo.
"""

import json
from collections.abc import Iterator
from typing import Annotated, Any, Literal
from weakref import ref

from pydantic import BaseModel, ConfigDict, Field, FiniteFloat, ValidationError, model_validator
from shapely import Polygon

from layout.allowances import Shop
from layout.outline import Outline, normal_outline
from layout.parts import Part, PartSide
from layout.placement import Layout
from layout.rules import rule_for
from layout.stock import Board, Face, Price, Turn
from ui.face_records import FaceRecord, FurtherPhoto, Tick, face_errors
from ui.job_mistakes import first_mistake, shown
from ui.migrations import brought_up
from vision.lens import LensPrior
from vision.marks import Mark, defects_from

__all__ = [
    "VERSION",
    "BoardRecord",
    "FaceRecord",
    "FurtherPhoto",
    "Job",
    "JobError",
    "KeptLayout",
    "LensProfile",
    "LoosePhoto",
    "SpoiledJobError",
    "Tick",
    "UnfinishedPart",
    "boards_of",
    "job_from",
    "job_json",
    "schema",
    "with_known_rules",
]

VERSION = 1

Positive = Annotated[FiniteFloat, Field(gt=0)]
NotNegative = Annotated[FiniteFloat, Field(ge=0)]


class JobError(ValueError):
    """A job, or a file given for one, that can't be used; the message is fit to show."""


class SpoiledJobError(JobError):
    """A job.json that is not even JSON: no program writes such a file, a disk or a hand spoiled it."""


class _Record(BaseModel):
    # No NaN and no infinity anywhere, not in the nouns either: JSON has no word for them,
    # so a job holding one would be written and never opened again.
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class LensProfile(_Record):
    """A phone's lens, from photographs of a chessboard."""

    size_px: tuple[int, int] = Field(description="width and height of the pictures it is for")
    prior: LensPrior


class BoardRecord(_Record):
    """One board: what the tape said, its faces, and every mark made on it."""

    id: Annotated[str, Field(min_length=1, description="the number chalked on it")]
    length: Positive = Field(description="taped length [mm]")
    widths: tuple[tuple[NotNegative, Positive], ...] = Field(
        min_length=1, description="taped widths: [x from the datum end, width] [mm]"
    )
    back_widths: tuple[tuple[NotNegative, Positive], ...] = Field(
        default=(), description="a waney board's taped widths on its back, where bark slopes [mm]"
    )
    back_edge: tuple[tuple[NotNegative, FiniteFloat], ...] = Field(
        default=(),
        description="how far the back of a waney board reaches out beyond its front at the datum edge, below "
        "0 where it is set in: [x from the datum end, out] [mm]",
    )
    thickness: Positive = Field(description="as it lies there [mm]")
    species: str = "oak"
    price: Price = Price(0.0)
    owned: bool = False
    forbidden: bool = False
    turned: Turn = Turn.ROLLED
    turn_offered: Turn | None = Field(
        default=None, description="the other turn, where the pictures of both faces speak for it"
    )
    waney: bool = Field(default=False, description="its long edges are as they grew; followed in the photos")
    frame_width: Positive | None = Field(
        default=None,
        description="width of the frame its faces and marks are drawn in, if not the widest reading [mm]",
    )
    sheet_on_bench: bool = Field(
        default=False, description="a marker sheet in the photo lies beside the board, not on it"
    )
    sheet_line: Positive | None = Field(
        default=None, description="what the line on the printed marker sheet measures [mm]"
    )
    moisture: Positive | None = Field(default=None, description="moisture content [%]")
    heart: Face | None = None  # the face that lay nearer the pith, as the rings on the end show
    grain: FiniteFloat = Field(default=0.0, description="mean angle of the grain to the length [degrees]")
    front: FaceRecord | None = None
    back: FaceRecord | None = None
    marks: tuple[Mark, ...] = ()

    @model_validator(mode="after")
    def _names_once(self) -> "BoardRecord":
        _once((mark.id for mark in self.marks), "mark")
        self.board()  # what no board can be is refused here, not when it is planned
        return self

    @property
    def width(self) -> float:
        """The greatest taped width [mm]."""
        return max(width for _, width in (*self.widths, *self.back_widths))

    @property
    def framed(self) -> float:
        """The width of the frame that its faces and marks are drawn in [mm]."""
        return self.frame_width or self.width

    def face(self, face: Face) -> FaceRecord | None:
        """The record of one face; None where it was not photographed."""
        return self.front if face is Face.FRONT else self.back

    def taped_outline(self) -> Outline:
        """The outline that the tape readings alone give: datum edge straight, width as read [mm]."""
        readings = sorted(self.widths)
        ends = [(0.0, readings[0][1]), *readings, (self.length, readings[-1][1])]
        inside = [(min(x, self.length), width) for x, width in ends]
        return normal_outline([(0.0, 0.0), (self.length, 0.0), *reversed(inside)], f"board {self.id}")

    def outline(self, face: Face) -> Outline:
        """The outline of a face: as found on it, else as found on the other one, else as taped [mm]."""
        for record in (self.face(face), self.face(face.other)):
            if record is not None and record.outline_mm is not None:
                return record.outline_mm
        return self.taped_outline()

    def board(self) -> Board:
        """The board as the layout knows it: confirmed marks are its defects."""
        known = _MADE.get(id(self))
        if known is not None and known[0]() is self:
            return known[1]
        made = self._made()
        at = id(self)
        _MADE[at] = ref(self, lambda gone: _forget(at, gone)), made
        return made

    def marked_on(self) -> Face | None:
        """The face that a waney board is to be marked out on; None where it makes no difference.

        It is the narrower one: where its sound wood ends counts at both edges.
        """
        if not any(known is not None and known.apart_mm for known in (self.front, self.back)):
            return None
        front, back = (Polygon(self.outline(face)).area for face in Face)
        return Face.BACK if back < front else Face.FRONT

    def _made(self) -> Board:
        marked_on = self.marked_on()
        offs = face_errors(self.front, self.back, marked_on)
        known = [off for off in offs if off is not None]
        # Faces surveyed by an older program say of their error only together how they lie over one another.
        apart_known = not self.waney or marked_on is not None
        return Board(
            id=self.id,
            front=self.outline(Face.FRONT),
            back=self.outline(Face.BACK),
            thickness=self.thickness,
            species=self.species,
            defects=defects_from(self.marks),
            turned=self.turned,
            moisture=self.moisture,
            price=self.price,
            owned=self.owned,
            forbidden=self.forbidden,
            error=max((along for along, _ in known), default=0.0),
            error_across=max((across for _, across in known), default=None),
            error_front=offs[0] if apart_known else None,
            error_back=offs[1] if apart_known else None,
            marked_on=marked_on,
            grain=self.grain,
            heart=self.heart,
            frame_width=self.framed if self.waney else None,
            read_width=max(width for _, width in self.widths) if self.waney else None,  # bought by its front
        )


# Thousands of records are asked for their boards at every look at a page. A record never changes,
# so each makes its board once; the two are forgotten together.
_MADE: dict[int, tuple["ref[BoardRecord]", Board]] = {}


def _forget(at: int, gone: "ref[BoardRecord]") -> None:
    known = _MADE.get(at)
    if known is not None and known[0] is gone:  # else another record has taken its place in memory
        del _MADE[at]


class UnfinishedPart(_Record):
    """A row of the cutting list that is no part yet: the cells as typed."""

    id: Annotated[str, Field(min_length=1)]
    cells: dict[str, str] = {}


class LoosePhoto(_Record):
    """A photograph that is in the job and not on a board yet."""

    photo: Annotated[str, Field(min_length=1, description="path inside the job's folder")]
    name: str = Field(default="", description="what the file was called")


class KeptLayout(_Record):
    """A layout put aside to be compared with another."""

    name: Annotated[str, Field(min_length=1)]
    layout: Layout


class Job(_Record):
    """Everything of one piece of work."""

    version: Literal[1] = 1
    name: Annotated[str, Field(min_length=1)]
    currency: str = "EUR"
    units: Literal["mm", "inch"] = Field(
        default="mm", description="how lengths are shown; they are kept in mm"
    )
    revision: Annotated[int, Field(ge=0)] = Field(
        default=0, description="counts the edits; grows by one with each"
    )
    settings: Shop = Field(default_factory=Shop)
    lens: LensProfile | None = Field(default=None, description="the phone's lens, from a chessboard")
    boards: tuple[BoardRecord, ...] = ()
    parts: tuple[Part, ...] = ()
    unfinished: tuple[UnfinishedPart, ...] = Field(
        default=(), description="rows of the cutting list that are not complete yet"
    )
    loose: tuple[LoosePhoto, ...] = Field(default=(), description="photographs not on a board yet")
    layout: Layout | None = None
    kept: tuple[KeptLayout, ...] = Field(default=(), description="layouts put aside to compare")

    @model_validator(mode="after")
    def _names_once(self) -> "Job":
        _once((board.id for board in self.boards), "board")
        _once((part.name for part in self.parts), "part")
        for part in self.parts:
            with_known_rules(part)
        _once((row.id for row in self.unfinished), "unfinished row")
        _once((photo.photo for photo in self.loose), "loose photo")
        _once((kept.name for kept in self.kept), "kept layout")
        return self

    def board(self, id: str) -> BoardRecord:
        """The record of one board.

        Raises
        ------
        JobError
            There is no such board.
        """
        for board in self.boards:
            if board.id == id:
                return board
        raise JobError(f"there is no board {id!r} in this job")


def with_known_rules(part: Part) -> Part:
    """The part itself.

    Raises
    ------
    ValueError
        A side of it is to be judged by a rule that does not exist.
    """
    for side in PartSide:
        rule_for(part, side)
    return part


def boards_of(job: Job) -> tuple[Board, ...]:
    """The boards of a job as the layout knows them."""
    return tuple(record.board() for record in job.boards)


def schema() -> dict[str, Any]:
    """The JSON Schema of job.json."""
    return Job.model_json_schema()


def job_json(job: Job) -> str:
    """The text of job.json."""
    return job.model_dump_json(indent=1) + "\n"


def job_from(text: str | bytes, where: str = "job.json") -> Job:
    """The job that a job.json holds.

    Parameters
    ----------
    text : str or bytes
        Contents of the file.
    where : str
        Name of the file, for the message.

    Raises
    ------
    JobError
        Not JSON (`SpoiledJobError`), a version this program does not know, or a value
        that can't be right: the first one found, in one sentence.
    """
    try:
        raw = json.loads(text)
    except ValueError as error:
        raise SpoiledJobError(f"{where}: not a job file ({error})") from error
    except RecursionError:
        raise SpoiledJobError(f"{where}: not a job file (brackets within brackets without end)") from None
    if not isinstance(raw, dict):
        raise JobError(f"{where}: not a job file; it must hold one object")
    version = raw.get("version")
    if version != VERSION:
        if isinstance(version, int) and version > VERSION:
            raise JobError(
                f"{where}: written by a newer clearface (version {shown(version)}; "
                f"this one knows {VERSION}); update clearface to open it"
            )
        older = brought_up(raw, VERSION)
        if older is None:
            raise JobError(f"{where}: version is {shown(version)}; this clearface knows version {VERSION}")
        raw, text = older, json.dumps(older)
    try:
        return Job.model_validate_json(text)
    except ValidationError as error:
        said = first_mistake(error, raw)
        raise JobError(f"{where}: {said if len(said) <= 250 else said[:247] + '...'}") from error


def _once(names: Iterator[str], what: str) -> None:
    seen: set[str] = set()
    for name in names:
        if name in seen:
            raise ValueError(f"two {what}s are called {name!r}; give each a name of its own")
        seen.add(name)
