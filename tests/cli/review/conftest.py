"""A folder with invented audits, and a desk over it."""

import asyncio
import json
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import unquote_to_bytes

import pytest
from starlette.datastructures import Headers
from starlette.types import ASGIApp

from cli.review.app import desk_app
from cli.review.desk import Desk
from cli.review.guard import Access, allowed_hosts
from cli.review.library import Library
from cli.review.log import LOG_NAME, DecisionLog
from counting.record.files import record_json
from counting.record.types import AuditRecord


@dataclass(frozen=True)
class Answer:
    """What the desk answered."""

    status_code: int
    headers: Headers
    content: bytes

    @property
    def text(self) -> str:
        return self.content.decode()

    def json(self) -> Any:
        return json.loads(self.content)


class Browser:
    """Speaks to the application directly, so that even paths no browser would send arrive."""

    def __init__(self, app: ASGIApp, host: str) -> None:
        self._app = app
        self._host = host
        self._cookie = ""

    def get(self, path: str, headers: Mapping[str, str] | None = None) -> Answer:
        return self.request("GET", path, headers=headers)

    def post(
        self,
        path: str,
        json: object = None,
        content: bytes | None = None,
        headers: Mapping[str, str] | None = None,
    ) -> Answer:
        body = _json_bytes(json) if content is None else content
        kind = {"content-type": "application/json"} if content is None else {}
        return self.request("POST", path, body, {**kind, **(headers or {})})

    def request(
        self,
        method: str,
        path: str,
        body: bytes = b"",
        headers: Mapping[str, str] | None = None,
    ) -> Answer:
        sent = {"host": self._host, "content-length": str(len(body)), **(headers or {})}
        if self._cookie:
            sent["cookie"] = self._cookie
        place, _, query = path.partition("?")
        scope = {
            "type": "http",
            "asgi": {"version": "3.0"},
            "http_version": "1.1",
            "method": method,
            "scheme": "http",
            "path": unquote_to_bytes(place).decode("latin-1"),
            "raw_path": place.encode(),
            "root_path": "",
            "query_string": query.encode(),
            "headers": [(name.encode(), value.encode()) for name, value in sent.items()],
            "client": ("127.0.0.1", 50000),
            "server": ("127.0.0.1", 8737),
        }
        # A thread of its own: a browser under test keeps an event loop running in this one.
        with ThreadPoolExecutor(1) as thread:
            answer = thread.submit(asyncio.run, _answer(self._app, scope, body)).result()
        cookie = answer.headers.get("set-cookie")
        if cookie:
            self._cookie = cookie.split(";")[0]
        return answer


def _json_bytes(document: object) -> bytes:
    return json.dumps(document).encode()


async def _answer(app: ASGIApp, scope: dict[str, Any], body: bytes) -> Answer:
    asked = iter([{"type": "http.request", "body": body, "more_body": False}])
    told: list[dict[str, Any]] = []

    async def receive() -> dict[str, Any]:
        message = next(asked, None)
        if message is None:
            await asyncio.Event().wait()
        return message or {}

    async def send(message: Any) -> None:
        told.append(dict(message))

    await app(scope, receive, send)
    start = told[0]
    content = b"".join(part.get("body", b"") for part in told[1:])
    return Answer(start["status"], Headers(raw=list(start["headers"])), content)


@pytest.fixture
def folder(tmp_path: Path, attempt_of: Callable[..., AuditRecord]) -> Path:
    """Two attempts: one with three reps open and its film, one in which all are good."""
    root = tmp_path / "evening"
    for number, (name, made) in enumerate(
        {
            "lane_1": attempt_of(file="lane_1.mp4", sha256="1" * 64),
            "lane_2": attempt_of((4,), (), (), file="lane_2.mp4", sha256="2" * 64),
        }.items()
    ):
        (root / f"{name}.audit").mkdir(parents=True)
        (root / f"{name}.audit" / "audit.json").write_text(record_json(made), encoding="utf-8")
        if number == 0:
            (root / f"{name}.mp4").write_bytes(bytes(range(256)) * 40)
    (tmp_path / "secret.mp4").write_bytes(b"outside")
    return root


@pytest.fixture
def desk(folder: Path) -> Desk:
    """The desk over the folder."""
    return Desk(Library(folder), DecisionLog(folder / LOG_NAME))


@pytest.fixture
def client(desk: Desk) -> Browser:
    """A browser on this machine."""
    return Browser(desk_app(desk, allowed_hosts("127.0.0.1", [])), "127.0.0.1")


@pytest.fixture
def browser_at(desk: Desk) -> Callable[[Access, str], Browser]:
    """A maker of browsers that call the desk by another name, under other rules."""
    return lambda access, host: Browser(desk_app(desk, access), host)
