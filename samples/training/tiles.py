"""Tiles to learn from: cut at random out of made boards and scans, written on, with what is asked of each.

What is asked is a target and a weight for every class and millimetre. Made boards are known to the
pixel; scans were outlined by hand, generously, and small knots were left out.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import torch
from torch import Tensor
from torch.nn import functional

from samples.training.figure import Scribbles, scribbled, soiled, with_figure
from samples.training.light import cut_out, grain_of_others
from samples.training.made import BITS, OPEN, PX_PER_MM, SHAPE, Cut, filled
from samples.training.net import CLASSES, FINE, TILE
from samples.training.scanned import KNOWN

__all__ = [
    "TILE_PX",
    "Domain",
    "Tiles",
    "drawn_from",
    "empty_domain",
    "joined",
    "scanned_domains",
    "tiles_of",
    "written_over",
]

_FRESH = 1.5  # worth of a cut not yet seen, where one that the net is as wrong about as usual is worth 1.3
TILE_PX = (FINE * TILE[0], FINE * TILE[1] // 2)  # rows, columns: half as long as what is exported
_FAULTS = BITS["knot"] + BITS["crack"] + BITS["pocket"] + BITS["stain"] + BITS["pith"]
_CRACKS_COUNT = 1.6  # times as much as the other classes: they are thin, and faint in softwood


@dataclass
class Domain:
    """Pictures of one origin, with room for more.

    Parameters
    ----------
    name : str
    pictures, bits, known : uint8 tensors [room, h, w, 3], [room, h, w], [room]
        Class bits of each pixel, and which bits are known.
    worth : float tensor [room]
        How often each is drawn, relatively.
    clear : bool tensor [room]
        Those without a fault.
    share : int
        Tiles of a batch.
    count : int
        How many there are.
    loose : bool
        Outlines were drawn by hand, and generously.
    """

    name: str
    pictures: Tensor
    bits: Tensor
    known: Tensor
    worth: Tensor
    clear: Tensor
    share: int
    count: int
    loose: bool = False

    def add(self, cuts: Sequence[Cut]) -> None:
        """Put cuts after those that are there, as far as there is room."""
        for cut in cuts[: len(self.pictures) - self.count]:
            self.pictures[self.count] = torch.from_numpy(cut.picture)
            self.bits[self.count] = torch.from_numpy(cut.bits)
            self.known[self.count] = cut.known
            self.clear[self.count] = not (cut.bits & _FAULTS).any()
            self.count += 1


def empty_domain(name: str, room: int, share: int, device: torch.device) -> Domain:
    """Room for so many cuts, so many tiles of a batch, and nothing in it yet."""
    pictures = torch.empty(room, *SHAPE, 3, dtype=torch.uint8, device=device)
    bits = torch.empty(room, *SHAPE, dtype=torch.uint8, device=device)
    known = torch.empty(room, dtype=torch.uint8, device=device)
    worth, clear = (
        torch.full((room,), _FRESH, device=device),
        torch.zeros(room, dtype=torch.bool, device=device),
    )
    return Domain(name, pictures, bits, known, worth, clear, share, 0)


def scanned_domains(
    path: Path, share: int, cube_share: int, device: torch.device, oftener: float = 5.0
) -> list[Domain]:
    """What `pack_scans` wrote, the boards and the clear cubes; cracks are drawn so much oftener."""
    wide = SHAPE[1]
    pictures, bits = [], []
    with np.load(path, allow_pickle=True) as packed:
        for picture, mask in zip(packed["pictures"], packed["masks"], strict=True):
            whole = cv2.cvtColor(cv2.imdecode(picture, cv2.IMREAD_COLOR), cv2.COLOR_BGR2RGB)
            layer = cv2.imdecode(mask, cv2.IMREAD_GRAYSCALE)
            for left in range(0, max(1, whole.shape[1] - wide // 2), wide // 2):
                pictures.append(filled(whole[:, left : left + wide], (340, wide)))
                bits.append(filled(layer[:, left : left + wide], (340, wide)))
        cubes = [
            cv2.cvtColor(cv2.imdecode(cube, cv2.IMREAD_COLOR), cv2.COLOR_BGR2RGB) for cube in packed["cubes"]
        ]
    clear = [_small_cube(cubes[index % len(cubes)], index) for index in range(90)]
    whole_bits = torch.from_numpy(np.stack(bits)).to(device)
    rare = [(whole_bits & bit > 0).flatten(1).any(1).float() for bit in (BITS["crack"], BITS["stain"] | 16)]
    return [
        Domain(
            "scans", torch.from_numpy(np.stack(pictures)).to(device), whole_bits,
            torch.full((len(pictures),), KNOWN, dtype=torch.uint8, device=device),
            1 + oftener * rare[0] + 2 * rare[1], (whole_bits & _FAULTS == 0).flatten(1).all(1), share,
            len(pictures), loose=True,
        ),
        Domain(
            "cubes", torch.from_numpy(np.stack(clear)).to(device),
            torch.zeros(len(clear), *SHAPE, dtype=torch.uint8, device=device),
            torch.full((len(clear),), _FAULTS, dtype=torch.uint8, device=device),
            torch.ones(len(clear), device=device), torch.ones(len(clear), dtype=torch.bool, device=device),
            cube_share, len(clear),
        ),
    ]  # fmt: skip


def _small_cube(cube: np.ndarray, index: int) -> np.ndarray:
    rng = np.random.default_rng(index)
    turned = np.rot90(cube, int(rng.integers(2)))[8:-8, 8:-8]  # the outermost pixels show the background
    size = float(rng.uniform(0.4, 1.2))
    return filled(
        cv2.resize(np.ascontiguousarray(turned), None, fx=size, fy=size, interpolation=cv2.INTER_AREA), SHAPE
    )


@dataclass
class Tiles:
    """Pictures [n, 3, h, w], target and weight of each class [n, classes, h, w], which have no fault [n]."""

    picture: Tensor
    target: Tensor
    weight: Tensor
    clear: Tensor


def drawn_from(domain: Domain) -> Tensor:
    """Which of its pictures go into a batch, by their worth [share]."""
    return torch.multinomial(domain.worth[: domain.count], domain.share, replacement=True)


def tiles_of(domain: Domain, pick: Tensor) -> Tiles:
    """Tiles out of the pictures picked, and what is asked of them."""
    device = domain.pictures.device
    picture = domain.pictures[pick].permute(0, 3, 1, 2).float() / 255
    bits = domain.bits[pick][:, None].float()
    picture, bits = cut_out(picture, bits, TILE_PX, PX_PER_MM)
    whole = bits.round().to(torch.uint8)
    flags = torch.tensor([BITS[name] for name in CLASSES], dtype=torch.uint8, device=device).view(1, -1, 1, 1)
    target = functional.avg_pool2d(((whole & flags) > 0).float(), FINE)
    target = (target > torch.where(flags == BITS["crack"], 0.2, 0.45)).float()  # thin things are not lost
    weight = ((domain.known[pick].view(-1, 1, 1, 1) & flags) > 0).float().expand_as(target).contiguous()
    knots = target[:, :1]
    if domain.loose:  # the rim of a knot drawn by hand says little: made ones tell where a knot ends
        rim = functional.max_pool2d(knots, 3, 1, 1) + functional.max_pool2d(-knots, 3, 1, 1)
        tiny = _too_small_for(5, knots)  # all rim: its inside says that there is one
        weight[:, :1] *= 1 - 0.7 * rim * (1 - tiny) + tiny
    else:
        weight[:, :1] *= _nearness_counts(knots)
    left_open = functional.max_pool2d((whole & OPEN).float(), FINE) > 0
    weight[:, :1] *= 1 - (left_open & (knots == 0)).float()
    weight[:, CLASSES.index("crack")] *= _CRACKS_COUNT
    return Tiles(picture, target, weight, ((whole & _FAULTS) == 0).flatten(1).all(1))


def _nearness_counts(knots: Tensor) -> Tensor:
    """Weight of knots' pixels: what lies beside a small one counts thrice, or its outline grows too wide."""
    small = _too_small_for(9, knots)
    near = functional.max_pool2d(small, 7, 1, 3)
    return 1 + small + 2 * near * (1 - knots)


