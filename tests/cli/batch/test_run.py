import csv
import errno
import fcntl
import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from cli.audit import film_facts
from cli.audit.kept import LANDMARKS, Kept
from cli.audit.request import AuditRequest
from cli.batch import results
from cli.batch.film_process import Limits
from cli.batch.films import find_films
from cli.batch.local import here
from cli.batch.run import run_batch
from cli.batch.table import BatchRow
from cli.errors import BAD_INPUT, UserError
from counting.record.seal import EDITED
from tests.cli.batch.fakes import audit, begun, film

pytestmark = pytest.mark.slow

LIMITS = Limits(stalled_s=120.0, memory_bytes=2**30)


def batch(folder: Path, *, movement: str = "thruster", limits: Limits = LIMITS) -> list[BatchRow]:
    out = folder / "out"
    template = AuditRequest(Path(), movement=movement, workout=None, standards=(), out=out)
    films, _ = find_films(str(folder), besides=out)
    return list(run_batch(films, template, here(2, audit, limits)))


def failures(folder: Path) -> dict[str, str]:
    with (folder / "out" / "failures.csv").open(newline="") as lines:
        return {line["film"]: line["error"] for line in csv.DictReader(lines)}


def test_each_film_gets_a_folder_of_its_own(tmp_path: Path) -> None:
    film(tmp_path / "heat" / "a.mp4", "ok 2")
    film(tmp_path / "b.mp4", "ok")
    rows = batch(tmp_path)
    assert {row.film.name: row.undecided for row in rows} == {"heat/a.mp4": 2, "b.mp4": 0}
    for name in ("heat/a.mp4", "b.mp4"):
        made = json.loads((tmp_path / "out" / f"{name}.audit" / "audit.json").read_text())
        assert made["film"]["file"] == Path(name).name
    assert failures(tmp_path) == {}
    assert not (tmp_path / "out" / ".working").exists()


@pytest.mark.parametrize(
    ("orders", "error"),
    [
        ("bad", "no athlete in it"),
        ("bug", "unexpected RuntimeError: a mistake of ours"),
        ("crash", r"SIGSEGV \(codec: broken chunk\)"),
        ("hang", "no progress for 20 s"),
        ("memory 3000", "needs more than 1 GiB of memory"),
        ("nothing", "the audit left no record"),
    ],
)
def test_a_film_that_fails_costs_that_film_only(tmp_path: Path, orders: str, error: str) -> None:
    film(tmp_path / "bad.mp4", orders, 1000)
    film(tmp_path / "good.mp4", "ok")
    # The good film's process must have begun to work within the limit on a busy machine, too.
    limits = Limits(stalled_s=20.0 if orders == "hang" else 120.0, memory_bytes=2**30)
    rows = batch(tmp_path, limits=limits)
    assert {row.film.name for row in rows if row.record} == {"good.mp4"}
    (row,) = [row for row in rows if row.error]
    assert re.search(error, row.error or "")
    assert not (tmp_path / "out" / "bad.mp4.audit").exists()
    assert list(failures(tmp_path)) == ["bad.mp4"]
    assert failures(tmp_path)["bad.mp4"] == row.error


def fails_for(patch: pytest.MonkeyPatch, call: str, name: str) -> None:
    """Let ``Path.<call>`` find the disk full where it would make a file of that name."""
    genuine = getattr(Path, call)

    def full(self: Path, target: Path) -> Path:
        if target.name == name:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return genuine(self, target)

    patch.setattr(Path, call, full)


@pytest.mark.parametrize("table", ["films.csv", "failures.csv"])
def test_a_table_that_cannot_be_written_is_told_in_a_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, table: str
) -> None:
    film(tmp_path / "a.mp4", "ok")
    with monkeypatch.context() as patch:
        fails_for(patch, "replace", table)
        with pytest.raises(UserError, match=rf"{table}: cannot be written \(No space") as told:
            batch(tmp_path)
    assert told.value.exit_status == BAD_INPUT
    assert list(begun(tmp_path)) == ["a"]
    (row,) = batch(tmp_path)
    assert row.record is not None
    assert begun(tmp_path) == {}, "what was audited is not audited again"


@pytest.mark.parametrize(
    ("call", "name", "error"),
    [
        ("rename", "a.mp4.audit", "its results cannot be put in their place (No space left"),
        ("replace", "asked.json", "asked.json: cannot be written (No space left"),
    ],
)
def test_results_that_cannot_be_put_in_place_cost_that_film_only(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: str, name: str, error: str
) -> None:
    film(tmp_path / "a.mp4", "ok")
    fails_for(monkeypatch, call, name)
    (row,) = batch(tmp_path)
    assert row.record is None
    assert error in (row.error or "")
    assert error in failures(tmp_path)["a.mp4"]
    assert not (tmp_path / "out" / "a.mp4.audit").exists()


