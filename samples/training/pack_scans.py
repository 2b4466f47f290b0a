"""Pack the training half of the scanned boards into one small file, grain along x, with class masks.

    python -m samples.training.pack_scans ../shared/data out/scans.npz

Nothing of the boards kept for testing goes in: the whole boards B, D and E and
all their frames, and every second run of five hundred of the rare frames.
"""

import argparse
import json
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely import Polygon, box

from vision.suggest.surface import surface_of

__all__ = ["PX_PER_MM", "for_testing", "main"]

PX_PER_MM = 2.0
_TEST_BOARDS = ("board_B", "board_D", "board_E")
_CLASS_BITS = {"knot": 1, "crack": 2, "resin": 4, "dark_streak": 8, "stain": 8, "pith": 16, "overgrown": 1}
_LONGEST_CRACK, _CRACK_STEP = 180, 90  # of what is transplanted of a crack, and between two such lengths [px]
_CUBES_TO_LEARN = ("CN03_A", "CN03_C", "CN03_E")

Picture = NDArray[np.uint8]


def for_testing(name: str) -> bool:
    """Whether a rare frame is kept for testing; runs of numbers come from the same boards."""
    number = int("".join(sign for sign in name if sign.isdigit()))
    return (number // 500) % 2 == 1


def main(arguments: list[str] | None = None) -> None:
    """Write the file; two arguments: the folder of the data, and the file."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("data", type=Path)
    parser.add_argument("out", type=Path)
    given = parser.parse_args(arguments)
    pictures, masks, patches, patch_masks, patch_bits = [], [], [], [], []
    for picture, mask, marks in (*_boards(given.data), *_frames(given.data), *_rare(given.data)):
        pictures.append(_packed(".jpg", cv2.cvtColor(picture, cv2.COLOR_RGB2BGR)))
        masks.append(_packed(".png", mask))
        for ratio, shape, bit in _patches(picture, marks):
            patches.append(_packed(".png", ratio))
            patch_masks.append(_packed(".png", shape))
            patch_bits.append(bit)
    cubes = [
        _packed(".jpg", cv2.imread(str(path)))
        for path in sorted((given.data / "wood_cubes").glob("*.png"))
        if path.stem in _CUBES_TO_LEARN
    ]
    given.out.parent.mkdir(parents=True, exist_ok=True)
    np.savez(
        given.out,
        px_per_mm=PX_PER_MM,
        patch_bits=np.array(patch_bits, np.uint8),
        **{
            name: np.array([*them, None], dtype=object)[:-1]
            for name, them in {
                "pictures": pictures,
                "masks": masks,
                "patches": patches,
                "patch_masks": patch_masks,
                "cubes": cubes,
            }.items()
        },
    )
    print(
        f"{len(pictures)} pictures, {len(patches)} faults to transplant, {given.out.stat().st_size >> 10} KiB"
    )


def _packed(kind: str, picture: Picture) -> Picture:
    options = [cv2.IMWRITE_JPEG_QUALITY, 82] if kind == ".jpg" else []
    return np.asarray(cv2.imencode(kind, picture, options)[1], dtype=np.uint8)


Entry = tuple[Picture, Picture, list[tuple[NDArray[np.int32], int]]]


def _entry(path: Path, marks: list[dict], sx: float, sy: float, turn: bool) -> Entry:
    picture = cv2.cvtColor(cv2.imread(str(path)), cv2.COLOR_BGR2RGB)
    size = (round(picture.shape[1] / sx * PX_PER_MM), round(picture.shape[0] / sy * PX_PER_MM))
    picture = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    mask = np.zeros(picture.shape[:2], np.uint8)
    rings = []
    for mark in marks:
        ring = mark.get("polygon") or []
        if len(ring) < 3:
            x0, y0, x1, y1 = mark["bbox"]
            ring = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
        points = np.round(np.array(ring) / (sx, sy) * PX_PER_MM).astype(np.int32)
        layer = np.zeros_like(mask)
        cv2.fillPoly(layer, [points], _CLASS_BITS[mark["group"]])
        mask |= layer
        rings.append((points[:, ::-1].copy() if turn else points, _CLASS_BITS[mark["group"]]))
    if turn:
        picture, mask = picture.transpose(1, 0, 2).copy(), mask.T.copy()
    return picture, mask, rings


def _boards(data: Path) -> Iterator[Entry]:
    for path in sorted((data / "scanned_boards").glob("*.jpg")):
        if not path.stem.startswith(_TEST_BOARDS):
            told = json.loads(path.with_suffix(".json").read_text())
            yield _entry(path, told["objects"], told["px_per_mm"], told["px_per_mm"], turn=False)


def _frames(data: Path) -> Iterator[Entry]:
    seen = set()
    for path in (data / "scanned_boards").glob("*.json"):
        seen |= set(json.loads(path.read_text())["frames"])  # whole boards are in already, or kept out
    for entry in json.loads((data / "scanned_frames" / "index.json").read_text()):
        path = data / "scanned_frames" / entry["image"]
        if path.stem not in seen:
            marks = json.loads(path.with_suffix(".json").read_text())
            yield _entry(path, marks, entry["px_per_mm"], entry["px_per_mm"], turn=True)


def _rare(data: Path) -> Iterator[Entry]:
    folder = data / "rare_defect_frames"
    for entry in json.loads((folder / "index.json").read_text()):
        if not for_testing(entry["image"]):
            marks = json.loads((folder / entry["labels"]).read_text())
            yield _entry(
                folder / entry["image"], marks, entry["px_per_mm_x"], entry["px_per_mm_y"], turn=True
            )


def _in_lengths(ring: NDArray[np.int32], bit: int) -> Iterator[tuple[NDArray[np.int32], int]]:
    """A long crack in several lengths, each of which is one; any other fault as it is."""
    x, _, wide, _ = cv2.boundingRect(ring)
    if bit != 2 or wide <= _LONGEST_CRACK:
        yield ring, bit
        return
    whole = Polygon(ring).buffer(0)
    for start in range(x + _CRACK_STEP // 2, x + wide - _CRACK_STEP, _CRACK_STEP):
        piece = whole.intersection(box(start, -1e4, start + _LONGEST_CRACK, 1e4))
        largest = max(getattr(piece, "geoms", [piece]), key=lambda one: float(one.area))
        if largest.area > 0:
            yield np.round(largest.exterior.coords[:-1]).astype(np.int32), bit


def _patches(
    picture: Picture, marks: list[tuple[NDArray[np.int32], int]]
) -> Iterator[tuple[Picture, Picture, int]]:
    """Each fault as its colour over that of the clear grain there (128 = alike), with its mask."""
    surface = surface_of(picture, PX_PER_MM)
    clear = cv2.cvtColor(surface.clear, cv2.COLOR_LAB2RGB) * 255
    clear = cv2.resize(clear, picture.shape[1::-1], interpolation=cv2.INTER_LINEAR)
    ratio = np.clip(128 * (picture + 4.0) / (clear + 4.0), 0, 255).astype(np.uint8)
    for ring, bit in (part for mark in marks for part in _in_lengths(*mark)):
        x, y, wide, high = cv2.boundingRect(ring)
        margin = int(np.clip(0.5 * max(wide, high), 6, 24))
        left, top = x - margin, y - margin
        if (
            left < 0
            or top < 0
            or x + wide + margin > picture.shape[1]
            or y + high + margin > picture.shape[0]
        ):
            continue
        if max(wide, high) > 270 or bit == 16:
            continue
        window = np.s_[top : y + high + margin, left : x + wide + margin]
        mask = np.zeros(ratio[window].shape[:2], np.uint8)
        cv2.fillPoly(mask, [ring - (left, top)], 255)
        if not 112 < float(np.median(ratio[window][mask == 0])) < 142 or (ratio[window] > 250).mean() > 0.01:
            continue  # the grain round it is not what the background says: bed, torn grain, another fault
        yield ratio[window], mask, bit


if __name__ == "__main__":
    main()
