"""Average the weights of runs that went on from one another, and export the mean.

    python -m samples.training.average --out DIR a/weights.pt=0.4 b/weights.pt=0.6

Runs that share their beginning lie in one valley, and the middle of it does better on woods that
none of them has seen than any one does. Needs the `training` extra.
"""

import argparse
from pathlib import Path

import torch

from samples.training.net import MarkNet
from samples.training.train_marks import exported

__all__ = ["main"]


def main(arguments: list[str] | None = None) -> None:
    """Write weights.pt and weights.onnx of the mean."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("runs", nargs="+", help="FILE=SHARE; shares need not add up to one")
    parser.add_argument("--out", type=Path, required=True)
    given = parser.parse_args(arguments)
    given.out.mkdir(parents=True, exist_ok=True)
    runs = [run.rsplit("=", 1) for run in given.runs]
    total = sum(float(share) for _, share in runs)
    net = MarkNet()
    mean = {name: torch.zeros_like(value, dtype=torch.float64) for name, value in net.state_dict().items()}
    for file, share in runs:
        for name, value in torch.load(file, map_location="cpu").items():
            mean[name] += value.double() * float(share) / total
    net.load_state_dict({name: mean[name].to(value.dtype) for name, value in net.state_dict().items()})
    torch.save(net.state_dict(), given.out / "weights.pt")
    exported(net, given.out / "weights.onnx")


if __name__ == "__main__":
    main()