def test_a_second_run_repeats_only_what_is_not_done(tmp_path: Path) -> None:
    film(tmp_path / "done.mp4", "ok 1")
    film(tmp_path / "mended.mp4", "bad")
    batch(tmp_path)
    assert list(begun(tmp_path)) == ["done", "mended"]
    before = (tmp_path / "out" / "done.mp4.audit" / "audit.json").stat()
    film(tmp_path / "mended.mp4", "ok")
    rows = batch(tmp_path)
    assert list(begun(tmp_path)) == ["mended"]
    assert all(row.record for row in rows)
    assert failures(tmp_path) == {}
    assert (tmp_path / "out" / "done.mp4.audit" / "audit.json").stat() == before


@pytest.mark.parametrize("change", ["film", "settings", "record"])
def test_what_has_changed_is_done_again(tmp_path: Path, change: str) -> None:
    film(tmp_path / "a.mp4", "ok 1")
    film(tmp_path / "b.mp4", "ok 1")
    batch(tmp_path)
    begun(tmp_path)
    if change == "film":
        film(tmp_path / "a.mp4", "ok 3")
    if change == "record":
        (tmp_path / "out" / "a.mp4.audit" / "audit.json").write_text('{"half":')
    rows = batch(tmp_path, movement="deadlift" if change == "settings" else "thruster")
    assert list(begun(tmp_path)) == (["a", "b"] if change == "settings" else ["a"])
    assert {row.film.name: row.undecided for row in rows}["a.mp4"] == (3 if change == "film" else 1)


@pytest.mark.parametrize("how", ["written over", "put in its place"])
def test_a_film_replaced_by_another_of_equal_size_and_time_is_done_again(
    tmp_path: Path, how: str
) -> None:
    path = film(tmp_path / "a.mp4", "ok 1")
    before = path.stat()
    batch(tmp_path)
    begun(tmp_path)
    if how == "put in its place":
        film(tmp_path / "b", "ok 3").replace(path)
    else:
        film(path, "ok 3")
    os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert (path.stat().st_size, path.stat().st_mtime_ns) == (before.st_size, before.st_mtime_ns)
    (row,) = batch(tmp_path)
    assert row.undecided == 3
    assert list(begun(tmp_path)) == ["a"]


def test_a_film_that_was_only_touched_or_moved_is_not_done_again(tmp_path: Path) -> None:
    path = film(tmp_path / "a.mp4", "ok 1")
    batch(tmp_path)
    begun(tmp_path)
    os.utime(path)
    assert batch(tmp_path)[0].undecided == 1
    path.write_bytes(path.rename(tmp_path / "away").read_bytes())
    assert batch(tmp_path)[0].undecided == 1
    assert begun(tmp_path) == {}


def test_a_film_that_nobody_touched_is_not_read_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def read(source: str) -> str | None:
        raise AssertionError(source)

    monkeypatch.setattr(film_facts, "_SETTLED_NS", 0)
    path = film(tmp_path / "a.mp4", "ok 1")
    batch(tmp_path)
    monkeypatch.setattr(results, "content_digest", read)
    assert batch(tmp_path)[0].undecided == 1
    os.utime(path)
    with pytest.raises(AssertionError, match="mp4"):
        batch(tmp_path)


def test_a_record_edited_between_two_runs_is_kept_and_stamped(tmp_path: Path) -> None:
    film(tmp_path / "a.mp4", "ok 1")
    (made,) = batch(tmp_path)
    assert made.doubt is None
    file = tmp_path / "out" / "a.mp4.audit" / "audit.json"
    file.write_text(file.read_text().replace('"too_close": 1', '"too_close": 0'))
    (again,) = batch(tmp_path)
    assert again.doubt == EDITED
    assert EDITED in (tmp_path / "out" / "films.csv").read_text()


def test_results_of_an_earlier_run_stay_where_the_new_one_fails(tmp_path: Path) -> None:
    film(tmp_path / "a.mp4", "ok 1")
    batch(tmp_path)
    kept = (tmp_path / "out" / "a.mp4.audit" / "audit.json").read_bytes()
    film(tmp_path / "a.mp4", "bad")
    (row,) = batch(tmp_path)
    assert row.error
    assert (tmp_path / "out" / "a.mp4.audit" / "audit.json").read_bytes() == kept


def test_landmarks_of_an_earlier_run_are_at_hand_for_the_next(tmp_path: Path) -> None:
    film(tmp_path / "a.mp4", "ok 1")
    batch(tmp_path)
    folder = tmp_path / "out" / "a.mp4.audit"
    seen = Kept(folder, LANDMARKS).put("film", {"time_s": np.zeros(1)})
    (folder / "landmarks-0.npz").write_bytes(b"written by hand")
    batch(tmp_path, movement="deadlift")
    assert seen.is_file()
    assert not (folder / "landmarks-0.npz").exists()


