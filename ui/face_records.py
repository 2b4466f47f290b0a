"""What a face may hold beside its one photograph: further photographs of it, and ticks read with the tape."""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, FiniteFloat

__all__ = ["FurtherPhoto", "PointPx", "Quad", "Tick"]

PointPx = tuple[FiniteFloat, FiniteFloat]
Quad = tuple[PointPx, PointPx, PointPx, PointPx]


class _Record(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class Tick(_Record):
    """A pencil tick across the board, and what the tape says there."""

    at_px: PointPx = Field(description="where it is in the photo, [x, y]")
    reading: Annotated[FiniteFloat, Field(ge=0)] = Field(description="taped from the datum end [mm]")


class FurtherPhoto(_Record):
    """One more photograph of a face that is too long for one; it overlaps the photograph before it."""

    photo: Annotated[str, Field(min_length=1, description="path inside the job's folder")]
    corners_px: Quad | None = Field(
        default=None, description="where the piece is cut off, in board order as for a whole board"
    )
    ticks: tuple[Tick, ...] = ()
