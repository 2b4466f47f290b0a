"""Make a net wider without changing what it says: a larger one goes on from what a smaller has learned."""

from collections.abc import Mapping

import torch
from torch import Tensor

from samples.training.net import MarkNet

__all__ = ["widened"]

Widths = tuple[int, int, int, int]


def widened(
    state: Mapping[str, Tensor], widths: Widths, further: Mapping[str, Tensor] | None = None
) -> MarkNet:
    """A net of these widths that answers what the one with this state does.

    The channels it has more begin at random and nothing listens to them yet; learning lets them in.
    To be averaged with a net that went on from it, it takes them from that one's state, `further`.

    Raises
    ------
    ValueError
        A width is less than the state's.
    """
    old = _widths_of(state)
    if any(new < had for new, had in zip(widths, old, strict=True)):
        raise ValueError(f"widths are {widths}; give at least {old}, those of the net to go on from")
    net = MarkNet(widths)
    grown = net.state_dict()
    heard = _heard(old, widths)
    for name, value in state.items():
        if value.ndim == 0:
            continue  # how often a mean was taken
        if further is not None:
            grown[name][len(value) :] = further[name][len(value) :]
        if value.ndim == 1:
            grown[name][: len(value)] = value
            continue
        rows = len(value)
        columns = heard.get(name.split(".")[0], torch.arange(value.shape[1]))
        grown[name][:rows] = 0
        grown[name][:rows, columns] = value
    net.load_state_dict(grown)
    return net


def _widths_of(state: Mapping[str, Tensor]) -> Widths:
    parts = ("stem.0", "up_two.0", "up_three.0", "four.0.0")
    a, b, c, d = (len(state[f"{part}.weight"]) for part in parts)
    return a, b, c, d


def _heard(old: Widths, new: Widths) -> dict[str, Tensor]:
    """For the layers that hear two others side by side: where the old channels lie among the new."""
    return {
        name: torch.cat([torch.arange(old[coarse]), new[coarse] + torch.arange(old[coarse - 1])])
        for name, coarse in (("up_three", 3), ("up_two", 2), ("up_one", 1))
    }
