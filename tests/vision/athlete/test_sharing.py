"""Work that becomes possible bit by bit is done whole, by any number of threads, or fails."""

import threading
import time

import pytest

from vision.athlete import sharing
from vision.athlete.sharing import HandIn, Job, work_through
from vision.pose.bundle import Bundle
from vision.pose.network import PoseNetwork

BUNDLE = Bundle("none", "", b"", b"")


class Counting:
    """Ten jobs, each possible once the one two before it is handed in."""

    def __init__(self, fails_at: int | None = None) -> None:
        self.given, self.handed_in = 0, list[int]()
        self.threads: set[int] = set()
        self._fails_at = fails_at

    @property
    def finished(self) -> bool:
        return len(self.handed_in) == 10

    def next_job(self) -> Job | None:
        number = self.given
        if number == 10 or number >= len(self.handed_in) + 2:
            return None
        self.given += 1

        def job(_network: PoseNetwork) -> HandIn:
            self.threads.add(threading.get_ident())
            time.sleep(0.01)
            if number == self._fails_at:
                raise ValueError(f"job {number} fails")
            return lambda: self.handed_in.append(number)

        return job


@pytest.fixture(autouse=True)
def no_networks(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sharing, "PoseNetwork", lambda _bundle: None)


@pytest.mark.parametrize("workers", [1, 2, 4])
def test_every_job_is_done_once(workers: int) -> None:
    plan = Counting()
    work_through(plan, BUNDLE, workers)
    assert sorted(plan.handed_in) == list(range(10))
    assert len(plan.threads) <= workers


def test_two_threads_share_what_is_possible() -> None:
    plan = Counting()
    work_through(plan, BUNDLE, 2)
    assert len(plan.threads) == 2


@pytest.mark.parametrize("workers", [1, 3])
def test_an_error_ends_the_work_and_is_raised(workers: int) -> None:
    plan = Counting(fails_at=4)
    before = threading.active_count()
    with pytest.raises(ValueError, match="job 4 fails"):
        work_through(plan, BUNDLE, workers)
    assert threading.active_count() == before
    assert 4 not in plan.handed_in
