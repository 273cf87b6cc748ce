"""Removing a film's decisions from a review log for good, against the log's own rule."""

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Final

from cli.review.log import LogError

_WAIT_S: Final = 30.0
"""Longest wait for another writer to let go of the log (no source)."""

_KEEPERS: Final = ("decisions_are_kept", "signatures_are_kept")


def forget_film(log: Path, film_sha256: str) -> int:
    """Remove all decisions and signatures on a film and return how many decisions there were.

    The log never deletes; its guards are lifted for this one transaction. Freed pages are
    overwritten and the file is written anew, so that nothing can be read back from it.

    Raises
    ------
    LogError
        The log cannot be read or written.
    """
    try:
        with closing(sqlite3.connect(log, timeout=_WAIT_S, isolation_level=None)) as connection:
            connection.execute("PRAGMA secure_delete = ON")
            connection.execute("BEGIN IMMEDIATE")
            try:
                removed = _delete(connection, film_sha256)
            except BaseException:
                connection.execute("ROLLBACK")
                raise
            connection.execute("COMMIT")
            connection.execute("VACUUM")
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            return removed
    except sqlite3.Error as error:
        raise LogError(
            f"{log}: the film's calls cannot be removed ({error}); close the review desk and run "
            "this again"
        ) from error


def _delete(connection: sqlite3.Connection, film_sha256: str) -> int:
    guards = [
        row[0]
        for name in _KEEPERS
        for row in connection.execute(
            "SELECT sql FROM sqlite_master WHERE type = 'trigger' AND name = ?", (name,)
        )
    ]
    for name in _KEEPERS:
        connection.execute(f"DROP TRIGGER IF EXISTS {name}")
    removed = connection.execute(
        "SELECT count(*) FROM decisions WHERE film_sha256 = ?", (film_sha256,)
    ).fetchone()[0]
    # Corrections refer to what they take back: that is checked when all are gone.
    connection.execute("PRAGMA defer_foreign_keys = ON")
    connection.execute("DELETE FROM decisions WHERE film_sha256 = ?", (film_sha256,))
    connection.execute("DELETE FROM signatures WHERE film_sha256 = ?", (film_sha256,))
    for guard in guards:
        connection.execute(guard)
    return int(removed)
