"""What a batch ends with: its films sorted by what needs a human, on screen and as files."""

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from rich.console import Console
from rich.table import Table
from rich.text import Text

from cli.batch.films import BatchFilm, LeftOut
from cli.batch.results import folder_below
from cli.wording import shown, some_times, visible_words
from counting.record.tables import csv_text, plain_cell
from counting.record.types import AuditRecord
from vision.files import write_whole
from vision.times import clock

FAILURES_FILE: Final = "failures.csv"
FILMS_FILE: Final = "films.csv"
LEFT_OUT_FILE: Final = "left_out.csv"
FILMS_HEADING: Final = (
    "film",
    "good",
    "no_rep",
    "too_close",
    "only_counted",
    "lowest",
    "highest",
    "to_look_at",
)
_MOST_NAMED: Final = 5
"""Files left out that are told by name; all are in their table."""
_HARDLY_SEEN_SHARE: Final = 0.9
"""Share of the film in which the athlete was seen, below which it is worth a look (no source)."""


@dataclass(frozen=True, slots=True)
class BatchRow:
    """One film of a batch: its record, or the error that ended it, one of the two.

    ``doubt`` is what the seal tells against the record, None where nothing does.
    """

    film: BatchFilm
    record: AuditRecord | None
    error: str | None
    doubt: str | None = None

    @property
    def undecided(self) -> int:
        """Reps that a human must call."""
        counts = self.record.counts if self.record else None
        return counts.too_close + counts.only_counted if counts else 0

    @property
    def reasons(self) -> list[str]:
        """What a human should look at in this film, in words; empty where nothing is open."""
        if self.record is None:
            return [f"failed: {self.error}"]
        record = self.record
        reasons = [] if self.doubt is None else [self.doubt]
        if record.counts.too_close:
            reasons.append(f"{record.counts.too_close} too close")
        if record.counts.only_counted:
            reasons.append(f"{record.counts.only_counted} only counted")
        if record.athlete.identity_breaks_s:
            times = some_times(record.athlete.identity_breaks_s)
            reasons.append(f"may be another person from {times}")
        if record.continuity is not None and not record.continuity.continuous:
            reasons.append(record.continuity.words)
        reasons += [
            f"{view.film.file}: {view.continuity.words}"
            for view in record.further_films
            if view.continuity is not None and not view.continuity.continuous
        ]
        if record.film.broken_at_s is not None:
            reasons.append(f"film breaks off at {clock(record.film.broken_at_s)}")
        if not record.reps:
            reasons.append("no rep found")
        if record.athlete.seen_share < _HARDLY_SEEN_SHARE:
            reasons.append(f"athlete {visible_words(record.athlete.seen_share)}")
        reasons += record.warnings
        return reasons


def by_need(rows: Sequence[BatchRow]) -> list[BatchRow]:
    """Sort rows: failed films, then most undecided reps, then most other open points, then name."""

    def need(row: BatchRow) -> tuple[bool, int, int, str]:
        return (row.record is not None, -row.undecided, -len(row.reasons), row.film.name)

    return sorted(rows, key=need)


def print_rows(rows: Sequence[BatchRow], console: Console) -> None:
    """Print the table, those that need a human first, and a line that sums it up."""
    table = Table(box=None, pad_edge=False, header_style="bold")
    table.add_column("film", overflow="fold")
    for heading in ("good", "no-rep", "too close", "only counted", "may count"):
        table.add_column(heading, justify="right", no_wrap=True)
    table.add_column("to look at", overflow="fold")
    for row in by_need(rows):
        style = "red" if row.record is None else ("yellow" if row.reasons else "")
        cells = [Text(cell) for cell in _count_cells(row)]
        table.add_row(Text(shown(row.film.name)), *cells, Text("; ".join(row.reasons)), style=style)
    console.print(table)
    failed = sum(row.record is None for row in rows)
    undecided = sum(row.undecided for row in rows)
    looked_at = sum(bool(row.reasons) for row in rows)
    console.print()
    console.print(
        f"{len(rows)} films: {len(rows) - failed} audited, {failed} failed; "
        f"{looked_at} to look at, {undecided} reps too close or only counted"
    )


def write_tables(rows: Sequence[BatchRow], out: Path) -> None:
    """Write ``films.csv`` (every film, same order as on screen) and ``failures.csv``.

    Raises
    ------
    vision.files.WriteError
        A table cannot be written.
    """
    ordered = by_need(rows)
    write_whole(out / FILMS_FILE, csv_text(FILMS_HEADING, [_film_cells(row) for row in ordered]))
    write_failures(rows, out)


