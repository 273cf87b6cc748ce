"""Which files of a folder are films, asked of the reader of containers, away from the batch.

Files of strangers are opened in a process of its own: one that crashes or stalls it is left in
the batch, where it fails alone as any film does.
"""

import contextlib
from collections.abc import Sequence
from pathlib import Path, PurePosixPath
from typing import Final

from cli.audit.request import Progress
from cli.batch.fetch import fsspec_for, is_url
from cli.batch.film_process import FilmError, FilmProcess, Limits

_LIMITS: Final = Limits(stalled_s=60.0, memory_bytes=2**30)


def not_films(sources: Sequence[str]) -> dict[str, str]:
    """Give those of some paths and URLs that are no films, with the reason for each."""
    answers: list[str] = []

    def told(reason: str, _done: float, _all: float) -> None:
        answers.append(reason)

    while len(answers) < len(sources):
        rest = list(sources[len(answers) :])
        with contextlib.suppress(FilmError):
            FilmProcess(look, rest, _LIMITS).run(told)
        if len(answers) < len(sources):
            answers.append("")
    return {source: reason for source, reason in zip(sources, answers, strict=True) if reason}


def look(sources: Sequence[str], progress: Progress) -> None:
    """Tell why each of some files is no film, in place of a stage's name; nothing for films."""
    from vision.film.recognition import no_film_because

    for done, source in enumerate(sources, start=1):
        name = PurePosixPath(source).name
        if is_url(source):
            try:
                with fsspec_for(source).open(source, "rb") as remote:
                    reason = no_film_because(remote, name)
            except Exception:  # each store raises its own; the film fails alone when it is fetched
                reason = None
        else:
            reason = no_film_because(Path(source), name)
        progress(reason or "", done, len(sources))
