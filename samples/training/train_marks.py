"""Train the net behind the suggested marks, and export it.

    python -m samples.training.train_marks --scans out/scans.npz --out DIR

Boards are made on all cores, first alone and then beside the training, on a GPU if there is one. Cuts
that the net is still wrong about are drawn more often. Beside the small net, which is kept, a larger
one learns from the same tiles and teaches it: what the large one says of a tile, doubt and all, is a
second answer to learn from. Writes weights.onnx (any height and width in whole cells, probabilities
out), weights.pt, teacher.pt and log.json. Needs the `training` extra. Seeded, but the order in which
cuts come hangs on the machine: another run gives other weights of the same kind.
"""

import argparse
import copy
import json
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import torch
from torch import Tensor
from torch.nn import functional

from samples.training.as_kept import as_kept
from samples.training.figure import Scribbles, scribbled, soiled, with_figure
from samples.training.learner import Learner, saved
from samples.training.light import cut_out, grain_of_others, normalised, photographed
from samples.training.made import ALL_KNOWN, BITS, PX_PER_MM, SHAPE, Cut
from samples.training.net import CLASSES, FINE, LARGE, SMALL, TILE, MarkNet
from samples.training.stream import CutStream
from samples.training.widen import widened

__all__ = ["exported", "main"]

_ROWS, _COLUMNS = TILE[0], TILE[1] // 2  # training tiles are half as long
_KNOWN_IN_SCANS = ALL_KNOWN - BITS["sapwood"] - BITS["wane"]
_CLEAR_CUBE = BITS["knot"] + BITS["crack"] + BITS["pocket"] + BITS["stain"] + BITS["pith"]


_FAULTS = BITS["knot"] + BITS["crack"] + BITS["pocket"] + BITS["stain"] + BITS["pith"]
_FRESH = 1.5  # worth of a cut not yet seen, where one that the net is as wrong about as usual is worth 1.3
_LEAST_WORTH, _MOST_WORTH = 0.7, 2.5
_CRACKS_COUNT = 1.6  # times as much as the other classes: they are thin, and faint in softwood
_TAUGHT = (0.4, 1.2)  # worth of the large net's answers to the small one, at first and in the end
_EVERY = 5  # steps between two looks at what has been made meanwhile


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


