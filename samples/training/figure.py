"""Figure, light and bench marks that clear wood may show, laid at random over whole batches (PyTorch).

Wider than any one model of wood: pores, rays, rings, ribbons and streaks of any size, phones that
lift shadows and draw halos, pencil, chalk, tape and dirt. None of it is a fault, and all of it goes
over faulty wood too. Pictures are [n, 3, rows, columns], sRGB 0 to 1, at two pixels per millimetre.
"""

import math
from dataclasses import dataclass

import numpy as np
import torch
from torch import Tensor
from torch.nn import functional

from samples.training.scribbles import CHALK, PEN, PENCIL, TAPE, scribble

__all__ = ["Scribbles", "lit_unevenly", "scribbled", "soiled", "with_figure"]

_SIDE, _SCALE = 1024, 4.0  # of the tile of smooth noise, and its pixels per correlation length
# colours that each pen comes in, and how much of the wood it covers
_COLOURS = {
    PENCIL: ((0.25, 0.25, 0.27), (0.3, 0.29, 0.3), (0.2, 0.2, 0.22), (0.5, 0.2, 0.18)),
    CHALK: (
        (0.93, 0.93, 0.91), (0.95, 0.95, 0.95), (0.91, 0.84, 0.43), (0.47, 0.63, 0.8), (0.78, 0.27, 0.24),
        (0.23, 0.23, 0.25), (0.16, 0.27, 0.55), (0.25, 0.5, 0.3), (0.95, 0.55, 0.2),
    ),
    PEN: ((0.1, 0.1, 0.11), (0.1, 0.12, 0.4), (0.6, 0.1, 0.1), (0.1, 0.35, 0.2), (0.2, 0.15, 0.12)),
    TAPE: (
        (0.9, 0.84, 0.66), (0.93, 0.93, 0.92), (0.25, 0.45, 0.75), (0.9, 0.8, 0.3), (0.75, 0.6, 0.42),
        (0.3, 0.6, 0.4), (0.85, 0.3, 0.25), (0.35, 0.35, 0.36),
    ),
}  # fmt: skip
_COVERS = {PENCIL: (0.25, 0.85), CHALK: (0.35, 0.95), PEN: (0.55, 1.0), TAPE: (0.55, 1.0)}
_ROUGH = {PENCIL: (0.9, 0.5), CHALK: (1.35, 0.1), PEN: (0.2, 0.9), TAPE: (0.0, 1.0)}  # slope, base


def _uniform(n: int, low: float, high: float, like: Tensor) -> Tensor:
    return torch.rand(n, 1, 1, 1, device=like.device) * (high - low) + low


def _spread(n: int, low: float, high: float, like: Tensor) -> Tensor:
    """Between two bounds, every doubling as likely as the next."""
    return torch.exp(_uniform(n, math.log(low), math.log(high), like))


def _sometimes(chance: float, like: Tensor) -> Tensor:
    return torch.rand(like.shape[0], 1, 1, 1, device=like.device) < chance


@dataclass
class Scribbles:
    """Tiles of figures, kept where the net is trained: cover and tone uint8 [n, rows, columns], pen [n]."""

    cover: Tensor
    tone: Tensor
    pen: Tensor

    @classmethod
    def drawn(
        cls, count: int, shape: tuple[int, int], px_per_mm: float, seed: int, device: torch.device
    ) -> "Scribbles":
        tiles = [scribble(np.random.default_rng([seed, n, 31]), shape, px_per_mm) for n in range(count)]
        return cls(
            torch.from_numpy(np.stack([tile.cover for tile in tiles])).to(device),
            torch.from_numpy(np.stack([tile.tone for tile in tiles])).to(device),
            torch.tensor([tile.pen for tile in tiles], device=device),
        )


