"""The pose models: where they lie, and the proof that they are the ones meant."""

import errno
import hashlib
import io
import zipfile
from dataclasses import dataclass
from pathlib import Path
from typing import Final

MODELS: Final = Path(__file__).resolve().parent.parent / "models"

BUNDLED_SHA256: Final = {
    "full": "a40e63c239e0509d5e55296e0847ff94b14c97456b470827905e4af2a13b98a0",
}
MOST_BUNDLE_BYTES: Final = 512 * 1024**2
"""What is larger is no bundle."""
_DETECTOR: Final = "pose_detector.tflite"
_LANDMARKS: Final = "pose_landmarks_detector.tflite"


class ModelError(ValueError):
    """A pose model that is missing, damaged or of another kind."""


@dataclass(frozen=True, slots=True, eq=False)
class Bundle:
    """The two networks of a pose model bundle.

    Attributes
    ----------
    name
        "full", or the file's path.
    sha256
        Digest of the bundle file, lower-case hexadecimal.
    detector, landmarks
        The networks, TensorFlow Lite flat buffers.
    """

    name: str
    sha256: str
    detector: bytes
    landmarks: bytes


def load_bundle(model: str | Path = "full") -> Bundle:
    """Load the shipped model ("full") or any pose bundle by its path.

    Raises
    ------
    ModelError
        The file is missing or no pose bundle, or a bundled one is not the one shipped.
    """
    content = bundle_content(model)
    sha256 = hashlib.sha256(content).hexdigest()
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as bundle:
            return Bundle(str(model), sha256, bundle.read(_DETECTOR), bundle.read(_LANDMARKS))
    except (zipfile.BadZipFile, KeyError) as error:
        raise ModelError(
            f"{_path(model)}: not a pose model bundle; it must hold {_DETECTOR} and {_LANDMARKS}"
        ) from error


def bundle_content(model: str | Path = "full") -> bytes:
    """Read the file of a bundle; parameters and errors as of `load_bundle`."""
    name, path = str(model), _path(model)
    try:
        if path.exists() and not path.is_file():
            raise OSError(errno.EINVAL, "it is not an ordinary file")
        content = path.read_bytes()
    except OSError as error:
        known = ", ".join(f'"{known}"' for known in BUNDLED_SHA256)
        raise ModelError(
            f"{path}: pose model cannot be read ({error.strerror}); use {known} or the path of a "
            "pose_landmarker .task file"
        ) from error
    if name in BUNDLED_SHA256 and hashlib.sha256(content).hexdigest() != BUNDLED_SHA256[name]:
        raise ModelError(f"{path}: pose model is damaged (checksum differs); install again")
    return content


def _path(model: str | Path) -> Path:
    name = str(model)
    return MODELS / f"pose_landmarker_{name}.task" if name in BUNDLED_SHA256 else Path(model)