def write_failures(rows: Sequence[BatchRow], out: Path) -> None:
    """Write ``failures.csv``: one line a failed film, a heading alone where none failed."""
    failed = [row for row in by_need(rows) if row.record is None]
    cells = [
        (shown(row.film.name), shown(row.film.source), shown(row.error or "")) for row in failed
    ]
    write_whole(out / FAILURES_FILE, csv_text(("film", "source", "error"), cells))


def write_left_out(left_out: Sequence[LeftOut], out: Path) -> None:
    """Write ``left_out.csv``: a line for each file beside the films, with the reason."""
    cells = [(shown(file.name), file.reason) for file in left_out]
    write_whole(out / LEFT_OUT_FILE, csv_text(("file", "reason"), cells))


def left_out_words(left_out: Sequence[LeftOut], out: Path) -> list[str]:
    """Say what was left out, a line each, the first few by name."""
    words = [f"left out: {shown(file.name)} {file.reason}" for file in left_out[:_MOST_NAMED]]
    more = len(left_out) - _MOST_NAMED
    return [*words, f"left out: {more} more, see {out / LEFT_OUT_FILE}"] if more > 0 else words


def summary_document(rows: Sequence[BatchRow], left_out: Sequence[LeftOut] = ()) -> dict[str, Any]:
    """Give the table in types that JSON knows, in the same order."""
    return {
        "schema": "repwitness.batch/1",
        "left_out": [{"file": shown(file.name), "reason": file.reason} for file in left_out],
        "films": [
            {
                "film": shown(row.film.name),
                "source": shown(row.film.source),
                "error": row.error,
                "counts": None
                if row.record is None
                else {
                    "good": row.record.counts.good,
                    "no_rep": row.record.counts.no_rep,
                    "too_close": row.record.counts.too_close,
                    "only_counted": row.record.counts.only_counted,
                    "lowest": row.record.counts.lowest,
                    "highest": row.record.counts.highest,
                },
                "to_look_at": row.reasons,
            }
            for row in by_need(rows)
        ],
    }


def _count_cells(row: BatchRow) -> list[str]:
    if row.record is None:
        return [""] * 5
    counts = row.record.counts
    may_stand = (
        str(counts.lowest)
        if counts.lowest == counts.highest
        else f"{counts.lowest} to {counts.highest}"
    )
    kinds = (counts.good, counts.no_rep, counts.too_close, counts.only_counted)
    return [*map(str, kinds), may_stand]


def _film_cells(row: BatchRow) -> tuple[object, ...]:
    counts = row.record.counts if row.record else None
    numbers = (
        (
            *(counts.good, counts.no_rep, counts.too_close, counts.only_counted),
            *(counts.lowest, counts.highest),
        )
        if counts
        else (None,) * 6
    )
    return (shown(row.film.name), *numbers, "; ".join(map(shown, row.reasons)))


def drop_line(audit: Path) -> Path | None:
    """Take the line on a film out of its batch's table; give the table it was in.

    Raises
    ------
    vision.files.WriteError
        The table cannot be written.
    """
    for folder in audit.absolute().parents:
        table = folder / FILMS_FILE
        lines = _lines(table)
        kept = [line for line in lines if not _is_on(line, audit.absolute(), folder)]
        if len(kept) < len(lines):
            write_whole(table, csv_text(lines[0], kept[1:]))
            return table
    return None


def _is_on(line: list[str], audit: Path, folder: Path) -> bool:
    if not line:
        return False
    cell = line[0]
    # A name that a spreadsheet would run stands in the table with an apostrophe before it.
    names = {cell, cell[1:]} if plain_cell(cell[1:]) == cell else {cell}
    return shown(str(audit)) in {shown(str(folder_below(folder, name))) for name in names}


def _lines(table: Path) -> list[list[str]]:
    """Read a batch's table, heading first; nothing where it is none."""
    try:
        with table.open(encoding="utf-8", newline="") as stream:
            lines = list(csv.reader(stream))
    except (OSError, ValueError, csv.Error):
        return []
    # Tables of earlier versions have fewer columns.
    known = lines and lines[0][:1] == [FILMS_HEADING[0]] and set(lines[0]) <= set(FILMS_HEADING)
    return lines if known else []
