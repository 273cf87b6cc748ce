"""A review log that is lost or held while the desk runs: no call is acknowledged that is not kept.

The log is deleted, moved, replaced, written over or held by another program at a random moment,
with two reviewers at work. Afterwards the desk acknowledges nothing more, says why, and its sheet
still holds what it acknowledged, as far as that can be read; a log that was only held goes on.
"""

import http.client
import json
import shutil
import sqlite3
import threading
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Final

import numpy as np

from cli.review.library import Library
from cli.review.log import LOG_NAME, WAIT_S, DecisionLog, NewDecision
from counting.record.files import record_json
from tests.conftest import make_attempt
from tests.faults.killing_review import Reviewer, RunningDesk
from tests.faults.reader import SLOWNESS
from tests.faults.tally import Headway, Part, Tally

LONGEST_S: Final = 30.0
MOST_CALLS: Final = 12
WRITERS: Final = 2

Loss = Callable[[Path], None]


def deleted(log: Path) -> None:
    log.unlink()


def moved(log: Path) -> None:
    log.rename(log.with_name("moved.sqlite"))


def replaced(log: Path) -> None:
    another(log.with_name("another.sqlite")).replace(log)


def written_over(log: Path) -> None:
    shutil.copyfile(another(log.with_name("another.sqlite")), log)


def noise(log: Path) -> None:
    log.write_bytes(b"\x17" * log.stat().st_size)


READABLE: Final[tuple[Loss, ...]] = (deleted, moved, replaced)
LOSSES: Final[tuple[Loss, ...]] = (*READABLE, written_over, noise)


def another(path: Path) -> Path:
    """Make the log of another evening."""
    log = DecisionLog(path)
    for number in range(30):
        log.add(NewDecision("e" * 64, 1, "thruster", 1.0, "Eva", "good", "", f"another{number:04}"))
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return path


def lose_logs(folder: Path, numbers: list[int], seed: int, tally: Tally) -> None:
    """Lose, or hold, the log again and again, each time of a fresh desk."""
    headway = Headway("logs lost or held", len(numbers), Part(1, 1))
    for number in numbers:
        rng = np.random.default_rng([seed, 10, number])
        place = folder / f"log {number}"
        audit = place / "lane_1.audit"
        audit.mkdir(parents=True)
        record = make_attempt(file="lane_1.mp4")
        (audit / "audit.json").write_text(record_json(record), encoding="utf-8")
        kind = number % (len(LOSSES) + 1)
        if rng.random() < 0.5:
            # All in the file itself and nothing in the write-ahead log, as after a restart.
            another(place / LOG_NAME)
        desk = RunningDesk(place)
        if desk.port is None:
            tally.lost.append(f"the desk does not start over log {number}")
            continue
        try:
            if kind < len(LOSSES):
                _lose(place, desk.port, LOSSES[kind], rng, tally)
            else:
                _hold(place, desk.port, rng, tally)
        finally:
            desk.kill()
        tally.faults += 1
        headway.step(tally)


def _at_work(
    place: Path, port: int, rng: np.random.Generator
) -> tuple[list[Reviewer], list[threading.Thread]]:
    """Give reviewers who have had some calls acknowledged and go on."""
    (attempt,) = Library(place).attempts()
    answers = threading.Semaphore(0)
    reviewers = [Reviewer(f"Reviewer {number}", attempt.key, answers) for number in range(WRITERS)]
    threads = [threading.Thread(target=one.work, args=(port,)) for one in reviewers]
    for thread in threads:
        thread.start()
    for _ in range(rng.integers(1, MOST_CALLS)):
        answers.acquire(timeout=LONGEST_S * SLOWNESS)
    time.sleep(float(rng.uniform(0.0, 0.05)))
    return reviewers, threads


def _lose(place: Path, port: int, loss: Loss, rng: np.random.Generator, tally: Tally) -> None:
    name = f"log {loss.__name__}"
    reviewers, threads = _at_work(place, port, rng)
    loss(place / LOG_NAME)
    for thread in threads:
        thread.join(LONGEST_S * SLOWNESS)
    if any(thread.is_alive() for thread in threads):
        tally.lost.append(f"{name}: calls are still acknowledged")
        return
    tally.crashes += [
        f"{name}: refused with {status}"
        for one in reviewers
        for status in one.refusals
        if status != 503
    ]
    status, page = _page(port, "/")
    if "no call is taken any more" not in page:
        tally.lost.append(f"{name}: the list does not say it ({status})")
    if loss not in READABLE:
        return
    (attempt,) = Library(place).attempts()
    status, sheet = _page(port, f"/attempt/{attempt.key}/sheet/json")
    rows = json.loads(sheet)["log"] if status == 200 else []
    for one in reviewers:
        kept = sum(row["reviewer"] == one.name for row in rows)
        if not len(one.acknowledged) <= kept <= len(one.acknowledged) + 1:
            tally.lost.append(f"{name}: {len(one.acknowledged)} acknowledged, {kept} shown")


def _hold(place: Path, port: int, rng: np.random.Generator, tally: Tally) -> None:
    reviewers, threads = _at_work(place, port, rng)
    held_s = float(rng.uniform(0.2, 2.5 * WAIT_S))
    with closing(sqlite3.connect(place / LOG_NAME, timeout=60, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        begun_s = time.monotonic()
        status, page = _page(port, "/")
        took_s = time.monotonic() - begun_s
        if status != 200 or "no call is taken any more" in page:
            tally.lost.append(f"a log held for {held_s:.1f} s: the list answers {status}")
        if took_s > 2 * WAIT_S * SLOWNESS:
            tally.hangs.append(f"the list takes {took_s:.1f} s while the log is held")
        time.sleep(max(0.0, held_s - took_s))
        other.execute("ROLLBACK")
    _finish(reviewers, threads, port)
    with closing(sqlite3.connect(place / LOG_NAME)) as connection:
        written = connection.execute("SELECT reviewer, request FROM decisions").fetchall()
    for one in reviewers:
        missing = {(one.name, request) for request in one.acknowledged} - set(written)
        if missing or len(written) != len(set(written)):
            tally.lost.append(f"a log held for {held_s:.1f} s: {len(missing)} calls are missing")


def _finish(reviewers: list[Reviewer], threads: list[threading.Thread], port: int) -> None:
    """Let each send its last call again, as the page does, then go."""
    for one in reviewers:
        one.last = True
    for thread in threads:
        thread.join(LONGEST_S * SLOWNESS)
    for one in reviewers:
        if one.unsure is not None:
            one.work(port)


def _page(port: int, path: str) -> tuple[int, str]:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=LONGEST_S * SLOWNESS)
    try:
        connection.request("GET", path)
        answer = connection.getresponse()
        return answer.status, answer.read().decode()
    except (OSError, http.client.HTTPException) as error:
        return 0, str(error)
    finally:
        connection.close()
