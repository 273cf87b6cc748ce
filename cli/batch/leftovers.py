"""What stays of a film in its batch's folder when its own folder is gone."""

import csv
from pathlib import Path

from cli.batch.results import folder_below, shown
from cli.batch.table import FILMS_FILE, FILMS_HEADING, csv_text
from vision.files import write_whole


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
    return bool(line) and shown(str(folder_below(folder, line[0]))) == shown(str(audit))


def _lines(table: Path) -> list[list[str]]:
    """Read a batch's table, heading first; nothing where it is none."""
    try:
        with table.open(encoding="utf-8", newline="") as stream:
            lines = list(csv.reader(stream))
    except (OSError, ValueError, csv.Error):
        return []
    known = lines and set(lines[0]) <= set(FILMS_HEADING) and lines[0][0] == FILMS_HEADING[0]
    return lines if known else []
