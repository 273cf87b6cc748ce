"""No test reaches the network: sockets lead to this machine, and only where a server is tested."""

import ipaddress
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest

WITH_SERVER = ("tests/cli/review/", "tests/cli/batch/")
"""Where a server of our own, or a local cluster, is under test."""


class NetworkReachedError(Exception):
    """Code under test tried to reach the network."""


def is_this_machine(address: Any) -> bool:
    if not isinstance(address, tuple):
        return True  # a socket in the file system
    host = str(address[0]).split("%", maxsplit=1)[0]
    if host in ("", "localhost"):
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


@contextmanager
def blocked(patch: pytest.MonkeyPatch, *, loopback: bool) -> Iterator[None]:
    """Refuse connections to other machines, and to this one unless ``loopback``."""

    def guard(name: str) -> None:
        genuine = getattr(socket.socket, name)

        def guarded(self: socket.socket, *arguments: Any) -> Any:
            address = arguments[-1]
            file_system = self.family == getattr(socket, "AF_UNIX", None)
            if not file_system and not (loopback and is_this_machine(address)):
                raise NetworkReachedError(f"{name} {address}")
            return genuine(self, *arguments)

        patch.setattr(socket.socket, name, guarded)

    def look_up(host: Any, *arguments: Any, **named: Any) -> Any:
        if not (loopback and is_this_machine((host or "", 0))):
            raise NetworkReachedError(f"look-up of {host}")
        return genuine_look_up(host, *arguments, **named)

    genuine_look_up = socket.getaddrinfo
    for name in ("connect", "connect_ex", "sendto"):
        guard(name)
    patch.setattr(socket, "getaddrinfo", look_up)
    yield
