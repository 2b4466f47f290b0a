"""What a camera and a workshop do to a picture of wood, done at random to whole batches at once (PyTorch).

Every function takes and returns [n, 3, rows, columns], sRGB 0 to 1.
"""

import math

import torch
from torch import Tensor
from torch.nn import functional

from samples.training.figure import lit_unevenly

__all__ = ["cut_out", "grain_of_others", "normalised", "photographed"]


def _uniform(n: int, low: float, high: float, like: Tensor) -> Tensor:
    return torch.rand(n, 1, 1, 1, device=like.device) * (high - low) + low


def _sometimes(chance: float, like: Tensor) -> Tensor:
    return torch.rand(like.shape[0], 1, 1, 1, device=like.device) < chance


def cut_out(
    pictures: Tensor, masks: Tensor, shape: tuple[int, int], px_per_mm: float
) -> tuple[Tensor, Tensor]:
    """Tiles from larger cuts at about the same scale: turned, leaned, scaled, flipped at random.

    `pictures` [n, 3, h, w], `masks` [n, 1, h, w] of class bits (float); both are read at the same points.
    """
    n, _, h, w = pictures.shape
    rows, columns = shape
    device = pictures.device
    scale = torch.exp(torch.randn(n, device=device) * 0.3 - 0.05).clamp(0.4, 1.8)
    stretch = torch.exp(torch.randn(n, device=device) * 0.06)
    angle = torch.randn(n, device=device) * 0.035
    lean = torch.randn(n, device=device) * 0.05
    flip_x = torch.where(torch.rand(n, device=device) < 0.5, -1.0, 1.0)
    flip_y = torch.where(torch.rand(n, device=device) < 0.5, -1.0, 1.0)
    # tile pixel (from its middle) -> source pixel (from its middle), in the units of grid_sample
    kx, ky = scale * stretch * columns / w, scale / stretch * rows / h
    ratio = w / h
    theta = torch.zeros(n, 2, 3, device=device)
    theta[:, 0, 0] = flip_x * kx * torch.cos(angle)
    theta[:, 0, 1] = -ky * torch.sin(angle) * (1 / ratio)
    theta[:, 1, 0] = flip_x * kx * torch.sin(angle + lean) * ratio
    theta[:, 1, 1] = flip_y * ky * torch.cos(angle)
    room_x = (1 - theta[:, 0, :2].abs().sum(1)).clamp(min=0.0)
    room_y = (1 - theta[:, 1, :2].abs().sum(1)).clamp(min=0.0)
    theta[:, 0, 2] = (torch.rand(n, device=device) * 2 - 1) * room_x
    theta[:, 1, 2] = (torch.rand(n, device=device) * 2 - 1) * room_y
    grid = functional.affine_grid(theta, [n, 3, rows, columns], align_corners=False)
    grid[..., 1] += _wave(grid[..., 0], w / px_per_mm) * (2 * px_per_mm / h)
    picture = functional.grid_sample(pictures, grid, "bilinear", "reflection", align_corners=False)
    mask = functional.grid_sample(masks, grid, "nearest", "reflection", align_corners=False)
    return picture, mask


def _wave(along: Tensor, length_mm: float) -> Tensor:
    """Wavy grain: how far each point is moved across [mm]; most tiles stay straight."""
    n = along.shape[0]
    total = torch.zeros_like(along)
    for _ in range(2):
        period = _uniform(n, 30, 260, along)[..., 0]
        height = _uniform(n, 0.0, 0.035, along)[..., 0] * period * _sometimes(0.3, along[:, None])[..., 0]
        phase = _uniform(n, 0, 2 * math.pi, along)[..., 0]
        total = total + height * torch.sin(math.pi * along * length_mm / period + phase)
    return total


def grain_of_others(x: Tensor, clear: Tensor) -> Tensor:
    """Some tiles get the pores, rays and rings of a clear tile, whatever its origin, over their own.

    So no look of a surface goes with a kind of fault: knots of scanned softwood are seen in
    made hardwood's pores, and made knots under a real scanner's noise. `clear` [n] tells donors.
    """
    donors = clear.nonzero()[:, 0]
    if len(donors) == 0:
        return x
    grain = x[donors[torch.randint(len(donors), (x.shape[0],), device=x.device)]]
    slow = functional.interpolate(functional.avg_pool2d(grain, 16), x.shape[2:], mode="bilinear")
    ratio = ((grain + 0.02) / (slow + 0.02)).clamp(0.5, 1.6)
    return torch.where(_sometimes(0.2, x), x * ratio ** _uniform(x.shape[0], 0.3, 1.0, x), x)


