"""What the desk refuses.

DNS rebinding and cross-site requests as described by OWASP's cheat sheet on cross-site request
forgery (verifying origin with standard headers); ranges after RFC 9110, section 14.
"""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from cli.review.desk import Desk
from cli.review.guard import allowed_hosts, is_loopback

TOKEN = "correct-horse-battery"
BODY = {"request": "request9999", "rep": 7, "call": "good", "reviewer": "R. Osei"}


@pytest.fixture
def lane(desk: Desk) -> str:
    """Path of the attempt that has a film."""
    return next(f"/attempt/{a.key}" for a in desk.library.attempts() if desk.library.film(a))


@pytest.fixture
def guarded(browser_at: Callable[..., Any]) -> Any:
    """A browser at a desk that listens on all addresses and asks for its token."""
    access = replace(allowed_hosts("0.0.0.0", ["desk.lan"]), token=TOKEN)
    return browser_at(access, "192.168.1.7")


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1.evil.example", "", "127.0.0.1@evil.example", "192.168.1.7"]
)
def test_a_request_under_a_foreign_name_is_refused(client: Any, host: str) -> None:
    assert client.get("/", headers={"host": host}).status_code == 421


@pytest.mark.parametrize("host", ["[", "[::1", "[v1.x", "127.0.0.1]"])
def test_a_name_that_is_no_address_is_refused(client: Any, host: str) -> None:
    assert client.get("/", headers={"host": host}).status_code == 421


@pytest.mark.parametrize("length", ["", "-1", "+1", "1e3", "0x10", "١"])
def test_a_length_that_is_no_number_is_refused(client: Any, lane: str, length: str) -> None:
    headers = {"origin": "http://127.0.0.1", "content-length": length}
    assert client.post(f"{lane}/decide", json=BODY, headers=headers).status_code == 411


def test_a_length_of_thousands_of_digits_is_refused(client: Any, lane: str) -> None:
    headers = {"origin": "http://127.0.0.1", "content-length": "9" * 5000}
    assert client.post(f"{lane}/decide", json=BODY, headers=headers).status_code == 413


@pytest.mark.parametrize("host", ["127.0.0.1:8737", "localhost:1", "[::1]:8737"])
def test_the_desks_own_names_are_known_on_any_port(client: Any, host: str) -> None:
    assert client.get("/", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "origin",
    [
        None,
        "null",
        "https://evil.example",
        "http://127.0.0.1:81",
        "http://127.0.0.1.evil.example",
        "http://[",
    ],
)
def test_only_the_desks_own_pages_write(
    client: Any, desk: Desk, lane: str, origin: str | None
) -> None:
    headers = {} if origin is None else {"origin": origin}
    assert client.post(f"{lane}/decide", json=BODY, headers=headers).status_code == 403
    assert desk.log.decisions() == []


@pytest.mark.parametrize(
    "kind", ["multipart/form-data; boundary=x", "application/x-www-form-urlencoded", "text/plain"]
)
def test_uploads_and_forms_are_off(client: Any, lane: str, kind: str) -> None:
    headers = {"origin": "http://127.0.0.1", "content-type": kind}
    answer = client.post(f"{lane}/decide", content=b"x=1", headers=headers)
    assert answer.status_code == 415


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS"])
def test_other_methods_are_refused(client: Any, lane: str, method: str) -> None:
    assert client.request(method, lane).status_code == 405


def test_a_long_body_is_refused_before_it_is_read(client: Any, lane: str) -> None:
    headers = {"origin": "http://127.0.0.1", "content-type": "application/json"}
    answer = client.post(f"{lane}/decide", content=b"x" * 70_000, headers=headers)
    assert answer.status_code == 413


@pytest.mark.parametrize(
    "changed",
    [
        {"rep": 99},
        {"call": "maybe"},
        {"reviewer": " "},
        {"reviewer": "x" * 81},
        {"note": "x" * 2001},
        {"request": "short"},
        {"request": "../../etc"},
        {"more": 1},
    ],
)
def test_a_call_that_makes_no_sense_is_refused_and_not_logged(
    client: Any, desk: Desk, lane: str, changed: dict[str, object]
) -> None:
    headers = {"origin": "http://127.0.0.1"}
    answer = client.post(f"{lane}/decide", json={**BODY, **changed}, headers=headers)
    assert answer.status_code == 422
    assert desk.log.decisions() == []