def _too_small_for(side: int, knots: Tensor) -> Tensor:
    """The part of a mask that no square of so many millimetres fits into."""
    wide = -functional.max_pool2d(-knots, side, 1, side // 2)
    return (knots - functional.max_pool2d(wide, side, 1, side // 2)).clamp(0, 1)


def joined(parts: Sequence[Tiles]) -> Tiles:
    """One batch of several."""
    return Tiles(*(torch.cat([getattr(part, name) for part in parts]) for name in Tiles.__annotations__))


def written_over(tiles: Tiles, bank: Scribbles) -> Tensor:
    """The tiles with other figure, dirt and writing; what these hide or look like is not asked for."""
    picture = with_figure(grain_of_others(tiles.picture, tiles.clear))
    picture, cloud = soiled(picture)
    picture, written, hidden = scribbled(picture, bank)
    cloud, written, hidden = (functional.avg_pool2d(one, FINE) for one in (cloud, written, hidden))
    tiles.weight = tiles.weight * (1 - (hidden > 0.3).float() * tiles.target)
    near = functional.max_pool2d(written, 5, 1, 2).clamp(max=0.5)
    tiles.weight = tiles.weight * (1 + 11 * near * (1 - tiles.target))  # what is written tempts the most
    stain = CLASSES.index("stain")
    tiles.weight[:, stain : stain + 1] *= (cloud < 0.1).float()
    return picture
