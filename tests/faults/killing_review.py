"""SIGKILL of the review desk while calls are written: what was acknowledged is there afterwards."""

import http.client
import json
import os
import re
import secrets
import select
import signal
import sqlite3
import threading
import time
from pathlib import Path

import numpy as np

import cli.review.serving  # noqa: F401  loaded once: the forks that are killed have it already
from cli.review.library import Library
from cli.review.log import LOG_NAME, DecisionLog
from counting.record.files import record_json
from counting.review.decisions import Decision
from tests.conftest import make_attempt
from tests.faults.killing import start
from tests.faults.reader import SLOWNESS
from tests.faults.tally import Headway, Part, Tally

LONGEST_S = 30.0
MOST_CALLS = 24
LATEST_KILL_S = 0.05
WRITERS = 2
CALLS = ("good", "no-rep", "skip")


def kill_reviews(folder: Path, numbers: list[int], seed: int, tally: Tally) -> None:
    """Kill the desk again and again over one log, with two reviewers at work.

    A kill comes at a random moment after a random number of acknowledged calls, however slow the
    machine is.
    After each kill the log must be whole and hold every call that was acknowledged, once; each
    reviewer's last call, which may or may not have been written, is sent again to the next desk.
    """
    place = folder / "reviewed"
    audit = place / "lane_1.audit"
    audit.mkdir(parents=True)
    record = make_attempt(file="lane_1.mp4")
    (audit / "audit.json").write_text(record_json(record), encoding="utf-8")
    (attempt,) = Library(place).attempts()
    answers = threading.Semaphore(0)
    reviewers = [Reviewer(f"Reviewer {number}", attempt.key, answers) for number in range(WRITERS)]
    headway = Headway("kills of the desk", len(numbers), Part(1, 1))
    for number in numbers:
        rng = np.random.default_rng([seed, 1, number])
        desk = RunningDesk(place)
        if desk.port is None:
            tally.lost.append(f"the desk does not start after kill {number - 1}")
            return
        threads = [threading.Thread(target=one.work, args=(desk.port,)) for one in reviewers]
        for thread in threads:
            thread.start()
        for _ in range(rng.integers(0, MOST_CALLS)):
            if not answers.acquire(timeout=LONGEST_S * SLOWNESS):
                tally.hangs.append(f"the desk does not answer before kill {number}")
                break
        time.sleep(float(rng.uniform(0.0, LATEST_KILL_S)))
        desk.kill()
        for thread in threads:
            thread.join()
        while answers.acquire(blocking=False):
            pass
        tally.kills += 1
        for words in flaws(place / LOG_NAME, reviewers):
            tally.lost.append(f"after kill {number} of the desk: {words}")
        headway.step(tally)
    told = sum(len(one.acknowledged) for one in reviewers)
    print(f"{told} calls were acknowledged", flush=True)
    assert told or not numbers, "the kills met no work"


class RunningDesk:
    """The desk as a process of its own; ``port`` is None where it does not start."""

    def __init__(self, place: Path) -> None:
        heard, told = os.pipe()
        self._process = start(["review", str(place), "--port", "0"], told)
        os.close(told)
        with os.fdopen(heard, encoding="utf-8") as lines:
            ready = select.select([lines], [], [], LONGEST_S * SLOWNESS)[0]
            address = re.search(r"http://127\.0\.0\.1:(\d+)/", lines.readline() if ready else "")
        self.port = int(address[1]) if address else None

    def kill(self) -> None:
        """End it as a power cut would end its process."""
        os.kill(self._process, signal.SIGKILL)
        os.waitpid(self._process, 0)


class Reviewer:
    """Sends calls as fast as they are acknowledged."""

    def __init__(self, name: str, attempt: str, answers: threading.Semaphore) -> None:
        self.name = name
        self._answers = answers
        self._place = f"/attempt/{attempt}/decide"
        self.acknowledged: list[str] = []
        self.unsure: str | None = None
        self.refusals: list[int] = []
        self.last = False
        """Whether the next acknowledged call is to be the last one."""

    def work(self, port: int) -> None:
        """Send calls until the desk is gone; the one that got no answer is sent first next time."""
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=LONGEST_S * SLOWNESS)
        headers = {"content-type": "application/json", "origin": f"http://127.0.0.1:{port}"}
        try:
            while True:
                self.unsure = self.unsure or secrets.token_hex(16)
                body = json.dumps(self._call(self.unsure))
                connection.request("POST", self._place, body, headers)
                answer = connection.getresponse()
                answer.read()
                if answer.status != 200:
                    self.refusals.append(answer.status)
                    return
                self.acknowledged.append(self.unsure)
                self.unsure = None
                self._answers.release()
                if self.last:
                    connection.close()
                    return
        except (http.client.HTTPException, OSError):
            connection.close()

    def _call(self, request: str) -> dict[str, object]:
        number = len(self.acknowledged)
        return {
            "request": request,
            "rep": 1 + number % 19,
            "call": CALLS[number % len(CALLS)],
            "reviewer": self.name,
            "note": f"call {number}",
        }


def flaws(log: Path, reviewers: list[Reviewer]) -> list[str]:
    """Say what is wrong with a log after a kill."""
    with sqlite3.connect(log) as connection:
        (state,) = connection.execute("PRAGMA integrity_check").fetchone()
        rows = connection.execute("SELECT request, reviewer FROM decisions ORDER BY id").fetchall()
    connection.close()
    found = [] if state == "ok" else [f"the log is not whole: {state}"]
    for one in reviewers:
        written = [request for request, reviewer in rows if reviewer == one.name]
        possible = [one.acknowledged, [*one.acknowledged, one.unsure]]
        if written not in possible:
            found.append(f"{len(one.acknowledged)} calls acknowledged, {len(written)} written")
    found += [f"a call was refused with {status}" for one in reviewers for status in one.refusals]
    read: list[Decision] = DecisionLog(log).decisions()
    if len(read) != len(rows):
        found.append(f"the desk reads {len(read)} of {len(rows)} calls")
    return found