def test_a_missing_film_fails_alone(tmp_path: Path) -> None:
    film(tmp_path / "a.mp4", "ok")
    (tmp_path / "list.txt").write_text("a.mp4\ngone.mp4\n")
    out = tmp_path / "out"
    template = AuditRequest(Path(), movement="thruster", workout=None, standards=(), out=out)
    films, _ = find_films(str(tmp_path / "list.txt"), besides=out)
    rows = run_batch(films, template, here(2, audit, LIMITS))
    assert {row.film.name for row in rows if row.error} == {"gone.mp4"}


def test_two_batches_never_write_into_one_folder(tmp_path: Path) -> None:
    film(tmp_path / "a.mp4", "ok")
    (tmp_path / "out").mkdir()
    with (tmp_path / "out" / ".lock").open("w") as held:
        fcntl.flock(held, fcntl.LOCK_EX)
        with pytest.raises(UserError, match="another batch is writing here"):
            batch(tmp_path)


SLOW_BATCH = """
import signal, sys
from pathlib import Path
from tests.cli.batch.test_run import batch
# A shell's background jobs, and all they start, ignore Ctrl-C.
signal.signal(signal.SIGINT, signal.default_int_handler)
batch(Path(sys.argv[1]))
"""


def running_batch(folder: Path) -> "subprocess.Popen[bytes]":
    process = subprocess.Popen(
        [sys.executable, "-c", SLOW_BATCH, str(folder)],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        stderr=subprocess.DEVNULL,
    )
    deadline = time.monotonic() + 120
    while not (folder / "out" / "quick.mp4.audit").exists():
        assert process.poll() is None
        assert time.monotonic() < deadline
        time.sleep(0.01)
    return process


def processes_that_mention(text: str) -> list[int]:
    found = []
    for entry in Path("/proc").glob("[0-9]*"):
        try:
            if text.encode() in (entry / "environ").read_bytes():
                found.append(int(entry.name))
        except OSError:
            continue
    return found


@pytest.mark.skipif(not Path("/proc/self/environ").exists(), reason="needs /proc")
@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGINT, signal.SIGTERM])
def test_a_stopped_batch_leaves_no_process_and_no_half_result_and_goes_on(
    tmp_path: Path, how: signal.Signals, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("REPWITNESS_TEST_MARK", mark := f"mark-{os.getpid()}-{how}")
    film(tmp_path / "quick.mp4", "ok", 1000)
    film(tmp_path / "slow.mp4", "slow 60")
    process = running_batch(tmp_path)
    process.send_signal(how)
    process.wait(120)
    deadline = time.monotonic() + 40
    while set(processes_that_mention(mark)) - {os.getpid()} and time.monotonic() < deadline:
        time.sleep(0.05)
    assert set(processes_that_mention(mark)) <= {os.getpid()}
    assert not (tmp_path / "out" / "slow.mp4.audit").exists()
    begun(tmp_path)
    film(tmp_path / "slow.mp4", "ok 2")
    rows = batch(tmp_path)
    assert list(begun(tmp_path)) == ["slow"]
    assert {row.film.name: row.undecided for row in rows} == {"quick.mp4": 0, "slow.mp4": 2}


def test_a_film_is_done_again_where_its_target_is_another(tmp_path: Path) -> None:
    """And no other: each film's own target is part of what is asked of it, and of no other."""
    for name in ("a.mp4", "b.mp4"):
        film(tmp_path / name, "target")
    listed = tmp_path / "films.txt"

    def targets() -> dict[str, str]:
        out = tmp_path / "out"
        template = AuditRequest(Path(), movement="wall ball", workout=None, standards=(), out=out)
        films, _ = find_films(str(listed), besides=out)
        rows = run_batch(films, template, here(1, audit, LIMITS))
        return {row.film.name: row.error or "" for row in rows}

    listed.write_text("a.mp4\ttarget=0.4 0.2 0.6 0.2\nb.mp4\n")
    assert targets() == {"a.mp4": "", "b.mp4": ""}
    told = {name: (tmp_path / f"{name}.target").read_text() for name in ("a.mp4", "b.mp4")}
    assert told == {"a.mp4": "(0.4, 0.2) (0.6, 0.2)", "b.mp4": "none"}
    begun(tmp_path)
    assert targets() == {"a.mp4": "", "b.mp4": ""}
    assert begun(tmp_path) == {}
    listed.write_text("a.mp4\ttarget=0.4 0.3 0.6 0.3\nb.mp4\n")
    targets()
    assert list(begun(tmp_path)) == ["a"]
