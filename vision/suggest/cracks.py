"""Shakes and checks: fissures amid the board."""

from layout.stock import DefectKind
from vision.suggest.fissures import weighed
from vision.suggest.found import Found
from vision.suggest.surface import Surface

__all__ = ["cracks"]


def cracks(surface: Surface) -> list[Found]:
    """Candidates for shakes and checks on one stretch of board."""
    with_net = surface.chances is not None
    return [
        Found(DefectKind.CHECK, fissure.ring, weighed(fissure, with_net))
        for fissure in surface.fissures
        if not fissure.at_end
    ]