def scribbled(x: Tensor, bank: Scribbles, chance: float = 0.45) -> tuple[Tensor, Tensor, Tensor]:
    """Some tiles written on, stuck on; where [n, 1, rows, columns], and how far tape hides the wood."""
    n = x.shape[0]
    pick = torch.randint(len(bank.pen), (n,), device=x.device)
    cover, tone = (plane[pick][:, None].float() / 255 for plane in (bank.cover, bank.tone))
    for axis in (2, 3):  # letters may be mirrored: nobody is asked to read them
        flip = _sometimes(0.5, x)
        cover, tone = (torch.where(flip, plane.flip(axis), plane) for plane in (cover, tone))
    pen = bank.pen[pick].tolist()
    colour = torch.tensor([_COLOURS[p][int(torch.randint(len(_COLOURS[p]), (1,)))] for p in pen])
    colour = colour.to(x.device).view(n, 3, 1, 1) * torch.exp(torch.randn(n, 3, 1, 1, device=x.device) * 0.1)
    least, most = torch.tensor([_COVERS[p] for p in pen], device=x.device).T.view(2, n, 1, 1, 1)
    slope, base = torch.tensor([_ROUGH[p] for p in pen], device=x.device).T.view(2, n, 1, 1, 1)
    rough = (slope * torch.rand(n, 1, *x.shape[2:], device=x.device) + base).clamp(0, 1)
    strength = (least + (most - least) * _uniform(n, 0, 1, x)) * _sometimes(chance, x)
    share = cover * rough * strength
    tape = torch.tensor([float(p == TAPE) for p in pen], device=x.device).view(n, 1, 1, 1)
    return x + (colour * tone - x) * share, share, share * tape


def soiled(x: Tensor) -> tuple[Tensor, Tensor]:
    """Dirt, water and glue in clouds on some; the second is where, which may as well be called a stain."""
    n = x.shape[0]
    cloud = _field(x, _spread(n, 25, 160, x), _spread(n, 20, 90, x), _uniform(n, 0, math.pi, x))
    cloud = torch.sigmoid((cloud - _uniform(n, 0.4, 1.6, x)) * _spread(n, 2, 14, x)) * _sometimes(0.18, x)
    tone = 1 + 0.35 * torch.randn(n, 3, 1, 1, device=x.device)
    return x * torch.exp(-cloud * tone * _uniform(n, -0.12, 0.3, x)), cloud


_tiles: dict[torch.device, Tensor] = {}


def _noise(device: torch.device) -> Tensor:
    """A tile of smooth noise, mean 0 and deviation 1."""
    if device not in _tiles:
        rough = np.fft.rfft2(np.random.default_rng(7).standard_normal((_SIDE, _SIDE)))
        fy, fx = np.fft.fftfreq(_SIDE)[:, None], np.fft.rfftfreq(_SIDE)[None, :]
        smooth = np.fft.irfft2(rough * np.exp(-2.0 * (np.pi * _SCALE / 2.5) ** 2 * (fx**2 + fy**2)))
        _tiles[device] = torch.from_numpy(smooth / smooth.std()).float().to(device)[None, None]
    return _tiles[device]


def _field(x: Tensor, long: Tensor, wide: Tensor, turn: Tensor) -> Tensor:
    """Noise whose lumps are so long and so wide [px], turned so far from the grain, one plane a tile."""
    n, _, rows, columns = x.shape
    ys = torch.arange(rows, device=x.device).view(1, -1, 1) - rows / 2
    xs = torch.arange(columns, device=x.device).view(1, 1, -1) - columns / 2
    cos, sin, long, wide = (one.view(n, 1, 1) for one in (torch.cos(turn), torch.sin(turn), long, wide))
    u = (xs * cos + ys * sin) / long + torch.rand(n, 1, 1, device=x.device) * 200
    v = (ys * cos - xs * sin) / wide + torch.rand(n, 1, 1, device=x.device) * 200
    grid = torch.stack([u + 0.037 * v, v], -1) * (2 * _SCALE / _SIDE) - 1
    tile = _noise(x.device).expand(n, -1, -1, -1)
    return functional.grid_sample(tile, grid, "bilinear", "reflection", align_corners=False)


