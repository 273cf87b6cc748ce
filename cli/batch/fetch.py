"""A film as a local file, wherever it is kept."""

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path, PurePosixPath
from urllib.parse import unquote, urlsplit

from cli.batch.film_process import FilmError
from cli.batch.films import is_url


@contextmanager
def local_copy(source: str) -> Iterator[Path]:
    """Lend the path of a film: its own, or for a URL that of a copy, removed afterwards.

    Raises
    ------
    FilmError
        The URL cannot be fetched.
    """
    if not is_url(source):
        yield Path(source)
        return
    with tempfile.TemporaryDirectory(prefix="repwitness-") as folder:
        name = PurePosixPath(unquote(urlsplit(source).path)).name or "film"
        copy = Path(folder) / name
        try:
            import fsspec

            with fsspec.open(source, "rb") as remote, copy.open("wb") as local:
                shutil.copyfileobj(remote, local, 1 << 20)
        except Exception as error:  # each store raises its own
            reason = str(error).strip().partition("\n")[0] or type(error).__name__
            raise FilmError(f"cannot be fetched ({reason})") from error
        yield copy