def main(arguments: list[str] | None = None) -> None:
    """Make, train, export."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--scans", type=Path, help="file of pack_scans; without it, made boards alone")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--boards", type=int, default=40000, help="made cuts at most")
    parser.add_argument("--make-seconds", type=float, default=45.0, help="before training begins")
    parser.add_argument("--steps", type=int, default=40000)
    parser.add_argument("--train-seconds", type=float, default=400.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--start", type=Path, help="weights.pt of an earlier run, as wide or less")
    parser.add_argument("--teacher", type=Path, help="teacher.pt to go on from, else the start made wider")
    parser.add_argument("--rate", type=float, default=2e-3)
    parser.add_argument("--slower", type=float, help="rate of a second small net beside the first, slower.pt")
    parser.add_argument("--scan-share", type=int, default=16, help="of 64 tiles in a batch")
    parser.add_argument("--batch", type=int, default=64)
    parser.add_argument("--scribbles", type=int, default=1500, help="tiles of pencil, chalk, pen and tape")
    given = parser.parse_args(arguments)
    given.out.mkdir(parents=True, exist_ok=True)
    stream = CutStream(given.seed * 10_000_000, given.scans)  # before the GPU is touched
    began = time.monotonic()
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.backends.cudnn.benchmark = True
    torch.manual_seed(given.seed)
    shares = (given.scan_share, 3) if given.scans else (0, 0)
    made = _empty("made", given.boards, given.batch - sum(shares), device)
    domains = [made, *(_scanned(given.scans, *shares, device) if given.scans else [])]
    while made.count < 2 * made.share or time.monotonic() - began < given.make_seconds:
        made.add(stream.taken(500))
        time.sleep(0.2)
    log: dict[str, object] = {"made at first": made.count, "seed": given.seed, "start": str(given.start)}
    print(log, flush=True)
    net = _trained(domains, stream, given, log)
    stream.stop()
    exported(net, given.out / "weights.onnx")
    log["domains"] = {domain.name: domain.count for domain in domains}
    (given.out / "log.json").write_text(json.dumps(log, indent=1))


def _empty(name: str, room: int, share: int, device: torch.device) -> Domain:
    pictures = torch.empty(room, *SHAPE, 3, dtype=torch.uint8, device=device)
    bits = torch.empty(room, *SHAPE, dtype=torch.uint8, device=device)
    known = torch.empty(room, dtype=torch.uint8, device=device)
    worth, clear = (
        torch.full((room,), _FRESH, device=device),
        torch.zeros(room, dtype=torch.bool, device=device),
    )
    return Domain(name, pictures, bits, known, worth, clear, share, 0)


def _scanned(path: Path, share: int, cube_share: int, device: torch.device) -> list[Domain]:
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
    whole_bits = torch.from_numpy(np.stack(bits)).to(device)
    rare = [(whole_bits & bit > 0).flatten(1).any(1).float() for bit in (BITS["crack"], BITS["stain"] | 16)]
    return [
        Domain(
            "scans", torch.from_numpy(np.stack(pictures)).to(device), whole_bits,
            torch.full((len(pictures),), _KNOWN_IN_SCANS, dtype=torch.uint8, device=device),
            1 + 5 * rare[0] + 2 * rare[1], (whole_bits & _FAULTS == 0).flatten(1).all(1), share,
            len(pictures), loose=True,
        ),
        Domain(
            "cubes", torch.from_numpy(np.stack(clear)).to(device),
            torch.zeros(len(clear), *SHAPE, dtype=torch.uint8, device=device),
            torch.full((len(clear),), _CLEAR_CUBE, dtype=torch.uint8, device=device),
            torch.ones(len(clear), device=device), torch.ones(len(clear), dtype=torch.bool, device=device),
            cube_share, len(clear),
        ),
    ]  # fmt: skip


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


@dataclass
class Tiles:
    """Pictures [n, 3, h, w], target and weight of each class [n, classes, h, w], which have no fault [n]."""

    picture: Tensor
    target: Tensor
    weight: Tensor
    clear: Tensor


def _drawn(domain: Domain) -> Tensor:
    return torch.multinomial(domain.worth[: domain.count], domain.share, replacement=True)


def _tiles(domain: Domain, pick: Tensor) -> Tiles:
    device = domain.pictures.device
    picture = domain.pictures[pick].permute(0, 3, 1, 2).float() / 255
    bits = domain.bits[pick][:, None].float()
    picture, bits = cut_out(picture, bits, (FINE * _ROWS, FINE * _COLUMNS), PX_PER_MM)
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


def _together(parts: Sequence[Tiles]) -> Tiles:
    return Tiles(*(torch.cat([getattr(part, name) for part in parts]) for name in Tiles.__annotations__))


def _loss(logits: Tensor, tiles: Tiles) -> tuple[Tensor, Tensor]:
    """Focal cross entropy, and one less the overlap of each class over the batch; the first tile by tile."""
    logits, target, weight = logits.float(), tiles.target, tiles.weight
    chance = torch.sigmoid(logits)
    right = target * chance + (1 - target) * (1 - chance)
    cross = functional.binary_cross_entropy_with_logits(logits, target, reduction="none")
    focal = ((1 - right) ** 1.5 * cross * (1 + 2 * target) * weight).mean((1, 2, 3)) * 20
    shared = (chance * target * weight).sum((0, 2, 3))
    both = ((chance + target) * weight).sum((0, 2, 3))
    return focal.mean() + 0.3 * (1 - (2 * shared + 50) / (both + 50)).mean(), focal.detach()


def _begun(start: Path | None, widths: tuple[int, int, int, int], device: torch.device) -> Learner:
    net = widened(torch.load(start, map_location="cpu"), widths) if start else MarkNet(widths)
    return Learner.begun(net, device)


def _trained(
    domains: list[Domain],
    stream: CutStream,
    given: argparse.Namespace,
    log: dict[str, object],
) -> MarkNet:
    device = domains[0].pictures.device
    small, large = _begun(given.start, SMALL, device), _begun(given.teacher or given.start, LARGE, device)
    slower = _begun(given.start, SMALL, device) if given.slower else None
    shape = (FINE * _ROWS, FINE * _COLUMNS)
    bank = Scribbles.drawn(given.scribbles, shape, PX_PER_MM, given.seed, device)
    began, step, history, made = time.monotonic(), 0, [], domains[0]
    usual: Tensor | None = None
    while True:
        done = max(step / given.steps, (time.monotonic() - began) / given.train_seconds)
        if done >= 1:
            break
        if step % _EVERY == 0:
            made.add(stream.taken(20))
        picks = [_drawn(domain) for domain in domains]
        tiles = _together([_tiles(domain, pick) for domain, pick in zip(domains, picks, strict=True)])
        seen = normalised(photographed(_overlaid(tiles, bank)), noise=True)
        pace = min(1.0, step / 200 + 0.01) * (0.5 + 0.5 * float(np.cos(np.pi * done)))
        smalls = [(small, given.rate * pace + 1e-6)]
        if slower is not None:
            smalls.append((slower, given.slower * pace + 1e-6))
        keep = min(0.999, (step + 1) / (step + 10))
        loss, wrong = _taught(smalls, large, seen, tiles, done, keep)
        usual = _reweighed(made, picks[0], wrong[: made.share], usual)
        step += 1
        if step % 500 == 0 or step == 20:
            told = {"step": step, "seconds": round(time.monotonic() - began), "loss": round(float(loss), 4)}
            history.append(told | {"made": made.count} | _overlaps(small.mean, domains))
            print(history[-1], flush=True)
            saved(given.out, weights=small, teacher=large, slower=slower)
    saved(given.out, weights=small, teacher=large, slower=slower)
    log.update(steps=step, history=history)
    return small.mean


def _taught(
    smalls: Sequence[tuple[Learner, float]],
    large: Learner,
    seen: Tensor,
    tiles: Tiles,
    done: float,
    keep: float,
) -> tuple[Tensor, Tensor]:
    """One step of all nets; the first small one's loss by the true answers, and that tile by tile."""
    seen = seen.to(memory_format=torch.channels_last)
    with torch.autocast(seen.device.type, torch.bfloat16):
        said, answers = large.net(seen), [small.net(seen) for small, _ in smalls]
        with torch.no_grad():
            told = torch.sigmoid(large.mean(seen).float())
    large.step(_loss(said, tiles)[0], 0.75 * smalls[0][1], keep)
    worth = _TAUGHT[0] + (_TAUGHT[1] - _TAUGHT[0]) * done
    losses = [_loss(answer, tiles) for answer in answers]
    for (small, rate), answer, (loss, _) in zip(smalls, answers, losses, strict=True):
        small.step(loss + worth * _unlike(answer, told), rate, keep)
    return losses[0][0].detach(), losses[0][1]


