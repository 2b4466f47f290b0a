"""A net that learns: itself, its running mean, and what moves it."""

import copy
from dataclasses import dataclass
from pathlib import Path

import torch
from torch import Tensor

from samples.training.net import MarkNet

__all__ = ["Learner", "saved"]


@dataclass
class Learner:
    """A net, its running mean (the one that is kept) and what moves it."""

    net: MarkNet
    mean: MarkNet
    optimiser: torch.optim.Optimizer

    @classmethod
    def begun(cls, net: MarkNet, device: torch.device) -> "Learner":
        net = net.to(device).to(memory_format=torch.channels_last)  # type: ignore[call-overload]
        optimiser = torch.optim.AdamW(net.parameters(), lr=1e-3, weight_decay=1e-2)
        return cls(net, copy.deepcopy(net).eval(), optimiser)

    def step(self, loss: Tensor, rate: float, keep: float) -> None:
        for group in self.optimiser.param_groups:
            group["lr"] = rate
        self.optimiser.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(self.net.parameters(), 1.0)
        self.optimiser.step()
        _drift(self.mean, self.net, keep)


@torch.no_grad()
def _drift(mean: MarkNet, net: MarkNet, keep: float) -> None:
    pairs = list(zip(mean.state_dict().values(), net.state_dict().values(), strict=True))
    slow = [a for a, _ in pairs if a.dtype.is_floating_point]
    fast = [b for _, b in pairs if b.dtype.is_floating_point]
    torch._foreach_lerp_(slow, fast, 1 - keep)


def saved(out: Path, **learners: Learner | None) -> None:
    """Write the running means, NAME.pt each, whole or not at all."""
    for name, learner in learners.items():
        if learner is not None:
            torch.save(learner.mean.state_dict(), out / f"{name}.part")
            (out / f"{name}.part").replace(out / f"{name}.pt")
