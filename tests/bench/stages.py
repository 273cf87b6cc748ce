"""Which share of an audit's processor time each stage takes.

The functions that do the work are wrapped for the time of one audit in this process and with one
worker; nested stages are counted once, where they are called.
"""

import contextlib
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any
from unittest.mock import patch

from cli.audit.request import AuditRequest


class Shares:
    """Processor time by stage, summed over threads."""

    def __init__(self) -> None:
        self.by_stage: dict[str, float] = {}
        self._lock = threading.Lock()
        self._own = threading.local()

    def wrapped(self, stage: str, function: Callable[..., Any]) -> Callable[..., Any]:
        """Wrap a function so that its time, less that of stages inside it, counts for a stage."""

        def timed(*args: Any, **kwargs: Any) -> Any:
            with self._within(stage):
                return function(*args, **kwargs)

        return timed

    def wrapped_iterator(
        self, stage: str, function: Callable[..., Iterator[Any]]
    ) -> Callable[..., Iterator[Any]]:
        """Wrap a generator function likewise: the time spent between its items."""

        def timed(*args: Any, **kwargs: Any) -> Iterator[Any]:
            items = function(*args, **kwargs)
            while True:
                with self._within(stage):
                    item = next(items, None)
                if item is None:
                    return
                yield item

        return timed

    @contextlib.contextmanager
    def _within(self, stage: str) -> Iterator[None]:
        started_s, before_s = time.thread_time(), getattr(self._own, "inner_s", 0.0)
        self._own.inner_s = 0.0
        try:
            yield
        finally:
            spent_s = time.thread_time() - started_s
            with self._lock:
                self.by_stage[stage] = self.by_stage.get(stage, 0.0) + spent_s - self._own.inner_s
            self._own.inner_s = before_s + spent_s


def stage_shares(request: AuditRequest) -> dict[str, float]:
    """Audit a film once and give the processor seconds of each stage, ``"rest"`` among them."""
    from cli.audit import run
    from vision.athlete import extraction

    shares = Shares()
    with contextlib.ExitStack() as stack, tempfile.TemporaryDirectory() as scratch:
        for place, name, stage in _stages():
            timed = shares.wrapped(stage, getattr(place, name))
            stack.enter_context(patch.object(place, name, timed))
        decoding = shares.wrapped_iterator("decoding and scaling", extraction.frames)
        stack.enter_context(patch.object(extraction, "frames", decoding))
        started_s = time.process_time()
        run.audit_film(replace(request, out=Path(scratch), workers=1), lambda *_progress: None)
        total_s = time.process_time() - started_s
    shares.by_stage["rest"] = max(0.0, total_s - sum(shares.by_stage.values()))
    return shares.by_stage


def _stages() -> list[tuple[Any, str, str]]:
    """Where each stage's function is looked up, its name there, and what it does."""
    from cli.audit import assess, film_facts
    from cli.audit.judging import Judging
    from cli.audit.kept import Kept
    from vision.athlete import extraction
    from vision.athlete.reading import Readers
    from vision.camera.background import Background
    from vision.continuity import assess as continuity
    from vision.continuity.watch import PictureWatch

    return [
        (film_facts, "film_of", "reading the film's clock and digest"),
        (extraction, "extract", "following the athlete"),
        (PictureWatch, "push", "watching for cuts"),
        (extraction, "detect", "pose: finding people"),
        (extraction, "paths_of_people", "telling people apart"),
        (Readers, "read", "pose: reading the body"),
        (Background, "shift_in", "measuring the camera's shake"),
        (Kept, "put", "writing what is kept"),
        (continuity, "assess_continuity", "continuity: its own pass through the film"),
        (Judging, "judge", "checks and verdicts"),
        (assess, "find_reps_in_films", "signals, reps and sets"),
    ]