@pytest.mark.parametrize(
    "path",
    [
        "/static/../../../../secret.mp4",
        "/static/%2e%2e/%2e%2e/app.py",
        "/attempt/../secret.mp4",
        "/attempt/%2e%2e%2fsecret.mp4/film/original",
        "/attempt/evening/film/..%2f..%2fsecret.mp4",
        "/secret.mp4",
        "//etc/passwd",
    ],
)
def test_no_path_leads_out_of_the_folder(client: Any, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 404
    assert b"outside" not in answer.content


def test_a_film_that_is_a_link_out_of_the_folder_is_not_given(
    client: Any, folder: Path, lane: str
) -> None:
    (folder / "lane_1.mp4").unlink()
    (folder / "lane_1.mp4").symlink_to(folder.parent / "secret.mp4")
    answer = client.get(f"{lane}/film/original")
    assert answer.status_code == 404
    assert b"outside" not in answer.content


def test_a_record_cannot_name_a_film_elsewhere(client: Any, folder: Path) -> None:
    record = folder / "lane_2.audit" / "audit.json"
    named = record.read_text(encoding="utf-8").replace("lane_2.mp4", "../secret.mp4")
    record.write_text(named, encoding="utf-8")
    client.get("/")
    for key in {part.split('"')[0] for part in client.get("/").text.split("/attempt/")[1:]}:
        assert b"outside" not in client.get(f"/attempt/{key}/film/original").content


def test_a_record_behind_a_link_is_not_read(client: Any, folder: Path) -> None:
    away = folder.parent / "away.audit"
    (folder / "lane_2.audit").rename(away)
    (folder / "lane_2.audit").symlink_to(away)
    assert "lane_2.mp4" not in client.get("/").text


def test_every_answer_forbids_foreign_code_frames_and_sniffing(client: Any, lane: str) -> None:
    for path in ("/", lane, f"{lane}/state", "/static/desk.js", "/nothing"):
        headers = client.get(path).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "script-src 'self'" in policy
        assert "unsafe" not in policy
        assert "frame-ancestors 'none'" in policy
        assert headers["x-content-type-options"] == "nosniff"


def test_a_part_of_the_film_is_given_as_asked(client: Any, lane: str) -> None:
    whole = client.get(f"{lane}/film/original").content
    part = client.get(f"{lane}/film/original", headers={"range": "bytes=100-199"})
    assert part.status_code == 206
    assert part.headers["content-range"] == f"bytes 100-199/{len(whole)}"
    assert part.content == whole[100:200]
    tail = client.get(f"{lane}/film/original", headers={"range": "bytes=-5"})
    assert tail.content == whole[-5:]
    beyond = client.get(f"{lane}/film/original", headers={"range": f"bytes={len(whole)}-"})
    assert beyond.status_code == 416


def test_a_desk_open_to_the_network_asks_for_its_token(guarded: Any, lane: str) -> None:
    for path in ("/", lane, f"{lane}/film/original", "/static/desk.js"):
        assert guarded.get(path).status_code == 401
    assert guarded.get("/?token=wrong").status_code == 401
    body = guarded.post(f"{lane}/decide", json=BODY, headers={"origin": "http://192.168.1.7"})
    assert body.status_code == 401


def test_the_token_is_taken_once_from_the_address_and_then_kept_out_of_it(
    guarded: Any,
) -> None:
    answer = guarded.get(f"/?show=open&token={TOKEN}")
    assert (answer.status_code, answer.headers["location"]) == (303, "/?show=open")
    cookie = answer.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    assert guarded.get("/").status_code == 200


def test_the_token_never_sends_a_browser_to_another_site(guarded: Any) -> None:
    for path in ("//evil.example", "/\\evil.example"):
        answer = guarded.get(f"{path}?token={TOKEN}")
        assert not answer.headers.get("location", "/").startswith(("//", "/\\", "http"))


def test_a_named_machine_is_known_and_others_are_not(guarded: Any) -> None:
    assert guarded.get(f"/?token={TOKEN}", headers={"host": "desk.lan:8737"}).status_code == 303
    assert guarded.get(f"/?token={TOKEN}", headers={"host": "evil.example"}).status_code == 421


@pytest.mark.parametrize(
    ("host", "local"),
    [
        ("127.0.0.1", True),
        ("127.9.9.9", True),
        ("::1", True),
        ("localhost", True),
        ("0.0.0.0", False),
        ("192.168.1.7", False),
        ("desk.lan", False),
    ],
)
def test_only_this_machine_reaches_the_loopback(host: str, local: bool) -> None:
    assert is_loopback(host) is local
