"""Read a net back from the file that is kept, so that training can go on from it.

    python -m samples.training.read_back marks.onnx out/scans.npz weights.pt

The exporter takes the norms' shifts and sizes into the convolutions before them. To learn on, each norm
needs the mean and spread of what comes in: they are measured on tiles as they are learned from, and the
norm set so that the net answers as it did. Needs the `training` extra.
"""

import argparse
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import onnx
import torch
from numpy.typing import NDArray
from onnx import numpy_helper
from torch import Tensor, nn

from samples.training.figure import Scribbles
from samples.training.light import normalised, photographed
from samples.training.made import PX_PER_MM, load_transplants, made_cut
from samples.training.net import MarkNet
from samples.training.tiles import (
    TILE_PX,
    drawn_from,
    empty_domain,
    joined,
    scanned_domains,
    tiles_of,
    written_over,
)

__all__ = ["main", "read_back"]

_CUTS, _BATCHES = 90, 4
_FIRST_SEED = 9_000_000_000


def main(arguments: list[str] | None = None) -> None:
    """Write the state."""
    parser = argparse.ArgumentParser(description=__doc__)
    for name in ("kept", "scans", "out"):
        parser.add_argument(name, type=Path)
    given = parser.parse_args(arguments)
    torch.save(read_back(given.kept, list(_seen(given.scans))).state_dict(), given.out)


def _seen(scans: Path) -> Iterator[Tensor]:
    device = torch.device("cpu")
    load_transplants(scans)
    domains = [empty_domain("made", _CUTS, 45, device), *scanned_domains(scans, 22, 3, device)]
    domains[0].add([made_cut(_FIRST_SEED + number) for number in range(_CUTS)])
    bank = Scribbles.drawn(40, TILE_PX, PX_PER_MM, 5, device)
    for _ in range(_BATCHES):
        tiles = joined([tiles_of(domain, drawn_from(domain)) for domain in domains])
        yield normalised(photographed(written_over(tiles, bank)), noise=True)


@torch.no_grad()
def read_back(kept: Path, seen: list[Tensor]) -> MarkNet:
    """The net of the file, its norms measured on batches as the net sees them [n, 3, rows, columns]."""
    net = MarkNet().eval()
    layers = list(net.modules())
    convolutions = [layer for layer in layers if isinstance(layer, nn.Conv2d)]
    norms = [layer for layer in layers if isinstance(layer, nn.BatchNorm2d)]
    inputs: list[list[Tensor]] = [[] for _ in norms]
    for layer, (weight, shift) in zip(convolutions, _convolutions(kept), strict=True):
        layer.weight.copy_(_in_pixels(weight, layer.weight))
        if layer.bias is not None:
            layer.bias.copy_(shift)
    for norm, layer, (_, shift), heard in zip(norms, convolutions, _convolutions(kept), inputs, strict=False):
        size = layer.weight.flatten(1).norm(dim=1).clamp(min=1e-6)
        layer.weight /= size.view(-1, 1, 1, 1)  # a filter's own size is the norm's to tell
        norm.weight.copy_(size * torch.sqrt(norm.running_var + norm.eps))
        norm.bias.copy_(shift)
        norm.register_forward_pre_hook(lambda _, come, heard=heard: heard.append(_moments(come[0])))
    for batch in seen:
        net(batch)
    for norm, heard in zip(norms, inputs, strict=True):
        norm._forward_pre_hooks.clear()
        mean, square = torch.stack(heard).mean(0)
        size = norm.weight / torch.sqrt(norm.running_var + norm.eps)
        norm.running_mean.copy_(mean)
        norm.running_var.copy_((square - mean**2).clamp(min=1e-8))
        norm.weight.copy_(size * torch.sqrt(norm.running_var + norm.eps))
        norm.bias += size * mean
    return net


def _in_pixels(weight: Tensor, like: Tensor) -> Tensor:
    """The first layer's filters, kept for cells (`samples.training.as_kept`), as they are learned."""
    if weight.shape == like.shape:
        return weight
    outside, colours, high, wide = like.shape
    rows, columns = weight.shape[2:]
    parts = weight.reshape(outside, colours, high // rows, wide // columns, rows, columns)
    return parts.permute(0, 1, 4, 2, 5, 3).reshape(like.shape)


def _moments(come: Tensor) -> Tensor:
    return torch.stack([come.double().mean((0, 2, 3)), come.double().square().mean((0, 2, 3))])


def _tensor(array: NDArray[np.floating]) -> Tensor:
    return torch.from_numpy(array.astype(np.float32))


def _convolutions(kept: Path) -> list[tuple[Tensor, Tensor]]:
    """Weights and shifts in the order in which the net asks its layers, which is that of its making."""
    graph = onnx.load(kept).graph
    arrays = {one.name: numpy_helper.to_array(one) for one in graph.initializer}
    for node in graph.node:
        if node.op_type == "Cast":
            arrays[node.output[0]] = arrays[node.input[0]]
    return [
        (_tensor(arrays[node.input[1]]), _tensor(arrays[node.input[2]]))
        for node in graph.node
        if node.op_type == "Conv"
    ]


if __name__ == "__main__":
    main()
