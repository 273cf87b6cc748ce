"""Running the desk: log, library and server put together."""

import secrets
import socket
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

import uvicorn

from cli.errors import BAD_INPUT, WRONG_USAGE, UserError
from cli.review.app import desk_app
from cli.review.desk import Desk
from cli.review.guard import allowed_hosts, is_loopback
from cli.review.library import Library
from cli.review.log import LOG_NAME, DecisionLog, LogError

LEAST_TOKEN: Final = 16


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
    say(
        f"{count} {'audit' if count == 1 else 'audits'} in {folder}; open {address}"
        + (f"?token={token}" if token else "")
        + " and stop with Ctrl-C"
    )
    if token is not None:
        say("The connection is not encrypted: use it in a network you trust.")
    config = uvicorn.Config(
        app, log_level="error", access_log=False, server_header=False, timeout_graceful_shutdown=2
    )
    uvicorn.Server(config).run(sockets=[listener])


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
    listener.listen(128)
    return listener