def photographed(x: Tensor) -> Tensor:
    """Another light, another camera, another species' colour."""
    x = _species_colour(x)
    x = _figured(x)
    x = _shade(x)
    x = _two_lights(x)
    x = _pencil(x)
    x = lit_unevenly(x)
    x = _soft(x)
    x = _from_afar(x)
    x = _grain_of_film(x)
    return x.clamp(0, 1)


def normalised(x: Tensor, noise: bool = False) -> Tensor:
    """Divided by the median colour, less one: what the net sees."""
    middle = x[:, :, ::9, ::7].flatten(2).median(dim=2).values[..., None, None]
    if noise:
        middle = middle * torch.exp(torch.randn_like(middle) * 0.05)
    return (x / (middle + 0.02) - 1).clamp(-1.5, 1.5)


def _species_colour(x: Tensor) -> Tensor:
    n = x.shape[0]
    grey = x.mean(1, keepdim=True)
    x = grey + (x - grey) * _uniform(n, 0.2, 1.7, x)
    mix = torch.eye(3, device=x.device) + 0.05 * torch.randn(n, 3, 3, device=x.device)
    x = torch.einsum("nij,njhw->nihw", mix, x)  # no two cameras' colours agree
    gain = torch.exp(torch.randn(n, 3, 1, 1, device=x.device) * 0.15)
    x = (x * gain * _uniform(n, 0.5, 1.25, x)).clamp(1e-4, 1.3)
    x = x ** _uniform(n, 0.65, 1.7, x)
    middle = x.mean((2, 3), keepdim=True)
    contrast = torch.exp(torch.randn(n, 1, 1, 1, device=x.device) * 0.25).clamp(0.5, 1.8)
    x = middle + (x - middle) * contrast
    swap = _sometimes(0.1, x)
    return torch.where(swap, x[:, torch.randperm(3, device=x.device)], x)


def _figured(x: Tensor) -> Tensor:
    """Stripes, mottle and clouds of colour, soft and long along the grain or across it: figure, no defect."""
    n, _, rows, columns = x.shape
    for chance, cells in ((0.3, (16, 4)), (0.2, (20, 10)), (0.2, (4, 24)), (0.15, (40, 6))):
        coarse = torch.randn(n, 1, *cells, device=x.device)
        stripe = functional.interpolate(coarse, (rows, columns), mode="bicubic", align_corners=True)
        tone = 1 + 0.3 * torch.randn(n, 3, 1, 1, device=x.device)
        stripe = torch.exp(stripe * tone * _uniform(n, 0.0, 0.11, x))
        x = torch.where(_sometimes(chance, x), x * stripe, x)
    return x


def _shade(x: Tensor) -> Tensor:
    n, _, rows, columns = x.shape
    coarse = torch.randn(n, 1, 3, 5, device=x.device)
    slow = functional.interpolate(coarse, (rows, columns), mode="bicubic", align_corners=True)
    x = x * torch.exp(slow * _uniform(n, 0.0, 0.16, x))
    # the straight soft edge of a shadow: no defect, at any angle
    ys = torch.linspace(-1, 1, rows, device=x.device).view(1, 1, -1, 1) * (rows / columns)
    xs = torch.linspace(-1, 1, columns, device=x.device).view(1, 1, 1, -1)
    turn = _uniform(n, 0, 2 * math.pi, x)
    far = xs * torch.cos(turn) + ys * torch.sin(turn) - _uniform(n, -0.7, 0.7, x)
    edge = torch.sigmoid(far / torch.exp(_uniform(n, -5.0, -1.5, x)))
    shadow = 1 - edge * _uniform(n, 0.1, 0.5, x)
    x = torch.where(_sometimes(0.25, x), x * shadow, x)
    shine = torch.exp(-((far / _uniform(n, 0.05, 0.4, x)) ** 2)) * _uniform(n, 0.05, 0.35, x)
    return torch.where(_sometimes(0.2, x), x + shine, x)


def _two_lights(x: Tensor) -> Tensor:
    """Lamp from one side, window from the other: some boards' white is not the same all over."""
    n, _, rows, columns = x.shape
    coarse = torch.randn(n, 1, 2, 3, device=x.device)
    slow = functional.interpolate(coarse, (rows, columns), mode="bicubic", align_corners=True)
    warm = torch.tensor([1.0, 0.1, -1.0], device=x.device).view(1, 3, 1, 1) * _uniform(n, -0.16, 0.16, x)
    return torch.where(_sometimes(0.25, x), x * torch.exp(slow * warm), x)


