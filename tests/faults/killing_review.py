"""SIGKILL of the review desk while calls are written: what was acknowledged is there afterwards."""

import http.client
import json
import os
import re
import secrets
import select
import signal
import sqlite3
import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np

from cli.review.library import Library
from cli.review.log import LOG_NAME, DecisionLog
from counting.record.files import record_json
from counting.review.decisions import Decision
from tests.conftest import make_attempt
from tests.faults.reader import SLOWNESS
from tests.faults.tally import Headway, Part, Tally

LONGEST_S = 30.0
LATEST_KILL_S = 1.5
WRITERS = 2
CALLS = ("good", "no-rep", "skip")


def kill_reviews(folder: Path, numbers: list[int], seed: int, tally: Tally) -> None:
    """Kill the desk again and again over one log, with two reviewers at work.

    After each kill the log must be whole and hold every call that was acknowledged, once; each
    reviewer's last call, which may or may not have been written, is sent again to the next desk.
    """
    place = folder / "reviewed"
    audit = place / "lane_1.audit"
    audit.mkdir(parents=True)
    record = make_attempt(file="lane_1.mp4")
    (audit / "audit.json").write_text(record_json(record), encoding="utf-8")
    (attempt,) = Library(place).attempts()
    reviewers = [Reviewer(f"Reviewer {number}", attempt.key) for number in range(WRITERS)]
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
        time.sleep(float(rng.uniform(0.0, LATEST_KILL_S * min(SLOWNESS, 4.0))))
        desk.kill()
        for thread in threads:
            thread.join()
        tally.kills += 1
        for words in flaws(place / LOG_NAME, reviewers):
            tally.lost.append(f"after kill {number} of the desk: {words}")
        headway.step(tally)
    told = sum(len(one.acknowledged) for one in reviewers)
    print(f"{told} calls were acknowledged", flush=True)
    assert told or not numbers, "the kills met no work"


class RunningDesk:
    """The desk as a command of its own; ``port`` is None where it does not start."""

    def __init__(self, place: Path) -> None:
        command = [sys.executable, "-m", "cli", "review", str(place), "--port", "0"]
        self._process = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
        )
        assert self._process.stdout is not None
        ready = select.select([self._process.stdout], [], [], LONGEST_S * SLOWNESS)[0]
        line = self._process.stdout.readline() if ready else ""
        address = re.search(r"http://127\.0\.0\.1:(\d+)/", line)
        self.port = int(address[1]) if address else None

    def kill(self) -> None:
        """End it as a power cut would end its process."""
        os.kill(self._process.pid, signal.SIGKILL)
        self._process.communicate()


class Reviewer:
    """Sends calls as fast as they are acknowledged."""

    def __init__(self, name: str, attempt: str) -> None:
        self.name = name
        self._place = f"/attempt/{attempt}/decide"
        self.acknowledged: list[str] = []
        self.unsure: str | None = None
        self.refusals: list[int] = []

    def work(self, port: int) -> None:
        """Send calls until the desk is gone; the one that got no answer is sent first next time."""
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=LONGEST_S)
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
