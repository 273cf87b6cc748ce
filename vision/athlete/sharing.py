"""Work that becomes possible bit by bit, shared among threads.

What there is to do depends on what is done: a plan is asked for the next job whenever a thread is
free. Plans are asked, and jobs handed in, by one thread at a time; the jobs themselves run side by
side. Inference and decoding release the interpreter.
"""

import threading
from collections.abc import Callable
from typing import Protocol

from vision.pose.bundle import Bundle
from vision.pose.network import PoseNetwork

HandIn = Callable[[], None]
Job = Callable[[PoseNetwork], HandIn]
"""Done with a thread's own network; what it gives is called to hand in the result."""


class Plan(Protocol):
    """What to do next, going by what has been handed in."""

    @property
    def finished(self) -> bool:
        """Whether everything has been handed in."""
        ...

    def next_job(self) -> Job | None:
        """Give out a job, or None where there is nothing to do before another is handed in."""
        ...


def work_through(plan: Plan, bundle: Bundle, workers: int) -> None:
    """Work through a plan with so many threads, this one among them.

    An error in a job, or an interruption, ends the work after the jobs that are under way.
    """
    shared = _Shared(plan, bundle)
    others = [threading.Thread(target=shared.work) for _ in range(workers - 1)]
    for thread in others:
        thread.start()
    try:
        shared.work()
    finally:
        shared.stop()
        for thread in others:
            thread.join()
    if shared.error is not None:
        raise shared.error


class _Shared:
    def __init__(self, plan: Plan, bundle: Bundle) -> None:
        self.error: BaseException | None = None
        self._plan, self._bundle = plan, bundle
        self._stopped = False
        self._changed = threading.Condition()

    def stop(self) -> None:
        with self._changed:
            self._stopped = True
            self._changed.notify_all()

    def work(self) -> None:
        try:
            network = PoseNetwork(self._bundle)
            while (job := self._wait_for_job()) is not None:
                hand_in = job(network)
                with self._changed:
                    hand_in()
                    self._changed.notify_all()
        except BaseException as error:
            self.error = self.error or error
            self.stop()

    def _wait_for_job(self) -> Job | None:
        with self._changed:
            while not self._stopped and not self._plan.finished:
                job = self._plan.next_job()
                if job is not None:
                    return job
                self._changed.wait()
        return None
