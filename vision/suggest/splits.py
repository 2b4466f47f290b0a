"""End splits: fissures that run out of an end of the board, where wood dries first."""

from layout.stock import DefectKind
from vision.suggest.fissures import weighed
from vision.suggest.found import Found
from vision.suggest.surface import Surface

__all__ = ["splits"]


def splits(surface: Surface) -> list[Found]:
    """Candidates for end splits; none on a stretch that holds no end."""
    with_net = surface.chances is not None
    return [
        Found(DefectKind.SPLIT, fissure.ring, weighed(fissure, with_net))
        for fissure in surface.fissures
        if fissure.at_end
    ]
