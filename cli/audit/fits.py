"""The shelf on which an audit keeps its fits: a file each beside the landmarks."""

import io
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from vision.arrays import ArraysError, read_arrays
from vision.files import write_whole


class FitFiles:
    """Fits in the files ``fit-*.npz`` of a folder.

    One that cannot be read counts as none.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def take(self, key: str, names: Collection[str]) -> Mapping[str, npt.NDArray[Any]] | None:
        """Read what is kept under a key."""
        try:
            return read_arrays(self._file(key), names)
        except ArraysError:
            return None

    def put(self, key: str, arrays: Mapping[str, npt.NDArray[np.float64]]) -> None:
        """Write arrays under a key.

        Raises
        ------
        vision.files.WriteError
            They cannot be written.
        """
        content = io.BytesIO()
        np.savez(content, **arrays)  # type: ignore[arg-type]
        write_whole(self._file(key), content.getvalue())

    def _file(self, key: str) -> Path:
        return self._folder / f"fit-{key}.npz"
