import socket

import pytest

from tests.offline import NetworkReachedError, is_this_machine

ELSEWHERE = ("192.0.2.1", 80)  # RFC 5737: an address for documentation, never assigned


def test_no_test_can_reach_another_machine() -> None:
    with socket.socket() as out, pytest.raises(NetworkReachedError):
        out.connect(ELSEWHERE)
    with (
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as out,
        pytest.raises(NetworkReachedError),
    ):
        out.sendto(b"x", ELSEWHERE)
    with pytest.raises(NetworkReachedError):
        socket.create_connection(("example.org", 443))


def test_this_machine_is_out_of_reach_where_no_server_is_tested() -> None:
    with socket.socket() as out, pytest.raises(NetworkReachedError):
        out.connect(("127.0.0.1", 9))


@pytest.mark.parametrize(
    ("host", "here"),
    [
        ("127.0.0.1", True),
        ("::1", True),
        ("localhost", True),
        ("192.0.2.1", False),
        ("0.0.0.0", False),
        ("example.org", False),
        ("localhost.example.org", False),
    ],
)
def test_only_loopback_counts_as_this_machine(host: str, here: bool) -> None:
    assert is_this_machine((host, 80)) is here
