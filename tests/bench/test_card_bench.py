"""How often a bank card is found where it lies, and how often one is seen where none is.

``pytest tests/bench/test_card_bench.py -m bench -s``. Cards of any colour are drawn into the
rendered bench photographs, on the board and beside it; round corners as ISO/IEC 7810 has them.
"""

from pathlib import Path

import cv2
import numpy as np
import pytest

from tests.bench.test_outline_bench import Known, bench_photo
from vision.frame import Frame
from vision.paper import found_card
from vision.reference import KnownSize

pytestmark = pytest.mark.bench

FINE = 8  # pixels of the drawn card per mm


def card(rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """A card's picture with some print on it, and its share of each pixel."""
    width, height = (round(side * FINE) for side in KnownSize.BANK_CARD.value)
    shade = cv2.resize(rng.normal(0, 9, (6, 9)).astype(np.float32), (width, height))[..., None]
    picture = np.clip(rng.integers(20, 235, 3) + shade, 0, 255).astype(np.float32)
    picture[180:260, 80:170] = (200, 180, 90)
    picture[320:340, 80:460:2] = 240 if picture.mean() < 128 else 30
    ys, xs = np.mgrid[:height, :width]
    off = np.abs(np.stack([xs - width / 2, ys - height / 2])) - np.array([width, height])[:, None, None] / 2
    inside = np.hypot(*np.maximum(off + 3.18 * FINE, 0)) < 3.18 * FINE
    return picture, inside.astype(np.float32)


def laid(
    known: Known, frame: Frame, on_board: bool, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    """The photograph with a card in it, and the card's corners [px]."""
    picture, inside = card(rng)
    angle, y = rng.uniform(-0.6, 0.6), known.width / 2 if on_board else known.width + 70
    spin = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    flat = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * KnownSize.BANK_CARD.value
    middle = np.array([rng.uniform(0.2, 0.8) * known.length, y])
    corners = frame.to_px((flat - np.array(KnownSize.BANK_CARD.value) / 2) @ spin.T + middle)
    through = cv2.getPerspectiveTransform((flat * FINE).astype(np.float32), (corners * 2).astype(np.float32))
    rgb = known.photo.rgb
    size = (rgb.shape[1], rgb.shape[0])
    twice = (2 * size[0], 2 * size[1])
    share = cv2.resize(cv2.warpPerspective(inside, through, twice), size, interpolation=cv2.INTER_AREA)
    seen = cv2.warpPerspective(picture, through, twice, borderMode=cv2.BORDER_REPLICATE)
    seen = cv2.resize(seen, size, interpolation=cv2.INTER_AREA)
    mixed = rgb * (1 - share[..., None]) + (seen + rng.normal(0, 2, seen.shape)) * share[..., None]
    return np.clip(mixed, 0, 255).astype(np.uint8), corners


@pytest.mark.data
def test_cards_on_the_bench_photos(shared_data: Path) -> None:
    rng, off, missed, false = np.random.default_rng(5), [], 0, 0
    paths = sorted((shared_data / "data" / "bench_photos").glob("*.jpg"))
    for path in paths:
        known = bench_photo(path)
        frame = Frame.from_corners(known.corners_px, known.length, known.width, known.lens)
        false += found_card(known.photo.rgb, frame, known.length, known.width) is not None
        for on_board in (True, False):
            rgb, corners = laid(known, frame, on_board, rng)
            found = found_card(rgb, frame, known.length, known.width)
            missed += found is None
            if found is not None:
                off.append(max(float(np.hypot(*(corners - corner).T).min()) for corner in found))
    print(
        f"\ncards: missed {missed} of {2 * len(paths)}, seen where none is {false} of {len(paths)}; "
        f"worst corner median {np.median(off):.1f} px, worst {max(off):.1f} px"
    )
    assert off
