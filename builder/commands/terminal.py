"""What all tables on a terminal share; they fit 80 columns, and none of their figures is cut off."""

from __future__ import annotations

from collections.abc import Iterable

from rich.box import SIMPLE_HEAD
from rich.table import Table
from rich.text import Text

WRAPPED_WIDTH = 24  # characters that a column keeps at least, where its texts may go on below


def heading(text: str) -> Text:
    """Return the line above a table."""
    return Text(text, style="bold")


def table(columns: Iterable[str], *, wrapped: str = "") -> Table:
    """Return an empty table: two columns of words, then numbers to the right. The column `wrapped` may go on below."""
    made = Table(box=SIMPLE_HEAD, pad_edge=False, padding=0, show_edge=False)
    for index, name in enumerate(columns):
        may_wrap = name == wrapped
        made.add_column(
            name,
            justify="right" if index > 1 else "left",
            no_wrap=not may_wrap,
            min_width=WRAPPED_WIDTH if may_wrap else None,
        )
    return made
