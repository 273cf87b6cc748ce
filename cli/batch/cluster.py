"""A batch on an existing Dask cluster: the same work, sent to its workers.

Films are read from shared paths or URLs where the worker is; results come back as files. On the
worker, too, each film has a process of its own, which ends when the worker is killed: Dask then
gives that film to another worker, and no other film is repeated.
"""

import os
import tempfile
import time
from collections.abc import Callable, Generator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial
from importlib import import_module
from pathlib import Path
from types import ModuleType
from typing import Any, Final

from cli.audit.request import AuditRequest
from cli.batch.fetch import local_copies
from cli.batch.film_process import AuditFunction, FailedFilmError, FilmProcess, Limits
from cli.batch.films import BatchFilm
from cli.batch.place import FilmProgress, Outcome, Place
from cli.errors import BAD_INPUT, WRONG_USAGE, UserError
from cli.versions import installed_versions
from counting.movements.loader import standards_files
from vision.files import write_whole

_CONNECT_S: Final = 10.0
"""Longest wait for a scheduler; Dask's own is 30 s (distributed.comm.timeouts.connect)."""
_TOLD_EVERY_S: Final = 1.0
"""How often a film's progress is sent: often enough to look at, seldom enough for many films."""


@dataclass(frozen=True, slots=True)
class _Job:
    """All a worker needs for one film; the files a request names travel by content."""

    film: BatchFilm
    template: AuditRequest
    workout: bytes | None
    standards: tuple[tuple[str, bytes], ...]
    audit: AuditFunction
    limits: Limits
    versions: dict[str, str]
    topic: str


@dataclass(frozen=True, slots=True)
class _Answer:
    """A film's result files by name, or its error, or what differs in versions."""

    files: dict[str, bytes]
    error: str | None = None
    mismatch: str | None = None


def on_cluster(address: str, audit: AuditFunction, limits: Limits) -> Place:
    """Make a Dask cluster a place to audit films.

    Raises
    ------
    UserError
        `distributed` is not installed.
    """
    _distributed()
    return partial(_audit_on_cluster, address, audit, limits)


def _distributed() -> ModuleType:
    try:
        return import_module("distributed")
    except ImportError as error:
        raise UserError(
            "--scheduler needs the extra 'cluster': pip install 'repwitness[cluster]'", WRONG_USAGE
        ) from error


def _audit_on_cluster(
    address: str,
    audit: AuditFunction,
    limits: Limits,
    films: Sequence[BatchFilm],
    template: AuditRequest,
    folder_of: Callable[[BatchFilm], Path],
    progress: FilmProgress,
) -> Generator[Outcome, None, None]:
    if not films:
        return
    versions = installed_versions()
    with _connected(address) as client:
        _refuse_other_versions(client, versions)
        topic = f"repwitness-{os.getpid()}-{time.time_ns()}"
        by_name = {film.name: film for film in films}

        def told(event: tuple[float, tuple[str, float]]) -> None:
            name, share = event[1]
            progress(by_name[name], share)

        client.subscribe_topic(topic, told)
        workout = _content(template.workout)
        standards = tuple(
            (f"{place}_{file.name}", file.read_bytes())
            for place, file in enumerate(standards_files(template.standards))
        )
        futures = {
            client.submit(
                audit_job,
                _Job(film, template, workout, standards, audit, limits, versions, topic),
                key=f"{topic}-{rank}",
                priority=-rank,
                pure=False,
            ): film
            for rank, film in enumerate(films)
        }
        try:
            for future in _distributed().as_completed(list(futures), loop=client.loop):
                film = futures.pop(future)
                yield _outcome(film, future, folder_of, address)
                future.release()
        finally:
            with suppress(Exception):  # the scheduler may be what was lost
                client.cancel(list(futures), force=True)


def _connected(address: str) -> Any:
    try:
        return _distributed().Client(address, timeout=_CONNECT_S, set_as_default=False)
    except (OSError, ValueError) as error:
        reason = str(error).strip().partition("\n")[0] or type(error).__name__
        raise UserError(
            f"{address}: no Dask scheduler answers there ({reason}); give its address as in "
            "tcp://host:8786"
        ) from error


