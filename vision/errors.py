"""Failures a caller of the vision package may catch."""

__all__ = ["VisionError"]


class VisionError(ValueError):
    """A picture or reading that cannot be used; the message is one sentence fit to show a maker."""
