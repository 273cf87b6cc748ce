"""A batch on this machine: one film a core at a time, each in a process of its own."""

import threading
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from contextlib import contextmanager
from dataclasses import replace
from functools import partial
from pathlib import Path

from cli.audit.request import AuditRequest
from cli.batch.fetch import local_copies
from cli.batch.film_process import AuditFunction, FailedFilmError, FilmProcess, Limits
from cli.batch.films import BatchFilm
from cli.batch.place import FilmProgress, Outcome, Place
from vision.cores import core_count


def here(workers: int | None, audit: AuditFunction, limits: Limits) -> Place:
    """Make this machine a place to audit films, ``workers`` at a time (None: one a core)."""
    return partial(_audit_here, workers or core_count(), audit, limits)


def _audit_here(
    workers: int,
    audit: AuditFunction,
    limits: Limits,
    films: Sequence[BatchFilm],
    template: AuditRequest,
    folder_of: Callable[[BatchFilm], Path],
    progress: FilmProgress,
) -> Generator[Outcome, None, None]:
    # Cores that would be idle help with the films there are.
    template = replace(template, workers=max(1, workers // max(1, len(films))))
    crew = _Crew()

    def one(film: BatchFilm) -> Outcome:
        try:
            with local_copies((film.source, *film.second_views)) as (path, *views):
                request = replace(
                    template,
                    film=path,
                    out=folder_of(film),
                    second_views=tuple(views),
                    target=film.target,
                )
                with crew.employ(audit, request, limits) as process:
                    process.run(_share_of(film, progress))
        except FailedFilmError as error:
            return Outcome(film, str(error))
        except OSError as error:
            return Outcome(film, f"{type(error).__name__}: {error}")
        return Outcome(film, None)

    with ThreadPoolExecutor(workers, thread_name_prefix="film") as threads:
        try:
            for done in as_completed([threads.submit(one, film) for film in films]):
                yield done.result()
        finally:
            threads.shutdown(wait=False, cancel_futures=True)
            crew.dismiss()


class _Crew:
    """The processes at work, so that all can be ended at once."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._processes: set[FilmProcess] = set()
        self._dismissed = False

    @contextmanager
    def employ(
        self, audit: AuditFunction, request: AuditRequest, limits: Limits
    ) -> Iterator[FilmProcess]:
        with self._lock:
            if self._dismissed:
                raise FailedFilmError("stopped")
            process = FilmProcess(audit, request, limits)
            self._processes.add(process)
        try:
            yield process
        finally:
            with self._lock:
                self._processes.discard(process)

    def dismiss(self) -> None:
        with self._lock:
            self._dismissed = True
            for process in self._processes:
                process.kill()


def _share_of(film: BatchFilm, progress: FilmProgress) -> Callable[[str, float, float], None]:
    def told(_stage: str, done_s: float, all_s: float) -> None:
        progress(film, min(1.0, done_s / all_s) if all_s > 0 else 0.0)

    return told
