import multiprocessing
import os
import shutil
import signal
import sqlite3
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path

import pytest

from cli.review.forgetting import forget_film
from cli.review.log import (
    WAIT_S,
    DecisionLog,
    LogBusyError,
    LogError,
    LogGoneError,
    NewDecision,
)

FILM = "5" * 64
WRITERS = 4
EACH = 500


def new(request: str, rep: int = 1, call: str = "good", reviewer: str = "R. Osei") -> NewDecision:
    return NewDecision(FILM, rep, "thruster", 12.5, reviewer, call, "", request)  # type: ignore[arg-type]


def test_a_decision_is_read_back_as_written(tmp_path: Path) -> None:
    log = DecisionLog(tmp_path / "log.sqlite")
    log.add(new("request1", rep=3, call="no-rep"))
    (row,) = DecisionLog(tmp_path / "log.sqlite").decisions(FILM)
    assert (row.id, row.rep, row.call, row.reviewer, row.turn_s) == (
        1,
        3,
        "no-rep",
        "R. Osei",
        12.5,
    )
    assert row.at.endswith("+00:00")


def test_sending_the_same_request_again_writes_nothing_new(tmp_path: Path) -> None:
    log = DecisionLog(tmp_path / "log.sqlite")
    assert log.add(new("request1")) == log.add(new("request1"))
    assert len(log.decisions()) == 1


def test_undo_adds_a_row_and_takes_back_one_call_at_a_time(tmp_path: Path) -> None:
    log = DecisionLog(tmp_path / "log.sqlite")
    for rep in (1, 2):
        log.add(new(f"request{rep}", rep=rep))
    log.add(new("request3", rep=9, reviewer="M. Lind"))
    assert log.undo(FILM, "R. Osei", "undo0001") == 4
    assert log.undo(FILM, "R. Osei", "undo0001") == 4
    assert log.undo(FILM, "R. Osei", "undo0002") == 5
    assert log.undo(FILM, "R. Osei", "undo0003") is None
    assert [row.undoes for row in log.decisions()] == [None, None, None, 2, 1]


def test_nothing_in_the_log_can_be_changed_or_deleted(tmp_path: Path) -> None:
    DecisionLog(tmp_path / "log.sqlite").add(new("request1"))
    other = sqlite3.connect(tmp_path / "log.sqlite")
    try:
        for statement in ("UPDATE decisions SET call = 'no-rep'", "DELETE FROM decisions"):
            with pytest.raises(sqlite3.IntegrityError, match="never"):
                other.execute(statement)
    finally:
        other.close()


def test_a_call_of_an_unknown_kind_or_without_a_name_is_refused(tmp_path: Path) -> None:
    log = DecisionLog(tmp_path / "log.sqlite")
    with pytest.raises(LogError):
        log.add(new("request1", call="maybe"))
    with pytest.raises(LogError):
        log.add(new("request2", reviewer=""))
    assert log.decisions() == []


def test_a_file_that_is_no_log_is_refused_with_its_name(tmp_path: Path) -> None:
    (tmp_path / "log.sqlite").write_bytes(b"not a database, but long enough to be looked at" * 40)
    with pytest.raises(LogError, match=r"log\.sqlite"):
        DecisionLog(tmp_path / "log.sqlite")


def write_many(path: Path, writer: int) -> None:
    log = DecisionLog(path)
    for index in range(EACH):
        log.add(new(f"writer{writer}n{index}", rep=index + 1, reviewer=f"writer {writer}"))


