"""One photographed face as it stands in the job: its photographs, what was read in them, its picture."""

from collections.abc import Callable
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, FiniteFloat, model_validator

from layout.outline import Outline, normal_outline
from layout.stock import Face
from vision.lens import LensPrior

__all__ = [
    "FaceRecord",
    "FurtherPhoto",
    "Place",
    "PointPx",
    "Quad",
    "Tick",
    "face_errors",
    "places_of",
    "with_places",
]

Positive = Annotated[FiniteFloat, Field(gt=0)]
NotNegative = Annotated[FiniteFloat, Field(ge=0)]

PointPx = tuple[FiniteFloat, FiniteFloat]
Quad = tuple[PointPx, PointPx, PointPx, PointPx]


class _Record(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class Tick(_Record):
    """A pencil tick across the board, and what the tape says there."""

    at_px: PointPx = Field(description="where it is in the photo, [x, y]")
    reading: Annotated[FiniteFloat, Field(ge=0)] = Field(description="taped from the datum end [mm]")


class Place(_Record):
    """A place of both faces, straight through the board: a hole bored, a nail."""

    name: Annotated[str, Field(min_length=1, description="the same on the other face")]
    at_px: PointPx = Field(description="where it is in the photo, [x, y]")
    at_mm: PointPx | None = Field(default=None, description="where it lies in the board frame [mm]")


class FurtherPhoto(_Record):
    """One more photograph of a face that is too long for one; it overlaps the photograph before it."""

    photo: Annotated[str, Field(min_length=1, description="path inside the job's folder")]
    corners_px: Quad | None = Field(
        default=None, description="where the piece is cut off, in board order as for a whole board"
    )
    ticks: tuple[Tick, ...] = ()
    places: tuple[Place, ...] = ()


class FaceRecord(_Record):
    """One photographed face of a board."""

    photo: str | None = Field(default=None, description="path of the photograph, inside the job's folder")
    corners_px: Quad | None = Field(
        default=None,
        description="corners in the photo: datum end and edge first, then along the board, as seen",
    )
    size_px: tuple[int, int] | None = Field(default=None, description="width and height of the photo")
    lens: LensPrior | None = Field(default=None, description="what the photo, alone, says of its lens")
    lens_from: int = Field(default=0, ge=0, description="other photos whose lens helped to make the picture")
    outline_mm: Outline | None = Field(
        default=None, description="outline of the face in the board frame [mm]"
    )
    outline_found: bool = Field(default=False, description="the outline was found, not drawn by hand")
    picture: str | None = Field(
        default=None, description="path of the true-scale picture, inside the job's folder"
    )
    px_per_mm: Positive | None = Field(default=None, description="scale of the true-scale picture")
    error_mm: NotNegative | None = Field(
        default=None, description="how far a point of the picture may be off [mm]"
    )
    error_along: tuple[tuple[NotNegative, NotNegative, NotNegative], ...] = Field(
        default=(), description="[x, error along the grain, error across it] from the datum end as seen [mm]"
    )
    apart_mm: NotNegative | None = Field(
        default=None,
        description="by how much a waney face may lie apart of the other one, over which it is laid, across "
        "[mm]; in no other error of it",
    )
    notes: tuple[str, ...] = Field(default=(), description="what the survey had to say")
    ticks: tuple[Tick, ...] = Field(default=(), description="pencil ticks in the photo, read with the tape")
    places: tuple[Place, ...] = Field(default=(), description="places of both faces that the photo shows")
    further: tuple[FurtherPhoto, ...] = Field(
        default=(), description="the face's other photographs, from the datum end on, if one is too short"
    )

    @property
    def error_across(self) -> float:
        """How far a point of the picture may be off across the grain [mm]."""
        whole = self.error_mm or 0.0
        return min(whole, max((across for _, _, across in self.error_along), default=whole))

    @property
    def off(self) -> tuple[float, float]:
        """How far a point of the picture may be off, along the grain and across it [mm]."""
        whole = self.error_mm or 0.0
        along = max((along for _, along, _ in self.error_along), default=whole)
        return min(whole, along), self.error_across

    @model_validator(mode="after")
    def _outline_in_order(self) -> "FaceRecord":
        if self.outline_mm is not None:
            object.__setattr__(self, "outline_mm", normal_outline(self.outline_mm, "outline"))
        return self


Off = tuple[float, float]


def face_errors(
    front: FaceRecord | None, back: FaceRecord | None, marked_on: Face | None
) -> tuple[Off | None, Off | None]:
    """How far points of the front and of the back may be off, along and across; None where none is known.

    A board is marked out on one face, so how the other lies over it counts in the other's error alone.
    """
    apart = max((face.apart_mm or 0.0 for face in (front, back) if face is not None), default=0.0)
    offs: list[Off | None] = []
    for face, known in zip(Face, (front, back), strict=True):
        if known is None or known.error_mm is None:
            offs.append(None)
        else:
            along, across = known.off
            offs.append((along, across + (0.0 if face is marked_on else apart)))
    return offs[0], offs[1]


def places_of(known: FaceRecord | None) -> tuple[tuple[Place, ...], ...]:
    """The places of both faces that each photograph of a face shows."""
    return () if known is None else (known.places, *(one.places for one in known.further))


def with_places(known: FaceRecord, change: Callable[[Place], Place]) -> FaceRecord:
    """A face whose places of both faces are changed so, in each of its photographs."""
    further = tuple(
        one.model_copy(update={"places": tuple(map(change, one.places))}) for one in known.further
    )
    return known.model_copy(update={"places": tuple(map(change, known.places)), "further": further})
