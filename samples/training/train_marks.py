"""Train the net behind the suggested marks, and export it.

    python -m samples.training.train_marks --scans out/scans.npz --out DIR

Makes boards on all cores first, then trains on a GPU if there is one. Writes
weights.onnx (any height and width in whole cells, probabilities out), weights.pt and log.json. Needs the
`training` extra.
"""

import argparse
import copy
import json
import time
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import torch
from torch import Tensor
from torch.nn import functional

from samples.training.any_size import any_size
from samples.training.light import cut_out, normalised, photographed
from samples.training.made import ALL_KNOWN, BITS, PX_PER_MM, SHAPE, Cut, cuts_for
from samples.training.net import CLASSES, FINE, TILE, MarkNet

__all__ = ["main"]

_ROWS, _COLUMNS = TILE[0], TILE[1] // 2  # training tiles are half as long
_KNOWN_IN_SCANS = ALL_KNOWN - BITS["sapwood"] - BITS["wane"]
_CLEAR_CUBE = BITS["knot"] + BITS["crack"] + BITS["pocket"] + BITS["stain"] + BITS["pith"]


@dataclass(frozen=True)
class Domain:
    """Pictures of one origin [n, h, w, 3], their class bits [n, h, w] and known bits [n]; tiles a batch."""

    name: str
    pictures: Tensor
    bits: Tensor
    known: Tensor
    share: int