def with_figure(x: Tensor) -> Tensor:
    """Pores, rays, rings, ribbons, curl and streaks of any size over some tiles."""
    n = x.shape[0]
    tone = torch.tensor((0.8, 1.0, 1.2), device=x.device).view(1, 3, 1, 1)
    tone = tone * (1 + 0.2 * torch.randn(n, 3, 1, 1, device=x.device))
    along = 0.03 * torch.randn(n, 1, 1, 1, device=x.device)
    dark, early = _rings(x, along)
    dark = dark * _sometimes(0.25, x)
    pores = _field(x, _spread(n, 6, 80, x), _spread(n, 1.1, 5, x), along)
    pores = ((pores - _uniform(n, 0.2, 1.7, x)) * 1.6).clamp(0, 1)
    gate = torch.where(_sometimes(0.6, x), early, torch.ones_like(early))
    dark = dark + pores * gate * _uniform(n, 0.05, 0.6, x) * _sometimes(0.22, x)
    rays = _field(x, _spread(n, 8, 90, x), _spread(n, 1.5, 7, x), math.pi / 2 + 8 * along)
    rays = ((rays - _uniform(n, 0.6, 1.8, x)) * 2).clamp(0, 1)
    dark = dark + rays * _uniform(n, -0.22, 0.18, x) * _sometimes(0.16, x)
    ribbon = _field(x, _spread(n, 250, 1500, x), _spread(n, 6, 60, x), along)
    dark = dark + ribbon * _uniform(n, 0, 0.1, x) * _sometimes(0.2, x)
    curl = _field(x, _spread(n, 40, 250, x), _spread(n, 7, 40, x), math.pi / 2 + 10 * along)
    dark = dark + curl * _uniform(n, 0, 0.12, x) * _sometimes(0.15, x)
    streak = _field(x, _spread(n, 80, 700, x), _spread(n, 3, 24, x), along)
    streak = (streak - _uniform(n, 0.8, 2.0, x)).clamp(0, 1.5)
    dark = dark + streak * _uniform(n, 0.05, 0.45, x) * _sometimes(0.15, x)
    return x * torch.exp(-dark * tone)


def _rings(x: Tensor, along: Tensor) -> tuple[Tensor, Tensor]:
    """Darkness of years cut flat or quartered, and where their early wood is."""
    n, _, rows, _ = x.shape
    ys = torch.arange(rows, device=x.device).view(1, 1, -1, 1) - rows / 2
    hills = _field(x, _spread(n, 150, 1200, x), _spread(n, 60, 300, x), along)
    jag = _field(x, _spread(n, 8, 40, x), _spread(n, 2, 8, x), along)
    years = ys / _spread(n, 4, 60, x) + hills * _uniform(n, 0, 8, x) + jag * _uniform(n, 0, 0.12, x)
    part = torch.remainder(years, 1)
    late = part ** _spread(n, 1, 7, x) * (1 - torch.sigmoid((part - 0.96) * 60))
    return late * _uniform(n, -0.08, 0.3, x), (1 - part / _uniform(n, 0.2, 0.6, x)).clamp(0, 1)


def lit_unevenly(x: Tensor) -> Tensor:
    """Two lights of different colours, shadows lifted with halos round what is dark, sharpening too wide."""
    n, _, rows, columns = x.shape
    coarse = torch.randn(n, 3, 2, 4, device=x.device)
    lamps = functional.interpolate(coarse, (rows, columns), mode="bicubic", align_corners=True)
    x = torch.where(_sometimes(0.3, x), x * torch.exp(lamps * _uniform(n, 0, 0.1, x)), x)
    x = x.clamp(1e-3, 1.5)
    far = functional.avg_pool2d(x.mean(1, keepdim=True), 32)
    base = functional.interpolate(far, (rows, columns), mode="bilinear", align_corners=False)
    lifted = base ** _uniform(n, 0.45, 1.0, x) * (x / base) ** _uniform(n, 0.9, 1.5, x)
    x = torch.where(_sometimes(0.2, x), lifted, x)
    near = functional.avg_pool2d(functional.pad(x, (4, 4, 4, 4), mode="reflect"), 9, 1)
    return torch.where(_sometimes(0.15, x), x + (x - near) * _uniform(n, 0.2, 1.0, x), x)