@pytest.mark.slow
def test_two_thousand_decisions_by_four_writers_at_once_are_all_kept(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite"
    context = multiprocessing.get_context("spawn")
    writers = [context.Process(target=write_many, args=(path, n)) for n in range(WRITERS)]
    for process in writers:
        process.start()
    for process in writers:
        process.join(120)
    assert [process.exitcode for process in writers] == [0] * WRITERS
    rows = DecisionLog(path).decisions()
    assert [row.id for row in rows] == list(range(1, WRITERS * EACH + 1))
    for writer in range(WRITERS):
        own = [row.rep for row in rows if row.reviewer == f"writer {writer}"]
        assert own == list(range(1, EACH + 1))


def write_and_tell(path: Path, told: Path) -> None:
    log = DecisionLog(path)
    with told.open("w") as out:
        for index in range(100_000):
            log.add(new(f"request{index:06d}", rep=index + 1))
            out.write(f"{index + 1}\n")
            out.flush()


def test_a_writer_killed_at_any_moment_loses_nothing_it_was_told_is_saved(tmp_path: Path) -> None:
    path, told = tmp_path / "log.sqlite", tmp_path / "told"
    process = multiprocessing.get_context("spawn").Process(target=write_and_tell, args=(path, told))
    process.start()
    deadline = time.monotonic() + 60
    while not (told.exists() and told.read_text().count("\n") > 20):
        assert time.monotonic() < deadline
        time.sleep(0.02)
    assert process.pid is not None
    os.kill(process.pid, signal.SIGKILL)
    process.join()
    acknowledged = told.read_text().count("\n")
    rows = DecisionLog(path).decisions()
    assert acknowledged <= len(rows) <= acknowledged + 1
    assert [row.rep for row in rows] == list(range(1, len(rows) + 1))


def filled(path: Path, calls: int = 3) -> DecisionLog:
    log = DecisionLog(path)
    for number in range(calls):
        log.add(new(f"request{number}", rep=number + 1))
    return log


def deleted(path: Path) -> None:
    path.unlink()


def replaced(path: Path) -> None:
    other = path.with_name("other.sqlite")
    filled(other, 9)
    other.replace(path)


def moved_away(path: Path) -> None:
    path.rename(path.with_name("kept.sqlite"))


def written_over_with_another(path: Path) -> None:
    other = path.with_name("other.sqlite")
    filled(other, 9)
    with closing(sqlite3.connect(other)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    shutil.copyfile(other, path)


def written_over_with_noise(path: Path) -> None:
    path.write_bytes(b"\x17" * path.stat().st_size)


def emptied(path: Path) -> None:
    path.write_bytes(b"")


LOSSES = [
    deleted,
    replaced,
    moved_away,
    written_over_with_another,
    written_over_with_noise,
    emptied,
]


@pytest.mark.parametrize("lose", LOSSES)
def test_a_log_that_is_lost_while_it_is_open_takes_no_call_and_says_so(
    tmp_path: Path, lose: Callable[[Path], None]
) -> None:
    path = tmp_path / "log.sqlite"
    filled(path)
    # All is moved from the write-ahead log into the file, as after a restart.
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    log = DecisionLog(path)
    assert log.trouble is None
    lose(path)
    with pytest.raises(LogGoneError, match=r"log\.sqlite.*deleted or replaced.*no call is taken"):
        log.add(new("unwritten"))
    with pytest.raises(LogGoneError):
        log.undo(FILM, "R. Osei", "request8")
    with pytest.raises(LogGoneError):
        log.sign(FILM, "R. Osei")
    assert log.trouble is not None
    assert not path.exists() or b"unwritten" not in path.read_bytes()


@pytest.mark.parametrize("lose", [deleted, replaced, moved_away])
def test_what_was_acknowledged_can_still_be_read_in_every_thread(
    tmp_path: Path, lose: Callable[[Path], None]
) -> None:
    log = filled(tmp_path / "log.sqlite")
    lose(tmp_path / "log.sqlite")
    with ThreadPoolExecutor(3) as threads:
        for found in threads.map(lambda _: log.decisions(FILM), range(6)):
            assert [row.rep for row in found] == [1, 2, 3]


def test_an_older_copy_of_the_log_written_over_it_is_noticed(tmp_path: Path) -> None:
    path, copy = tmp_path / "log.sqlite", tmp_path / "copy.sqlite"
    filled(path)
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    shutil.copyfile(path, copy)
    log = DecisionLog(path)
    log.add(new("request7"))
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    shutil.copyfile(copy, path)
    with pytest.raises(LogGoneError):
        log.add(new("request8"))


def test_what_sqlite_and_other_desks_do_to_the_file_is_no_loss(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite"
    log, other = filled(path), DecisionLog(path)
    other.add(new("request7"))
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    forget_film(path, FILM)
    for number, one in enumerate((log, other)):
        assert one.add(new(f"again000{number}"))
        assert one.trouble is None
    assert len(log.decisions()) == 2


@pytest.mark.slow
def test_a_log_held_by_another_is_told_within_seconds_and_not_after_half_a_minute(
    tmp_path: Path,
) -> None:
    log = filled(tmp_path / "log.sqlite")
    with closing(sqlite3.connect(tmp_path / "log.sqlite", isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        begun_s = time.monotonic()
        with ThreadPoolExecutor(8) as threads:
            waiting = [threads.submit(log.add, new(f"waiting{n}")) for n in range(8)]
            for one in waiting:
                with pytest.raises(LogBusyError, match="another program holds the review log"):
                    one.result()
        assert time.monotonic() - begun_s < 3 * WAIT_S
        assert len(log.decisions()) == 3, "reading goes on"
        other.execute("ROLLBACK")
    assert log.add(new("request9")) == 4
