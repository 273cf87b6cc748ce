"""Running the desk: log, library and server put together."""

import asyncio
import secrets
import signal
import socket
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from types import FrameType
from typing import Final

import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

from cli.errors import BAD_INPUT, WRONG_USAGE, UserError
from cli.review.app import desk_app
from cli.review.desk import Desk
from cli.review.guard import allowed_hosts, is_loopback
from cli.review.library import Library
from cli.review.log import LOG_NAME, DecisionLog, LogError

LEAST_TOKEN: Final = 16
REQUEST_S: Final = 20.0
"""Longest wait for a whole request on a connection."""
_KEEPALIVE: Final = {"TCP_KEEPIDLE": 60, "TCP_KEEPINTVL": 20, "TCP_KEEPCNT": 3}
"""Seconds of silence before a browser is asked whether it is there, between askings, and how often:
one that has gone is let go after two minutes."""


def serve(
    folder: Path,
    host: str,
    port: int,
    names: Sequence[str],
    token: str | None,
    say: Callable[[str], None],
) -> None:
    """Serve the desk until it is interrupted.

    Raises
    ------
    UserError
        The log cannot be opened, or the address is taken.
    """
    access = allowed_hosts(host, names)
    if token is not None and len(token) < LEAST_TOKEN:
        raise UserError(
            f"the token is too short; use at least {LEAST_TOKEN} characters", WRONG_USAGE
        )
    if token is None and not is_loopback(host):
        token = secrets.token_urlsafe(24)
    try:
        log = DecisionLog(folder / LOG_NAME)
    except LogError as error:
        raise UserError(str(error), BAD_INPUT) from error
    desk = Desk(Library(folder), log)
    app = desk_app(desk, replace(access, token=token))
    listener = _listener(host, port)
    shown = f"[{host}]" if ":" in host else host
    address = f"http://{shown}:{listener.getsockname()[1]}/"
    count = len(desk.library.attempts())
    config = uvicorn.Config(
        app,
        http=PatientProtocol,
        ws="none",
        log_level="error",
        use_colors=False,
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=2,
    )
    server = uvicorn.Server(config)
    # From the first word on: whoever reads how to stop it may do so.
    with _stopped_by_ctrl_c(server):
        say(
            f"{count} {'audit' if count == 1 else 'audits'} in {folder}; open {address}"
            + (f"?token={token}" if token else "")
            + " and stop with Ctrl-C"
        )
        if not count:
            say(
                "There is no audit in it yet. Put films there and run 'repwitness audit FILM "
                "--movement NAME' on each: an audit's folder belongs beside its film."
            )
        if token is not None:
            say("The connection is not encrypted: use it in a network you trust.")
        server.run(sockets=[listener])
    kept = f"every call made is in {folder / LOG_NAME}"
    say(f"stopped; {log.trouble or kept}")


@contextmanager
def _stopped_by_ctrl_c(server: uvicorn.Server) -> Iterator[None]:
    """Let Ctrl-C end the server, also while it is being set up.

    An interrupt there would leave a half-made event loop, which complains as it is thrown away.
    """

    def stop(_number: int, _frame: FrameType | None) -> None:
        server.should_exit = True

    before = signal.signal(signal.SIGINT, stop)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


class PatientProtocol(H11Protocol):
    """HTTP for browsers that may fall silent: a connection without a whole request is closed."""

    _waiting: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Wait for the first request."""
        super().connection_made(transport)
        self._watch()

    def data_received(self, data: bytes) -> None:
        """Wait on where a request is still not whole; bytes that trickle in gain no time."""
        super().data_received(data)
        self._watch()

    def connection_lost(self, exc: Exception | None) -> None:
        """Wait no more."""
        super().connection_lost(exc)
        self._stop_waiting()

    def _watch(self) -> None:
        if self._at_work():
            self._stop_waiting()
        elif self._waiting is None:
            self._waiting = self.loop.call_later(REQUEST_S, self._give_up)

    def _at_work(self) -> bool:
        return self.cycle is not None and not self.cycle.response_complete

    def _give_up(self) -> None:
        self._waiting = None
        if not self._at_work():
            self.transport.abort()

    def _stop_waiting(self) -> None:
        if self._waiting is not None:
            self._waiting.cancel()
            self._waiting = None


def _listener(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host, port))
    except OSError as error:
        listener.close()
        raise UserError(
            f"{host}:{port}: cannot listen there ({error.strerror or error}); "
            "choose another with --port",
            WRONG_USAGE,
        ) from error
    # Peers that vanished without a word are asked now and then, and let go.
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
    for name, value in _KEEPALIVE.items():
        if hasattr(socket, name):
            listener.setsockopt(socket.IPPROTO_TCP, getattr(socket, name), value)
    listener.listen(128)
    return listener
