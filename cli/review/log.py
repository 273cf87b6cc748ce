"""The log of decisions and signatures: SQLite, one row each, nothing ever overwritten."""

import secrets
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import astuple, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from counting.review.decisions import Call, Decision

LOG_NAME: Final = "review.sqlite"
WAIT_S: Final = 5.0
"""Longest wait for another program that holds the log; a page waits with it."""

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
    request TEXT NOT NULL UNIQUE,
    standard TEXT NOT NULL DEFAULT ''
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
_COLUMNS: Final = (
    "id, film_sha256, rep, movement, turn_s, reviewer, call, note, at, undoes, standard"
)


class LogError(Exception):
    """The log cannot be opened or written; the message is one line with file and remedy."""


class LogBusyError(LogError):
    """Another program holds the log: the same may go well a little later."""


class LogGoneError(LogError):
    """The log's file was deleted or replaced while it was open: no call is taken any more."""


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
    standard: str = ""


@dataclass(frozen=True, slots=True)
class Signed:
    """A sign-off: by whom, when, and the last decision that it covers."""

    film_sha256: str
    reviewer: str
    last_decision: int
    at: str


@dataclass(frozen=True, slots=True)
class _Facts:
    file: tuple[int, int]
    size_bytes: int
    changed_ns: int


class DecisionLog:
    """The log of one folder; may be used by several threads and several programs at once.

    A file that is deleted, replaced or written over while it is open takes with it what is written
    into it. That is noticed before a call is acknowledged; from then on no call is taken, and what
    had been acknowledged is read from the file as it was opened, as far as that is possible.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._local = threading.local()
        self._writer = threading.Lock()
        self._reader = threading.Lock()
        self._gone: str | None = None
        self._known: _Facts | None = None
        self._mark = self._highest = 0
        # Held open: what was acknowledged can be read from it when the file's name is gone.
        with self._in_words():
            self._first = self._connected()
        with self._connection() as connection:
            mode = connection.execute("PRAGMA journal_mode = WAL").fetchone()[0]
            if mode != "wal":
                raise LogError(
                    f"{path}: this disk cannot keep a write-ahead log; use a local folder"
                )
            if not _mark_of(connection):
                _make(connection)
            _widen(connection)
            connection.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchone()
            self._mark, self._highest = _mark_of(connection), _highest_id(connection)
        # Only what a connection has read once is it sure to read again without the file's name.
        _highest_id(self._first)
        self._known = self._facts()

    @property
    def trouble(self) -> str | None:
        """Why no call is taken any more; None while calls are taken."""
        with suppress(sqlite3.OperationalError):  # held by another program: not known just now
            self._look()
        return self._gone

    def add(self, new: NewDecision) -> int:
        """Write a decision and return its id once it is safe on disk.

        Raises
        ------
        LogError
            It cannot be written.
        """
        return self._append(
            "INSERT INTO decisions (film_sha256, rep, movement, turn_s, reviewer, call, note,"
            " request, standard, at) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
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
        # One writer of ours at a time, so that the wait for others is not waited once for each.
        if not self._writer.acquire(timeout=WAIT_S):
            raise LogBusyError(self._busy_words())
        try:
            with self._connection() as connection:
                self._refuse_if_gone()
                connection.execute("BEGIN IMMEDIATE")
                try:
                    yield connection
                except BaseException:
                    connection.execute("ROLLBACK")
                    raise
                highest = _highest_id(connection)
                connection.execute("COMMIT")
                # What went into a file without a name is not safe: it is not acknowledged.
                self._refuse_if_gone()
                self._highest = highest
        finally:
            self._writer.release()

    @contextmanager
    def _connection(self) -> Iterator[sqlite3.Connection]:
        with self._in_words():
            self._look()
            if self._gone is not None:
                with self._as_it_was() as first:
                    yield first
                return
            own: sqlite3.Connection | None = getattr(self._local, "connection", None)
            if own is None:
                own = self._local.connection = self._connected()
            yield own

    @contextmanager
    def _in_words(self) -> Iterator[None]:
        """Turn SQLite's errors into ours."""
        try:
            yield
        # A damaged file can make SQLite's own message undecodable.
        except (sqlite3.Error, UnicodeDecodeError) as error:
            if _is_busy(error):
                raise LogBusyError(self._busy_words()) from error
            raise LogError(
                f"{self._path}: the review log cannot be used ({error}); check the disk's space "
                "and that the folder may be written"
            ) from error

    def _connected(self) -> sqlite3.Connection:
        connection = sqlite3.connect(
            self._path, timeout=WAIT_S, isolation_level=None, check_same_thread=False
        )
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA foreign_keys = ON")
        return connection

    @contextmanager
    def _as_it_was(self) -> Iterator[sqlite3.Connection]:
        assert self._gone is not None
        with self._reader:
            try:
                yield self._first
            except (sqlite3.Error, UnicodeDecodeError) as error:
                raise LogGoneError(self._gone) from error

    def _look(self) -> None:
        """Notice that the file's name is gone, names another file, or holds other content."""
        known = self._known
        if self._gone is not None or known is None:
            return
        now = self._facts()
        if now == known:
            return
        if now is None or now.file != known.file or not self._is_ours():
            self._gone = (
                f"{self._path}: the review log was deleted or replaced while the desk was running, "
                "so no call is taken any more; stop the desk, put the log back, start it again"
            )
        else:
            self._known = now

    def _is_ours(self) -> bool:
        """Whether a file that has changed is still this log with all that was acknowledged.

        SQLite itself changes it now and then, when what is in the write-ahead log moves over.
        """
        try:
            with closing(self._connected()) as connection:
                same = _mark_of(connection) == self._mark
                return same and _highest_id(connection) >= self._highest
        except (sqlite3.Error, UnicodeDecodeError) as error:
            if _is_busy(error):
                raise
            return False

    def _refuse_if_gone(self) -> None:
        self._look()
        if self._gone is not None:
            raise LogGoneError(self._gone)

    def _facts(self) -> "_Facts | None":
        try:
            facts = self._path.stat()
        except OSError:
            return None
        return _Facts((facts.st_dev, facts.st_ino), facts.st_size, facts.st_mtime_ns)

    def _busy_words(self) -> str:
        return f"{self._path}: another program holds the review log; close it there"


def _make(connection: sqlite3.Connection) -> None:
    """Make the tables and give the log its mark, unless another program has just done so."""
    connection.executescript(f"BEGIN IMMEDIATE; {_TABLES}")
    if not _mark_of(connection):
        connection.execute(f"PRAGMA user_version = {1 + secrets.randbelow(2**31 - 1)}")
    connection.execute("COMMIT")


def _widen(connection: sqlite3.Connection) -> None:
    """Give a log from before no-reps named their standard the column for it."""
    columns = [row[1] for row in connection.execute("PRAGMA table_info(decisions)")]
    if "standard" not in columns:
        connection.execute("ALTER TABLE decisions ADD COLUMN standard TEXT NOT NULL DEFAULT ''")


def _mark_of(connection: sqlite3.Connection) -> int:
    """Read the number that tells this log from others; 0 where it has none yet."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def _highest_id(connection: sqlite3.Connection) -> int:
    """Read the highest id ever given to a decision, also to one that was removed since."""
    row = connection.execute("SELECT seq FROM sqlite_sequence WHERE name = 'decisions'").fetchone()
    return int(row[0]) if row else 0


def _is_busy(error: Exception) -> bool:
    code = getattr(error, "sqlite_errorcode", 0)
    return code & 0xFF in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="milliseconds")
