"""The digest of a film's file."""

import hashlib
import threading
from pathlib import Path


class Digest:
    """The digest of a file, computed beside other work: of a large film it takes seconds.

    A film that is refused meanwhile does not wait for it.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._found: str | None = None
        self._error: OSError | None = None
        self._thread = threading.Thread(target=self._compute, daemon=True)
        self._thread.start()

    def result(self) -> str:
        """SHA-256, lower-case hexadecimal; raises what reading the file raised."""
        self._thread.join()
        if self._found is None:
            raise self._error or OSError(f"{self._path}: its digest was not computed")
        return self._found

    def _compute(self) -> None:
        try:
            with self._path.open("rb") as file:
                self._found = hashlib.file_digest(file, "sha256").hexdigest()
        except OSError as error:
            self._error = error
