import errno
import os
import pickle
import resource
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from vision.files import WriteError, whole_file, write_whole


def test_writes_text_as_utf8_and_makes_missing_folders(tmp_path: Path) -> None:
    target = tmp_path / "a" / "b" / "note.txt"
    write_whole(target, "hüfte\n")
    assert target.read_bytes() == "hüfte\n".encode()


def test_leaves_only_the_file_in_its_folder(tmp_path: Path) -> None:
    write_whole(tmp_path / "x.json", b"1")
    write_whole(tmp_path / "x.json", b"2")
    assert [p.name for p in tmp_path.iterdir()] == ["x.json"]
    assert (tmp_path / "x.json").read_bytes() == b"2"


def test_a_new_file_follows_the_umask(tmp_path: Path) -> None:
    old = os.umask(0o027)
    try:
        write_whole(tmp_path / "x", b"")
    finally:
        os.umask(old)
    assert (tmp_path / "x").stat().st_mode & 0o777 == 0o640


def test_a_link_keeps_pointing_at_its_target(tmp_path: Path) -> None:
    (tmp_path / "real").write_bytes(b"old")
    (tmp_path / "link").symlink_to(tmp_path / "real")
    write_whole(tmp_path / "link", b"new")
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "real").read_bytes() == b"new"


@pytest.mark.parametrize("name", ["-rf", "with space", "line\nbreak", "é中", "x" * 255])
def test_takes_any_name_the_file_system_takes(tmp_path: Path, name: str) -> None:
    try:
        (tmp_path / name).write_bytes(b"")
    except OSError:
        pytest.skip("this file system refuses the name")
    write_whole(tmp_path / name, b"ok")
    assert (tmp_path / name).read_bytes() == b"ok"


def test_the_lent_name_keeps_the_suffix(tmp_path: Path) -> None:
    with whole_file(tmp_path / "out.mp4") as part:
        assert part.suffix == ".mp4"
        assert part.parent == tmp_path
        part.write_bytes(b"film")
    assert (tmp_path / "out.mp4").read_bytes() == b"film"


def test_a_failing_block_keeps_the_old_file_and_cleans_up(tmp_path: Path) -> None:
    target = tmp_path / "x"
    target.write_bytes(b"old")

    def broken() -> None:
        with whole_file(target) as part:
            part.write_bytes(b"half")
            raise ValueError("encoder")

    with pytest.raises(ValueError, match="encoder"):
        broken()
    assert target.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [target]


STEPS = ["mkdir", "open", "write", "fsync", "replace"]


@pytest.mark.parametrize("step", STEPS)
@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EIO, errno.EROFS, errno.EDQUOT])
def test_a_fault_at_any_step_keeps_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str, code: int
) -> None:
    target = tmp_path / "audit.json"
    target.write_bytes(b"old")

    def fail(*_args: object, **_named: object) -> None:
        raise OSError(code, os.strerror(code))

    with monkeypatch.context() as fault:
        if step == "mkdir":
            fault.setattr(Path, "mkdir", fail)
        elif step == "open":
            fault.setattr(os, "open", fail)
        elif step == "write":
            fault.setattr(Path, "write_bytes", fail)
        elif step == "fsync":
            fault.setattr(os, "fsync", fail)
        else:
            fault.setattr(Path, "replace", fail)
        with pytest.raises(WriteError) as caught:
            write_whole(target, b"new")
    message = str(caught.value)
    assert str(target) in message
    assert os.strerror(code) in message
    assert "\n" not in message
    assert target.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [target]


def test_a_fault_of_the_system_itself_in_mid_write_keeps_the_old_file(tmp_path: Path) -> None:
    target = tmp_path / "audit.json"
    target.write_bytes(b"old")
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (4096, hard))
    try:
        with pytest.raises(WriteError, match="File too large"):
            write_whole(target, bytes(100_000))
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert target.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [target]


def test_a_device_is_never_replaced(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    with pytest.raises(WriteError, match="not an ordinary file"):
        write_whole(pipe, b"x")
    assert pipe.is_fifo()


def test_a_file_in_place_of_a_folder_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(WriteError, match="cannot be written"):
        write_whole(tmp_path / "file" / "x", b"")


def test_a_folder_in_place_of_the_file_is_told(tmp_path: Path) -> None:
    (tmp_path / "x").mkdir()
    with pytest.raises(WriteError, match="there is a folder of this name"):
        write_whole(tmp_path / "x", b"")


def test_the_error_crosses_process_boundaries(tmp_path: Path) -> None:
    error = WriteError(tmp_path / "x", OSError(errno.ENOSPC, "No space left on device"))
    assert str(pickle.loads(pickle.dumps(error))) == str(error)


WRITER = """
import sys
from pathlib import Path
from vision.files import write_whole
target = Path(sys.argv[1])
print("ready", flush=True)
number = 0
while True:
    write_whole(target, bytes([number % 256]) * 300_000)
    number += 1
"""


def test_killed_writers_leave_a_whole_file_and_the_next_write_cleans_up(tmp_path: Path) -> None:
    target = tmp_path / "out.bin"
    for attempt in range(8):
        with subprocess.Popen(
            [sys.executable, "-c", WRITER, str(target)],
            stdout=subprocess.PIPE,
            cwd=Path(__file__).parents[2],
        ) as process:
            assert process.stdout is not None
            process.stdout.readline()
            time.sleep(0.004 * (attempt + 1))
            process.send_signal(signal.SIGKILL)
        if target.exists():
            content = target.read_bytes()
            assert len(content) == 300_000
            assert len(set(content)) == 1
    write_whole(target, b"done")
    assert [p.name for p in tmp_path.iterdir()] == ["out.bin"]


def test_a_living_writer_keeps_its_temporary_file(tmp_path: Path) -> None:
    with whole_file(tmp_path / "slow.mp4") as part:
        part.write_bytes(b"slow")
        write_whole(tmp_path / "quick", b"quick")
        assert part.exists()
    assert (tmp_path / "slow.mp4").read_bytes() == b"slow"
