"""What is installed that decides a result, so that two machines can be compared."""

import hashlib
import platform
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Final

import cli
import counting
import vision

DECIDING: Final = ("ai-edge-litert", "av", "numpy", "opencv-contrib-python", "scipy")
"""Libraries whose version can change what an audit finds."""


def tool_version() -> str:
    """Version of Repwitness, ``"unpackaged"`` where it runs from a folder of sources."""
    try:
        return version("repwitness")
    except PackageNotFoundError:
        return "unpackaged"


def installed_versions() -> dict[str, str]:
    """Versions of Python, Repwitness with a digest of its code and data, and its libraries."""
    found = {
        "python": ".".join(platform.python_version_tuple()[:2]),
        "repwitness": f"{tool_version()} (code {_code_digest()[:8]})",
    }
    return found | library_versions()


def library_versions() -> dict[str, str]:
    """Versions of the libraries that decide a result; "missing" for one that is not installed."""
    found = {}
    for name in DECIDING:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            found[name] = "missing"
    return found


@cache
def _code_digest() -> str:
    digest = hashlib.sha256()
    for package in (cli, counting, vision):
        top = Path(str(package.__file__)).parent
        for file in sorted(top.rglob("*")):
            if file.is_file() and "__pycache__" not in file.parts:
                digest.update(f"{file.relative_to(top.parent).as_posix()}\0".encode())
                digest.update(hashlib.sha256(file.read_bytes()).digest())
    return digest.hexdigest()
