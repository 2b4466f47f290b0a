"""Words put together so that they read as somebody would say them."""

from collections.abc import Sequence

__all__ = ["counted", "named"]


def counted(number: int, thing: str) -> str:
    """So many of a thing: "1 mark", "5 marks", "no marks"."""
    return f"{number or 'no'} {thing}" + ("" if number == 1 else "s")


def named(names: Sequence[str], most: int = 6) -> str:
    """Names in a row, of many only the first: "1, 2, 3 and 1997 more"."""
    said = ", ".join(names[:most])
    return said if len(names) <= most else f"{said} and {len(names) - most} more"