def _refuse_other_versions(client: Any, here: dict[str, str]) -> None:
    """Refuse a cluster whose results would differ from those made here."""

    # Nested, so that it travels by content: a worker may know nothing of Repwitness yet.
    def versions_there() -> dict[str, str] | None:
        try:
            from cli.versions import installed_versions
        except ImportError:
            return None
        return installed_versions()

    answers = client.run(versions_there)
    if not answers:
        raise UserError("the Dask cluster has no worker; start some and run the command again")
    for worker, there in answers.items():
        if there is None:
            raise UserError(
                f"worker {worker}: Repwitness is not installed there; install "
                f"{here['repwitness']} with the extra 'cluster'"
            )
        difference = _difference(here, there)
        if difference:
            raise UserError(f"worker {worker}: {difference}; install the same on both")


def _difference(here: dict[str, str], there: dict[str, str]) -> str:
    return ", ".join(
        f"{name} is {there.get(name, 'missing')} there and {version} here"
        for name, version in here.items()
        if there.get(name) != version
    )


def _content(file: Path | None) -> bytes | None:
    return None if file is None else file.read_bytes()


def _outcome(
    film: BatchFilm, future: Any, folder_of: Callable[[BatchFilm], Path], address: str
) -> Outcome:
    if future.cancelled():
        raise UserError(
            f"{address}: the scheduler was lost; run the same command again to continue", BAD_INPUT
        )
    problem = future.exception()
    if problem is not None:
        reason = str(problem).strip().partition("\n")[0] or type(problem).__name__
        return Outcome(film, f"the cluster could not run it ({reason})")
    answer: _Answer = future.result()
    if answer.mismatch is not None:
        raise UserError(f"a worker that joined: {answer.mismatch}; install the same on both")
    if answer.error is None:
        folder = folder_of(film)
        for name, content in answer.files.items():
            write_whole(folder / name, content)
    return Outcome(film, answer.error)


def audit_job(job: _Job) -> _Answer:
    """Audit one film on a worker, in a process of its own, and bring its files back."""
    mismatch = _difference(job.versions, installed_versions())
    if mismatch:
        return _Answer({}, mismatch=mismatch)
    worker = _distributed().get_worker()
    key = worker.get_current_task()
    with tempfile.TemporaryDirectory(prefix="repwitness-") as scratch:
        out = Path(scratch) / "out"
        out.mkdir()
        try:
            sources = (job.film.source, *job.film.second_views)
            with local_copies(sources) as (path, *views):
                request = replace(
                    job.template,
                    film=path,
                    second_views=tuple(views),
                    target=job.film.target,
                    out=out,
                    workout=_laid_out(job.template.workout, job.workout, Path(scratch)),
                    standards=tuple(
                        _laid_down(Path(scratch) / name, content) for name, content in job.standards
                    ),
                )
                process = FilmProcess(job.audit, request, job.limits)
                process.run(_teller(worker, key, job, process))
        except FailedFilmError as error:
            return _Answer({}, error=str(error))
        except OSError as error:
            return _Answer({}, error=f"{type(error).__name__}: {error}")
        files = {
            file.relative_to(out).as_posix(): file.read_bytes()
            for file in sorted(out.rglob("*"))
            if file.is_file()
        }
    return _Answer(files)


def _laid_out(file: Path | None, content: bytes | None, scratch: Path) -> Path | None:
    if file is None or content is None:
        return None
    return _laid_down(scratch / file.name, content)


def _laid_down(copy: Path, content: bytes) -> Path:
    copy.write_bytes(content)
    return copy


def _teller(
    worker: Any, key: str, job: _Job, process: FilmProcess
) -> Callable[[str, float, float], None]:
    last_s = -_TOLD_EVERY_S

    def told(_stage: str, done_s: float, all_s: float) -> None:
        nonlocal last_s
        now_s = time.monotonic()
        if now_s - last_s < _TOLD_EVERY_S:
            return
        last_s = now_s
        task = worker.state.tasks.get(key)
        if task is None or task.state == "cancelled":
            process.kill()  # nobody waits for this film any more
        share = min(1.0, done_s / all_s) if all_s > 0 else 0.0
        worker.log_event(job.topic, (job.film.name, share))

    return told
