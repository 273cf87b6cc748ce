"""The log of decisions and signatures: SQLite, one row each, nothing ever overwritten."""

import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import astuple, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from counting.review.decisions import Call, Decision

LOG_NAME: Final = "review.sqlite"
WAIT_S: Final = 30.0

_TABLES: Final = """
CREATE TABLE IF NOT EXISTS decisions (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    film_sha256 TEXT NOT NULL,
    rep INTEGER NOT NULL,
    movement TEXT NOT NULL,
    turn_s REAL NOT NULL,
    reviewer TEXT NOT NULL CHECK (length(reviewer) > 0),
    call TEXT NOT NULL CHECK (call IN ('good', 'no-rep', 'skip')),
    note TEXT NOT NULL,
    at TEXT NOT NULL,
    undoes INTEGER UNIQUE REFERENCES decisions (id),
    request TEXT NOT NULL UNIQUE
);
CREATE INDEX IF NOT EXISTS decisions_by_film ON decisions (film_sha256);
CREATE TABLE IF NOT EXISTS signatures (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    film_sha256 TEXT NOT NULL,
    reviewer TEXT NOT NULL CHECK (length(reviewer) > 0),
    last_decision INTEGER NOT NULL,
    at TEXT NOT NULL
);
CREATE TRIGGER IF NOT EXISTS decisions_stay BEFORE UPDATE ON decisions
BEGIN SELECT RAISE(ABORT, 'decisions are never changed'); END;
CREATE TRIGGER IF NOT EXISTS decisions_are_kept BEFORE DELETE ON decisions
BEGIN SELECT RAISE(ABORT, 'decisions are never deleted'); END;
CREATE TRIGGER IF NOT EXISTS signatures_stay BEFORE UPDATE ON signatures
BEGIN SELECT RAISE(ABORT, 'signatures are never changed'); END;
CREATE TRIGGER IF NOT EXISTS signatures_are_kept BEFORE DELETE ON signatures
BEGIN SELECT RAISE(ABORT, 'signatures are never deleted'); END;
"""
_COLUMNS: Final = "id, film_sha256, rep, movement, turn_s, reviewer, call, note, at, undoes"


class LogError(Exception):
    """The log cannot be opened or written; the message is one line with file and remedy."""


@dataclass(frozen=True, slots=True)
class NewDecision:
    """A call to be written; ``request`` names it, so that sending it twice writes it once."""

    film_sha256: str
    rep: int
    movement: str
    turn_s: float
    reviewer: str
    call: Call
    note: str
    request: str


@dataclass(frozen=True, slots=True)
class Signed:
    """A sign-off: by whom, when, and the last decision that it covers."""

    film_sha256: str
    reviewer: str
    last_decision: int
    at: str


class DecisionLog:
    """The log of one folder; may be used by several threads and several programs at once."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._local = threading.local()
        with self._connection() as connection:
            mode = connection.execute("PRAGMA journal_mode = WAL").fetchone()[0]
            if mode != "wal":
                raise LogError(
                    f"{path}: this disk cannot keep a write-ahead log; use a local folder"
                )
            connection.executescript(_TABLES)

    def add(self, new: NewDecision) -> int:
        """Write a decision and return its id once it is safe on disk.

        Raises
        ------
        LogError
            It cannot be written.
        """
        return self._append(
            "INSERT INTO decisions (film_sha256, rep, movement, turn_s, reviewer, call, note,"
            " request, at) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (*astuple(new), _now()),
            new.request,
        )

    def undo(self, film_sha256: str, reviewer: str, request: str) -> int | None:
        """Take back the reviewer's latest standing call on a film; None where there is none."""
        with self._writing() as connection:
            done = connection.execute(
                "SELECT id FROM decisions WHERE request = ?", (request,)
            ).fetchone()
            if done is not None:
                return int(done[0])
            last = connection.execute(
                "SELECT id, rep, movement, turn_s, call FROM decisions AS d"
                " WHERE film_sha256 = ? AND reviewer = ? AND undoes IS NULL"
                " AND NOT EXISTS (SELECT 1 FROM decisions WHERE undoes = d.id)"
                " ORDER BY id DESC LIMIT 1",
                (film_sha256, reviewer),
            ).fetchone()
            if last is None:
                return None
            connection.execute(
                "INSERT INTO decisions (film_sha256, rep, movement, turn_s, reviewer, call, note,"
                " request, at, undoes) VALUES (?, ?, ?, ?, ?, ?, '', ?, ?, ?)",
                (film_sha256, *last[1:4], reviewer, last[4], request, _now(), last[0]),
            )
            return int(connection.execute("SELECT last_insert_rowid()").fetchone()[0])

    def decisions(self, film_sha256: str | None = None) -> list[Decision]:
        """Read the log in order, of one film or of all."""
        where = "" if film_sha256 is None else " WHERE film_sha256 = ?"
        values = () if film_sha256 is None else (film_sha256,)
        with self._connection() as connection:
            rows = connection.execute(
                f"SELECT {_COLUMNS} FROM decisions{where} ORDER BY id", values
            )
            return [Decision(*row) for row in rows]

    def sign(self, film_sha256: str, reviewer: str) -> None:
        """Sign a film's sheet off as it stands now."""
        with self._writing() as connection:
            last = connection.execute(
                "SELECT coalesce(max(id), 0) FROM decisions WHERE film_sha256 = ?", (film_sha256,)
            ).fetchone()[0]
            connection.execute(
                "INSERT INTO signatures (film_sha256, reviewer, last_decision, at)"
                " VALUES (?, ?, ?, ?)",
                (film_sha256, reviewer, last, _now()),
            )

    def signatures(self) -> dict[str, Signed]:
        """Give the latest signature of each film."""
        with self._connection() as connection:
            rows = connection.execute(
                "SELECT film_sha256, reviewer, last_decision, at FROM signatures ORDER BY id"
            )
            return {row[0]: Signed(*row) for row in rows}

    def _append(self, statement: str, values: tuple[object, ...], request: str) -> int:
        with self._writing() as connection:
            done = connection.execute(
                "SELECT id FROM decisions WHERE request = ?", (request,)
            ).fetchone()
            if done is not None:
                return int(done[0])
            return int(connection.execute(statement, values).lastrowid or 0)

    @contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        with self._connection() as connection:
            connection.execute("BEGIN IMMEDIATE")
            try:
                yield connection
            except BaseException:
                connection.execute("ROLLBACK")
                raise
            connection.execute("COMMIT")

    @contextmanager
    def _connection(self) -> Iterator[sqlite3.Connection]:
        try:
            connection: sqlite3.Connection | None = getattr(self._local, "connection", None)
            if connection is None:
                connection = sqlite3.connect(self._path, timeout=WAIT_S, isolation_level=None)
                connection.execute("PRAGMA synchronous = FULL")
                connection.execute("PRAGMA foreign_keys = ON")
                self._local.connection = connection
            yield connection
        # A damaged file can make SQLite's own message undecodable.
        except (sqlite3.Error, UnicodeDecodeError) as error:
            raise LogError(
                f"{self._path}: the review log cannot be used ({error}); check the disk's space "
                "and that the folder may be written"
            ) from error


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="milliseconds")