def main(arguments: list[str] | None = None) -> None:
    """Make, train, export."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--scans", type=Path, help="file of pack_scans; without it, made boards alone")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--boards", type=int, default=12000, help="made cuts at most")
    parser.add_argument("--make-seconds", type=float, default=170.0)
    parser.add_argument("--steps", type=int, default=20000)
    parser.add_argument("--train-seconds", type=float, default=300.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--start", type=Path, help="weights.pt of an earlier run to go on from")
    parser.add_argument("--scan-share", type=int, default=12, help="of 64 tiles in a batch")
    given = parser.parse_args(arguments)
    given.out.mkdir(parents=True, exist_ok=True)
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    first = given.seed * 10_000_000
    began = time.monotonic()
    kept_out = cuts_for((first + 9_000_000, first + 9_000_160), 30.0, None)
    cuts = cuts_for((first, first + given.boards), given.make_seconds, given.scans)
    log: dict[str, object] = {"made": len(cuts), "seconds to make": round(time.monotonic() - began)}
    print(log, flush=True)
    torch.manual_seed(given.seed)
    np.random.seed(given.seed)  # noqa: NPY002 (torch's loaders read it)
    domains = [_made(cuts, 64 - given.scan_share - 3 if given.scans else 64, device)]
    if given.scans:
        domains += _scanned(given.scans, given.scan_share, device)
    net = _trained(domains, _made(kept_out, 0, device), given, device, log)
    torch.save(net.state_dict(), given.out / "weights.pt")
    _export(net, given.out / "weights.onnx")
    (given.out / "log.json").write_text(json.dumps(log, indent=1))


def _made(cuts: list[Cut], share: int, device: torch.device) -> Domain:
    return Domain(
        "made",
        torch.from_numpy(np.stack([cut.picture for cut in cuts])).to(device),
        torch.from_numpy(np.stack([cut.bits for cut in cuts])).to(device),
        torch.tensor([cut.known for cut in cuts], dtype=torch.uint8, device=device),
        share,
    )


def _scanned(path: Path, share: int, device: torch.device) -> list[Domain]:
    wide = SHAPE[1]
    pictures, bits = [], []
    with np.load(path, allow_pickle=True) as packed:
        for picture, mask in zip(packed["pictures"], packed["masks"], strict=True):
            whole = cv2.cvtColor(cv2.imdecode(picture, cv2.IMREAD_COLOR), cv2.COLOR_BGR2RGB)
            layer = cv2.imdecode(mask, cv2.IMREAD_GRAYSCALE)
            for left in range(0, max(1, whole.shape[1] - wide // 2), wide // 2):
                pictures.append(_fit(whole[:, left : left + wide], (340, wide)))
                bits.append(_fit(layer[:, left : left + wide], (340, wide)))
        cubes = [
            cv2.cvtColor(cv2.imdecode(cube, cv2.IMREAD_COLOR), cv2.COLOR_BGR2RGB) for cube in packed["cubes"]
        ]
    clear = [_small_cube(cubes[index % len(cubes)], index) for index in range(90)]
    scans = torch.from_numpy(np.stack(pictures)).to(device), torch.from_numpy(np.stack(bits)).to(device)
    known = torch.full((len(pictures),), _KNOWN_IN_SCANS, dtype=torch.uint8, device=device)
    cubes_bits = torch.zeros(len(clear), *SHAPE, dtype=torch.uint8, device=device)
    cubes_known = torch.full((len(clear),), _CLEAR_CUBE, dtype=torch.uint8, device=device)
    return [
        Domain("scans", *scans, known, share),
        Domain("cubes", torch.from_numpy(np.stack(clear)).to(device), cubes_bits, cubes_known, 3),
    ]


def _fit(plane: np.ndarray, shape: tuple[int, int]) -> np.ndarray:
    down, right = max(0, shape[0] - plane.shape[0]), max(0, shape[1] - plane.shape[1])
    while down or right:  # a mirror reaches no further than the picture is wide
        step = min(down, plane.shape[0]), min(right, plane.shape[1])
        plane = cv2.copyMakeBorder(plane, 0, step[0], 0, step[1], cv2.BORDER_REFLECT)
        down, right = down - step[0], right - step[1]
    return np.ascontiguousarray(plane[: shape[0], : shape[1]])


def _small_cube(cube: np.ndarray, index: int) -> np.ndarray:
    rng = np.random.default_rng(index)
    turned = np.rot90(cube, int(rng.integers(2)))[8:-8, 8:-8]  # the outermost pixels show the background
    size = float(rng.uniform(0.4, 1.2))
    return _fit(
        cv2.resize(np.ascontiguousarray(turned), None, fx=size, fy=size, interpolation=cv2.INTER_AREA), SHAPE
    )


def _tiles(domain: Domain, count: int, chance: torch.Generator) -> tuple[Tensor, Tensor, Tensor]:
    """Picture, target and weight of each class for tiles drawn at random."""
    device = domain.pictures.device
    pick = torch.randint(len(domain.pictures), (count,), generator=chance).to(device)
    picture = domain.pictures[pick].permute(0, 3, 1, 2).float() / 255
    bits = domain.bits[pick][:, None].float()
    picture, bits = cut_out(picture, bits, (FINE * _ROWS, FINE * _COLUMNS), PX_PER_MM)
    whole = bits.round().to(torch.uint8)
    flags = torch.tensor([BITS[name] for name in CLASSES], dtype=torch.uint8, device=device).view(1, -1, 1, 1)
    target = functional.avg_pool2d(((whole & flags) > 0).float(), FINE)
    target = (target > torch.where(flags == BITS["crack"], 0.2, 0.45)).float()  # thin things are not lost
    weight = ((domain.known[pick].view(-1, 1, 1, 1) & flags) > 0).float()
    return picture, target, weight


def _loss(logits: Tensor, target: Tensor, weight: Tensor) -> Tensor:
    """Focal cross entropy, and one less the overlap of each class over the batch."""
    logits = logits.float()
    chance = torch.sigmoid(logits)
    right = target * chance + (1 - target) * (1 - chance)
    cross = functional.binary_cross_entropy_with_logits(logits, target, reduction="none")
    focal = ((1 - right) ** 1.5 * cross * (1 + 2 * target) * weight).mean() * 20
    shared = (chance * target * weight).sum((0, 2, 3))
    both = ((chance + target) * weight).sum((0, 2, 3))
    return focal + 0.3 * (1 - (2 * shared + 50) / (both + 50)).mean()


def _trained(
    domains: list[Domain],
    test: Domain,
    given: argparse.Namespace,
    device: torch.device,
    log: dict[str, object],
) -> MarkNet:
    net = MarkNet()
    if given.start:
        net.load_state_dict(torch.load(given.start, map_location="cpu"))
    net = net.to(device).to(memory_format=torch.channels_last)
    mean = copy.deepcopy(net).eval()
    optimiser = torch.optim.AdamW(net.parameters(), lr=2e-3, weight_decay=1e-2)
    chance = torch.Generator().manual_seed(given.seed)
    began, step, history = time.monotonic(), 0, []
    while True:
        done = max(step / given.steps, (time.monotonic() - began) / given.train_seconds)
        if done >= 1:
            break
        rate = 2e-3 * min(1.0, step / 200 + 0.01) * (0.5 + 0.5 * np.cos(np.pi * done)) + 1e-6
        for group in optimiser.param_groups:
            group["lr"] = rate
        parts = [_tiles(domain, domain.share, chance) for domain in domains]
        picture, target, weight = (torch.cat(part) for part in zip(*parts, strict=True))
        picture = normalised(photographed(picture), noise=True)
        with torch.autocast(device.type, torch.bfloat16):
            logits = net(picture.to(memory_format=torch.channels_last))
        loss = _loss(logits, target, weight)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 1.0)
        optimiser.step()
        _drift(mean, net, min(0.999, (step + 1) / (step + 10)))
        step += 1
        if step % 500 == 0 or step == 20:
            seen = {"step": step, "seconds": round(time.monotonic() - began), "loss": round(loss.item(), 4)}
            history.append(seen | _overlaps(mean, test))
            print(history[-1], flush=True)
    log.update(
        steps=step, history=history, seed=given.seed, domains={d.name: len(d.pictures) for d in domains}
    )
    return mean


@torch.no_grad()
def _drift(mean: MarkNet, net: MarkNet, keep: float) -> None:
    pairs = list(zip(mean.state_dict().values(), net.state_dict().values(), strict=True))
    slow = [a for a, _ in pairs if a.dtype.is_floating_point]
    fast = [b for _, b in pairs if b.dtype.is_floating_point]
    torch._foreach_lerp_(slow, fast, 1 - keep)


@torch.no_grad()
def _overlaps(net: MarkNet, test: Domain) -> dict[str, float]:
    """Overlap (intersection over union of pixels) of each class on made boards kept out."""
    chance = torch.Generator().manual_seed(0)
    shared = both = torch.zeros(len(CLASSES), device=test.pictures.device)
    for _ in range(4):
        picture, target, weight = _tiles(test, 32, chance)
        said = (torch.sigmoid(net(normalised(photographed(picture)))) > 0.5).float() * weight
        shared = shared + (said * target).sum((0, 2, 3))
        both = both + torch.maximum(said, target * weight).sum((0, 2, 3))
    return {name: round(float(a / (b + 1)), 3) for name, a, b in zip(CLASSES, shared, both, strict=True)}


class _Chances(torch.nn.Module):
    def __init__(self, net: MarkNet) -> None:
        super().__init__()
        self.net = net

    def forward(self, x: Tensor) -> Tensor:
        return torch.sigmoid(self.net(x))


def _export(net: MarkNet, path: Path) -> None:
    whole = _Chances(copy.deepcopy(net).cpu().float().eval())
    torch.onnx.export(
        whole, (torch.zeros(1, 3, *(FINE * side for side in TILE)),), str(path),
        dynamo=False, opset_version=17, input_names=["tile"], output_names=["chance"],
    )  # fmt: skip
    any_size(path)


if __name__ == "__main__":
    main()