def _pencil(x: Tensor) -> Tensor:
    """A pencil line or a saw mark across the grain, or several: no defect."""
    n, _, rows, columns = x.shape
    ys = torch.arange(rows, device=x.device).view(1, 1, -1, 1) - rows / 2
    xs = torch.arange(columns, device=x.device).view(1, 1, 1, -1) - columns / 2
    turn = _uniform(n, -0.9, 0.9, x)
    far = xs * torch.cos(turn) + ys * torch.sin(turn) - _uniform(n, -0.4, 0.4, x) * columns
    one = torch.exp(-((far / _uniform(n, 0.6, 1.8, x)) ** 2))
    period = _uniform(n, 10, 60, x)
    many = torch.exp(-(((torch.remainder(far, period) - period / 2) / _uniform(n, 0.8, 3.0, x)) ** 2))
    x = torch.where(_sometimes(0.12, x), x * (1 - one * _uniform(n, 0.1, 0.6, x)), x)
    side = torch.where(_sometimes(0.5, x), 1.0, -1.0)
    return torch.where(_sometimes(0.12, x), x * (1 + side * many * _uniform(n, 0.02, 0.12, x)), x)


def _soft(x: Tensor) -> Tensor:
    """Blur, or sharpening as phones do."""
    for size, pad in (((3, 1), (0, 0, 1, 1)), ((1, 3), (1, 1, 0, 0))):
        amount = _uniform(x.shape[0], 0.0, 1.0, x) * _sometimes(0.6, x)
        for _ in range(5):  # five passes of three pixels come near a bell of two pixels
            mean = functional.avg_pool2d(functional.pad(x, pad, mode="reflect"), size, 1)
            x = torch.lerp(x, mean, amount)
    smooth = functional.avg_pool2d(functional.pad(x, (1, 1, 1, 1), mode="reflect"), 3, 1)
    fine = x - smooth  # what phones take for noise is smeared, and edges are left
    smeared = x - fine * torch.exp(-((fine / _uniform(x.shape[0], 0.01, 0.06, x)) ** 2))
    x = torch.where(_sometimes(0.2, x), smeared, x)
    smooth = functional.avg_pool2d(functional.pad(x, (1, 1, 1, 1), mode="reflect"), 3, 1)
    sharper = x + (x - smooth) * _uniform(x.shape[0], 0.2, 1.2, x)
    return torch.where(_sometimes(0.3, x), sharper, x)


def _from_afar(x: Tensor) -> Tensor:
    """Some were taken with fewer pixels than they are read with."""
    some = torch.randperm(x.shape[0], device=x.device)[: int(0.2 * x.shape[0])]
    if len(some):
        share = float(torch.rand(1)) * 0.55 + 0.25
        small = functional.interpolate(x[some], scale_factor=share, mode="bilinear", antialias=True)
        x[some] = functional.interpolate(small, x.shape[2:], mode="bicubic")
    return x


def _grain_of_film(x: Tensor) -> Tensor:
    n = x.shape[0]
    x = x + torch.randn_like(x) * _uniform(n, 0.0, 0.04, x)
    blotch = functional.interpolate(
        torch.randn(n, 3, x.shape[2] // 16, x.shape[3] // 16, device=x.device), x.shape[2:], mode="bilinear"
    )
    x = x + blotch * _uniform(n, 0.0, 0.012, x)
    some = torch.randperm(n, device=x.device)[: int(0.4 * n)]
    x[some] = _jpeg(x[some].clamp(0, 1))
    return x


def _jpeg(x: Tensor) -> Tensor:
    """Blocks of eight by eight with the fine waves rounded away, as JPEG does it."""
    n, _, rows, columns = x.shape
    k = torch.arange(8, device=x.device).float()
    wave = torch.cos((2 * k[None, :] + 1) * k[:, None] * math.pi / 16) * 0.5
    wave[0] = wave[0] / math.sqrt(2)
    step = (1 + k[:, None] + k[None, :]) * _uniform(n, 0.003, 0.026, x).view(n, 1, 1, 1, 1, 1)
    blocks = x.view(n, 3, rows // 8, 8, columns // 8, 8).permute(0, 1, 2, 4, 3, 5)
    coefficients = wave @ blocks @ wave.T
    rounded = torch.round(coefficients / step) * step
    back = wave.T @ rounded @ wave
    return back.permute(0, 1, 2, 4, 3, 5).reshape(n, 3, rows, columns)
