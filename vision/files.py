"""Reading a file that may be anything; writing one whole or not at all, whatever happens."""

import errno
import os
import secrets
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final

_PART_PREFIX: Final = ".repwitness-"
_PART_MARK: Final = ".part"
_REMEDIES: Final = {
    errno.ENOSPC: "free some space or write to another disk",
    errno.EDQUOT: "free some of your quota or write to another disk",
    errno.EROFS: "write to a folder that is not read-only",
    errno.EACCES: "write to a folder you may write in",
    errno.EPERM: "write to a folder you may write in",
    errno.EIO: "the disk reports a fault: write to another disk",
    errno.ENOTDIR: "a part of this path is a file, not a folder: name another folder",
    errno.EFBIG: "the system's limit on file size is too low: raise it or write elsewhere",
    errno.EINVAL: "this is not an ordinary file: name another",
    errno.EISDIR: "there is a folder of this name: move it away or name another file",
}


class WriteError(Exception):
    """An output that could not be written; what was there before is untouched.

    The message is one line that names the file, the system's reason and the remedy.
    """

    def __init__(self, path: Path, error: OSError) -> None:
        reason = error.strerror or str(error)
        remedy = _REMEDIES.get(error.errno or 0, "write to another folder")
        super().__init__(f"{path}: cannot be written ({reason}); {remedy}")
        self.path = path
        self.error = error

    def __reduce__(self) -> tuple[type["WriteError"], tuple[Path, OSError]]:
        """Rebuild from the path and the cause, so that it crosses a process boundary."""
        return type(self), (self.path, self.error)


def read_whole(path: Path, most_bytes: int) -> bytes:
    """Read an ordinary file that is no larger than its kind ever is.

    What it is and how large is looked at before it is opened: a pipe would wait for ever for its
    writer, and a device need not end.

    Raises
    ------
    OSError
        The file is missing, may not be read, is not an ordinary file or is too large; ``strerror``
        says so in words.
    """
    try:
        _check_ordinary(path.stat(), most_bytes)
        # The file may have been replaced in between: without blocking, and looked at again.
        entry = os.open(path, os.O_RDONLY | os.O_CLOEXEC | os.O_NONBLOCK)
    except ValueError as error:  # a name with a null byte
        raise OSError(errno.EINVAL, "no file can have such a name") from error
    with os.fdopen(entry, "rb") as file:
        _check_ordinary(os.fstat(entry), most_bytes)
        data = file.read(most_bytes + 1)
    if len(data) > most_bytes:
        raise _too_large(most_bytes)
    return data


def exists(path: Path) -> bool:
    """Whether there is anything of that name; False, too, where nothing can have such a name."""
    return os.path.exists(path)  # noqa: PTH110 - pathlib raises for a name that is too long


def is_file(path: Path) -> bool:
    """Whether there is an ordinary file; False, too, where no file can have such a name."""
    return os.path.isfile(path)  # noqa: PTH113 - as above


def is_folder(path: Path) -> bool:
    """Whether there is a folder; False, too, where no folder can have such a name."""
    return os.path.isdir(path)  # noqa: PTH112 - as above


def _check_ordinary(facts: os.stat_result, most_bytes: int) -> None:
    if stat.S_ISDIR(facts.st_mode):
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
    if not stat.S_ISREG(facts.st_mode):
        raise OSError(errno.EINVAL, "it is a pipe, a device or the like, not an ordinary file")
    if facts.st_size > most_bytes:
        raise _too_large(most_bytes)


def _too_large(most_bytes: int) -> OSError:
    return OSError(errno.EFBIG, f"it is larger than {most_bytes:,} bytes")


def write_whole(path: Path, data: bytes | str) -> None:
    """Write ``data`` (text as UTF-8) to ``path``: afterwards all of it is there, or none.

    Missing folders are made. A reader never sees half a file, and a crash or a power cut leaves
    the old content or the new.

    Raises
    ------
    WriteError
        The file cannot be written; the old content is intact.
    """
    content = data.encode("utf-8") if isinstance(data, str) else data
    with whole_file(path) as part:
        part.write_bytes(content)


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Lend a temporary file beside ``path`` that becomes ``path`` when the block ends well.

    For writers that need a file name, such as a film encoder: the temporary name keeps the
    suffix. An exception inside the block removes the temporary file and leaves ``path`` alone.
    Temporary files that a killed run left in the folder are removed on the way: each is locked
    while its writer lives, so that a lock that can be taken means a writer that died.

    Raises
    ------
    WriteError
        The file cannot be written, or the block raised an `OSError`.
    """
    target = Path(os.path.realpath(path))
    part: Path | None = None
    lock: int | None = None
    try:
        if target.exists() and not target.is_file():
            code = errno.EISDIR if target.is_dir() else errno.EINVAL
            raise OSError(code, os.strerror(code))
        target.parent.mkdir(parents=True, exist_ok=True)
        _remove_leftovers(target.parent)
        part, lock = _locked_part(target)
        yield part
        with part.open("rb+") as written:
            os.fsync(written.fileno())
        part.replace(target)
        part = None
        _sync_folder(target.parent)
    except OSError as error:
        raise WriteError(path, error) from error
    finally:
        if part is not None:
            with suppress(OSError):
                part.unlink()
        if lock is not None:
            os.close(lock)


def _locked_part(target: Path) -> tuple[Path, int]:
    import fcntl  # not on every system: the command line says so in a line

    while True:
        name = f"{_PART_PREFIX}{secrets.token_hex(8)}{_PART_MARK}{target.suffix[:16]}"
        part = target.parent / name
        lock = os.open(part, os.O_RDWR | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o666)
        try:
            fcntl.flock(lock, fcntl.LOCK_EX)
            # Another writer may have taken the file for a leftover before it was locked.
            if os.fstat(lock).st_nlink:
                return part, lock
        except BaseException:
            os.close(lock)
            with suppress(OSError):
                part.unlink()
            raise
        os.close(lock)


def _remove_leftovers(folder: Path) -> None:
    import fcntl

    for leftover in folder.glob(f"{_PART_PREFIX}*{_PART_MARK}*"):
        with suppress(OSError):
            lock = os.open(leftover, os.O_RDWR | os.O_CLOEXEC)
            try:
                fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
                leftover.unlink()
            finally:
                os.close(lock)


def _sync_folder(folder: Path) -> None:
    """Make the rename itself durable; file systems that cannot sync a folder are let be."""
    entry = os.open(folder, os.O_RDONLY | os.O_CLOEXEC)
    try:
        os.fsync(entry)
    except OSError as error:
        if error.errno not in (errno.EINVAL, errno.ENOTSUP, errno.EBADF):
            raise
    finally:
        os.close(entry)
