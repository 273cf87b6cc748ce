"""Films wherever they are kept: as a local file, and by the digest of their content."""

import hashlib
import shutil
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING
from urllib.parse import unquote, urlsplit

from cli.batch.film_process import FailedFilmError
from cli.errors import WRONG_USAGE, UserError

if TYPE_CHECKING:
    from types import ModuleType


def is_url(source: str) -> bool:
    """Whether ``source`` is a URL and not a path."""
    scheme, separator, _ = source.partition("://")
    return bool(separator) and scheme.replace("+", "").replace("-", "").isalnum()


def fsspec_for(place: str) -> "ModuleType":
    """Load what opens URLs.

    Raises
    ------
    UserError
        It is not installed.
    """
    try:
        import fsspec
    except ImportError as error:
        raise UserError(
            f"{place}: URLs need the extra 'cluster': pip install 'repwitness[cluster]'",
            WRONG_USAGE,
        ) from error
    module: ModuleType = fsspec
    return module


@contextmanager
def local_copy(source: str) -> Iterator[Path]:
    """Lend the path of a film: its own, or for a URL that of a copy, removed afterwards.

    Raises
    ------
    FailedFilmError
        The URL cannot be fetched.
    """
    if not is_url(source):
        yield Path(source)
        return
    with tempfile.TemporaryDirectory(prefix="repwitness-") as folder:
        name = PurePosixPath(unquote(urlsplit(source).path)).name or "film"
        copy = Path(folder) / name
        try:
            with fsspec_for(source).open(source, "rb") as remote, copy.open("wb") as local:
                shutil.copyfileobj(remote, local, 1 << 20)
        except Exception as error:  # each store raises its own
            reason = str(error).strip().partition("\n")[0] or type(error).__name__
            raise FailedFilmError(f"cannot be fetched ({reason})") from error
        yield copy


@contextmanager
def local_copies(sources: Sequence[str]) -> Iterator[tuple[Path, ...]]:
    """Give paths of the films at some places, as `local_copy`."""
    with ExitStack() as copies:
        yield tuple(copies.enter_context(local_copy(source)) for source in sources)


def content_digest(source: str) -> str | None:
    """Digest (SHA-256) of a film's bytes; None where it cannot be read."""
    try:
        with local_copy(source) as path, path.open("rb") as film:
            return hashlib.file_digest(film, "sha256").hexdigest()
    except (FailedFilmError, OSError):
        return None  # whoever audits the film says what is wrong with it
