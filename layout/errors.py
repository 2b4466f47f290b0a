"""Failures a caller of the layout package may catch."""

__all__ = ["LayoutError"]


class LayoutError(ValueError):
    """A request that cannot be laid out as asked; the message is one sentence fit to show a maker."""