def _unlike(logits: Tensor, told: Tensor) -> Tensor:
    """How unlike what it was told an answer is: cross entropy, the more where they are far apart."""
    logits = logits.float()
    apart = (torch.sigmoid(logits) - told).abs()
    cross = functional.binary_cross_entropy_with_logits(logits, told, reduction="none")
    return (apart**1.5 * cross * (1 + 2 * told)).mean() * 20


def _reweighed(made: Domain, pick: Tensor, wrong: Tensor, usual: Tensor | None) -> Tensor:
    """Draw more often what the net is more wrong about than usual, among clear cuts and among faulty ones.

    What is usual for faulty and for clear ones comes back [2].
    """
    clear = made.clear[pick].float()
    now = torch.stack([(wrong * one).sum() / one.sum().clamp(min=1) for one in (1 - clear, clear)])
    usual = now if usual is None else torch.lerp(usual, now, 0.02)
    worth = _LEAST_WORTH + wrong / (usual[clear.long()] + 1e-6)
    made.worth[pick] = (0.5 * made.worth[pick] + 0.5 * worth).clamp(_LEAST_WORTH, _MOST_WORTH)
    return usual


def _overlaid(tiles: Tiles, bank: Scribbles) -> Tensor:
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


@torch.no_grad()
def _overlaps(net: MarkNet, domains: list[Domain]) -> dict[str, float]:
    """Overlap (intersection over union of pixels) of each class on the newest cuts, hardly seen so far."""
    shared = both = torch.zeros(len(CLASSES), device=domains[0].pictures.device)
    newest = torch.arange(max(0, domains[0].count - 128), domains[0].count)
    for pick in newest.split(32):
        tiles = _tiles(domains[0], pick.to(domains[0].pictures.device))
        said = (torch.sigmoid(net(normalised(photographed(tiles.picture)))) > 0.5).float() * tiles.weight
        shared = shared + (said * tiles.target).sum((0, 2, 3))
        both = both + torch.maximum(said, tiles.target * tiles.weight).sum((0, 2, 3))
    return {name: round(float(a / (b + 1)), 3) for name, a, b in zip(CLASSES, shared, both, strict=True)}


class _Chances(torch.nn.Module):
    def __init__(self, net: MarkNet) -> None:
        super().__init__()
        self.net = net

    def forward(self, x: Tensor) -> Tensor:
        return torch.sigmoid(self.net(x))


def exported(net: MarkNet, path: Path) -> None:
    """Write the net as ONNX, chances out, any height and width in whole cells, weights of 16 bits."""
    whole = _Chances(copy.deepcopy(net).cpu().float().eval())
    torch.onnx.export(
        whole, (torch.zeros(1, 3, *(FINE * side for side in TILE)),), str(path),
        dynamo=False, opset_version=17, input_names=["tile"], output_names=["chance"],
    )  # fmt: skip
    as_kept(path)


if __name__ == "__main__":
    main()
