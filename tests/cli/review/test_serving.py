"""The desk on a real socket: what a browser that misbehaves, or nobody at all, does to it."""

import http.client
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest

from cli.review.library import Library
from cli.review.log import LOG_NAME

pytestmark = pytest.mark.slow

PATIENCE_S = 60.0
SERVE = """
import sys
from pathlib import Path
from cli.review import app, serving
serving.REQUEST_S = app.BODY_S = 0.5
serving.serve(Path(sys.argv[1]), "127.0.0.1", 0, [], None, lambda words: print(words, flush=True))
"""


class Desk:
    """The desk as a process of its own, with little patience."""

    def __init__(self, folder: Path) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-c", SERVE, str(folder)],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        )
        assert self._process.stdout is not None
        self.said = self._process.stdout.readline()
        self.port = int(self.said.partition("http://127.0.0.1:")[2].partition("/")[0])

    def connection(self) -> socket.socket:
        return socket.create_connection(("127.0.0.1", self.port), timeout=PATIENCE_S)

    def stop(self) -> tuple[str, str]:
        """Press Ctrl-C; give what it said on standard output and error."""
        self._process.send_signal(signal.SIGINT)
        said = self._process.communicate(timeout=PATIENCE_S)
        assert self._process.returncode == 0
        return said


@pytest.fixture
def running(folder: Path) -> Iterator[Desk]:
    desk = Desk(folder)
    yield desk
    if desk._process.poll() is None:
        desk._process.kill()
        desk._process.communicate()


def asked(desk: Desk, request: bytes) -> bytes:
    """Send bytes and give all that comes back until the desk closes the connection."""
    with desk.connection() as line:
        line.sendall(request)
        answer = b""
        while part := line.recv(65536):
            answer += part
    return answer


def listing_comes(desk: Desk) -> bool:
    connection = http.client.HTTPConnection("127.0.0.1", desk.port, timeout=PATIENCE_S)
    connection.request("GET", "/")
    answer = connection.getresponse()
    answer.read()
    connection.close()
    return answer.status == 200


def post(folder: Path, desk: Desk, length: int, body: bytes) -> bytes:
    key = Library(folder).attempts()[0].key
    head = (
        f"POST /attempt/{key}/decide HTTP/1.1\r\nhost: 127.0.0.1:{desk.port}\r\n"
        f"origin: http://127.0.0.1:{desk.port}\r\ncontent-type: application/json\r\n"
        f"content-length: {length}\r\n\r\n"
    )
    return head.encode() + body


@pytest.mark.parametrize(
    ("head", "status"),
    [
        (b"GET / HTTP/1.1\r\nhost: [\r\nconnection: close\r\n\r\n", b" 421 "),
        (b"GET / HTTP/1.1\r\nhost: [v1.x\r\nconnection: close\r\n\r\n", b" 421 "),
        (
            b"POST / HTTP/1.1\r\nhost: 127.0.0.1\r\norigin: http://[\r\n"
            b"content-length: 0\r\nconnection: close\r\n\r\n",
            b" 403 ",
        ),
    ],
    ids=["host", "host of a later version", "origin"],
)
def test_an_address_that_is_none_is_refused_without_a_traceback(
    running: Desk, head: bytes, status: bytes
) -> None:
    assert status in asked(running, head).partition(b"\r\n")[0]
    assert running.stop()[1] == ""


def test_a_browser_that_leaves_while_it_sends_leaves_no_traceback(
    running: Desk, folder: Path
) -> None:
    for _ in range(3):
        with running.connection() as line:
            line.sendall(post(folder, running, 400, b'{"request": "'))
    assert listing_comes(running)
    assert running.stop()[1] == ""


def test_a_call_that_never_comes_whole_is_given_up(running: Desk, folder: Path) -> None:
    answer = asked(running, post(folder, running, 400, b'{"request": "'))
    assert b" 408 " in answer.partition(b"\r\n")[0]
    assert running.stop()[1] == ""


@pytest.mark.parametrize("begun", [b"", b"GET / HT", b"GET / HTTP/1.1\r\nhost: 127.0"])
def test_half_open_connections_are_closed(running: Desk, begun: bytes) -> None:
    lines = [running.connection() for _ in range(50)]
    for line in lines:
        line.sendall(begun)
    assert listing_comes(running)
    for line in lines:
        with suppress(ConnectionResetError):
            assert line.recv(1) == b""
        line.close()


def test_bytes_that_trickle_in_gain_no_time(running: Desk) -> None:
    begun_s = time.monotonic()
    with running.connection() as line, suppress(OSError):
        for sign in b"GET / HTTP/1.1\r\nx-slow: " + b"x" * 10_000:
            line.sendall(bytes([sign]))
            time.sleep(0.05)
    assert time.monotonic() - begun_s < PATIENCE_S


def test_a_connection_at_work_is_left_alone(running: Desk) -> None:
    connection = http.client.HTTPConnection("127.0.0.1", running.port, timeout=PATIENCE_S)
    for _ in range(4):
        connection.request("GET", "/")
        assert connection.getresponse().read()
        time.sleep(0.3)
    connection.close()


def test_ctrl_c_does_not_promise_calls_of_a_log_that_is_gone(running: Desk, folder: Path) -> None:
    (folder / LOG_NAME).unlink()
    out, _ = running.stop()
    assert "deleted or replaced" in out
    assert "every call" not in out


def test_ctrl_c_says_a_word(running: Desk) -> None:
    out, err = running.stop()
    assert out.startswith("stopped; every call made is in ")
    assert out.rstrip().endswith(LOG_NAME)
    assert err == ""
