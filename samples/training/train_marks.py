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
from pathlib import Path

import numpy as np
import torch
from torch import Tensor
from torch.nn import functional

from samples.training.as_kept import as_kept
from samples.training.figure import Scribbles
from samples.training.learner import Learner, saved
from samples.training.light import normalised, photographed
from samples.training.made import PX_PER_MM
from samples.training.net import CLASSES, FINE, LARGE, SMALL, TILE, MarkNet
from samples.training.stream import CutStream
from samples.training.tiles import (
    TILE_PX,
    Domain,
    Tiles,
    drawn_from,
    empty_domain,
    joined,
    scanned_domains,
    tiles_of,
    written_over,
)
from samples.training.widen import widened

__all__ = ["exported", "main"]

_LEAST_WORTH, _MOST_WORTH = 0.7, 2.5
_TAUGHT = (0.4, 1.2)  # worth of the large net's answers to the small one, at first and in the end
_EVERY = 5  # steps between two looks at what has been made meanwhile


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
    parser.add_argument("--drawn-on", type=float, default=0.0, help="share of cuts that are scans drawn on")
    parser.add_argument("--rare", type=float, default=5.0, help="how much oftener scanned cracks are drawn")
    parser.add_argument("--batch", type=int, default=64)
    parser.add_argument("--scribbles", type=int, default=1500, help="tiles of pencil, chalk, pen and tape")
    given = parser.parse_args(arguments)
    given.out.mkdir(parents=True, exist_ok=True)
    stream = CutStream(
        given.seed * 10_000_000, given.scans, scanned=given.drawn_on
    )  # before the GPU is touched
    began = time.monotonic()
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.backends.cudnn.benchmark = True
    torch.manual_seed(given.seed)
    shares = (given.scan_share, 3) if given.scans else (0, 0)
    made = empty_domain("made", given.boards, given.batch - sum(shares), device)
    domains = [made, *(scanned_domains(given.scans, *shares, device, given.rare) if given.scans else [])]
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
    bank = Scribbles.drawn(given.scribbles, TILE_PX, PX_PER_MM, given.seed, device)
    began, step, history, made = time.monotonic(), 0, [], domains[0]
    usual: Tensor | None = None
    while True:
        done = max(step / given.steps, (time.monotonic() - began) / given.train_seconds)
        if done >= 1:
            break
        if step % _EVERY == 0:
            made.add(stream.taken(20))
        picks = [drawn_from(domain) for domain in domains]
        tiles = joined([tiles_of(domain, pick) for domain, pick in zip(domains, picks, strict=True)])
        seen = normalised(photographed(written_over(tiles, bank)), noise=True)
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


@torch.no_grad()
def _overlaps(net: MarkNet, domains: list[Domain]) -> dict[str, float]:
    """Overlap (intersection over union of pixels) of each class on the newest cuts, hardly seen so far."""
    shared = both = torch.zeros(len(CLASSES), device=domains[0].pictures.device)
    newest = torch.arange(max(0, domains[0].count - 128), domains[0].count)
    for pick in newest.split(32):
        tiles = tiles_of(domains[0], pick.to(domains[0].pictures.device))
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
