"""The marks of a board as GeoJSON, in the board frame in millimetres.

RFC 7946 means longitude and latitude; these coordinates are millimetres of a
board, said so in the "frame" member, which any reader may skip. Rings run
counter-clockwise as the RFC asks, for y upwards.
"""

import json
from collections.abc import Sequence
from typing import Any

from layout.outline import Outline
from ui.drawing.board_view import BoardView
from vision.marks import Mark, MarkState

__all__ = ["board_geojson"]


def board_geojson(view: BoardView, marks: Sequence[Mark]) -> str:
    """Every defect with what became of it, every mark that is not confirmed, and the board's outlines."""
    board = view.board
    features = [
        _feature(board.front, {"what": "board", "face": "front"}),
        _feature(board.back, {"what": "board", "face": "back"}),
    ]
    known = set()
    for found in view.fates:
        defect = found.defect
        known.add(defect.id)
        says: dict[str, Any] = {"what": "defect", "id": defect.id, "kind": defect.kind.value}
        says |= {
            "where": defect.where.value,
            "depth": defect.depth,
            "wish": defect.wish.value,
            "became": found.fate.value,
        }
        features.append(_feature(defect.outline, says))
    for mark in marks:
        if mark.state is not MarkState.CONFIRMED and mark.id not in known:
            says = {"what": "mark", "id": mark.id, "kind": mark.kind.value, "where": mark.where.value}
            says |= {"state": mark.state.value, "score": mark.score, "origin": mark.origin.value}
            features.append(_feature(mark.outline, says))
    frame = {"board": board.id, "unit": "mm", "x": "along the grain from the datum end"}
    frame |= {"y": "across from the datum edge", "seen": "through the wood from the front face"}
    collection = {"type": "FeatureCollection", "frame": frame, "features": features}
    return json.dumps(collection, ensure_ascii=False, indent=1) + "\n"


def _feature(outline: Outline, says: dict[str, Any]) -> dict[str, Any]:
    ring = [[round(x, 4), round(y, 4)] for x, y in outline]
    return {
        "type": "Feature",
        "geometry": {"type": "Polygon", "coordinates": [[*ring, ring[0]]]},
        "properties": says,
    }
