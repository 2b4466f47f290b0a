"""A table as HTML: scrolls by itself where it is too wide, and says what it is to a screen reader."""

from collections.abc import Iterable, Sequence
from html import escape

__all__ = ["web_table"]


def web_table(label: str, heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table; the first cell of each row is its heading.

    Parameters
    ----------
    label : str
        What the table shows.
    heads : sequence of str
        One for each column.
    rows : iterable of sequence of str
    """
    top = "".join(f'<th scope="col">{escape(head)}</th>' if head else "<td></td>" for head in heads)
    body = "".join(
        f'<tr><th scope="row">{escape(first)}</th>{"".join(f"<td>{escape(cell)}</td>" for cell in rest)}</tr>'
        for first, *rest in rows
    )
    return (
        f'<div class="cf-scroll" tabindex="0" role="region" aria-label="{escape(label)}">'
        f'<table class="cf-table"><thead><tr>{top}</tr></thead><tbody>{body}</tbody></table></div>'
    )
