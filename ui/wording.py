"""Words put together so that they read as somebody would say them."""

__all__ = ["counted"]


def counted(number: int, thing: str) -> str:
    """So many of a thing: "1 mark", "5 marks", "no marks"."""
    return f"{number or 'no'} {thing}" + ("" if number == 1 else "s")
