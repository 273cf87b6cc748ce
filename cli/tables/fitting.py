"""Tables that lose their least important columns before any number is cut."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from rich.console import Console
from rich.measure import Measurement
from rich.table import Table
from rich.text import Text

ALWAYS: Final = 0
_LEAST_WORDS: Final = 24
"""Columns of the terminal that words keep before a column goes: by eye, no source."""


@dataclass(frozen=True, slots=True)
class Column:
    """A column with its cells.

    ``priority`` says when it goes: the highest first, `ALWAYS` never. A column that ``wraps`` holds
    sentences and takes the room that is left.
    """

    heading: str
    cells: Sequence[str | Text]
    priority: int = ALWAYS
    justify: Literal["left", "right"] = "right"
    wraps: bool = False


def fitted_table(title: str, columns: Sequence[Column], out: Console) -> Table:
    """Make a table that fits the console, without the columns that no longer find room."""
    kept = list(columns)
    while True:
        table = _table(title, kept)
        least = max((column.priority for column in kept), default=ALWAYS)
        if least == ALWAYS or _width(kept, table, out) <= out.width:
            return table
        kept = [column for column in kept if column.priority != least]


def _width(columns: Sequence[Column], table: Table, out: Console) -> int:
    """Give the room that a table needs, its sentences wrapped as far as is pleasant to read."""
    needed = Measurement.get(out, out.options.update(max_width=10_000), table).maximum
    for column in columns:
        if column.wraps:
            longest = max((len(cell) for cell in [column.heading, *column.cells]), default=0)
            needed -= max(longest - _LEAST_WORDS, 0)
    return needed


def _table(title: str, columns: Sequence[Column]) -> Table:
    table = Table(
        title=title,
        title_justify="left",
        title_style="bold",
        header_style="dim",
        box=None,
        padding=(0, 2, 0, 0),
        pad_edge=False,
    )
    for column in columns:
        table.add_column(
            column.heading,
            justify=column.justify,
            no_wrap=not column.wraps,
            overflow="fold",
            ratio=1 if column.wraps else None,
        )
    for row in zip(*(column.cells for column in columns), strict=True):
        table.add_row(*row)
    return table
