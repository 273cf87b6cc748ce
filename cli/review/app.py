"""The desk as a web application: pages, film, decisions, exports."""

import asyncio
import hashlib
import threading
from pathlib import Path
from typing import Final, TypeVar

import msgspec
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import ClientDisconnect, Request
from starlette.responses import (
    FileResponse,
    HTMLResponse,
    JSONResponse,
    PlainTextResponse,
    RedirectResponse,
    Response,
)
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from cli.review import pages
from cli.review.desk import Desk, Opened, csv_of, frame_times, json_of, state_of
from cli.review.guard import Access, Guard
from cli.review.log import LogError, LogGoneError, NewDecision
from cli.review.views import views_of
from counting.record.types import RepPart
from counting.review.decisions import Call

FILM_TYPES: Final = {
    ".webm": "video/webm",
    ".mkv": "video/x-matroska",
    ".avi": "video/x-msvideo",
}
BODY_S: Final = 20.0
"""Longest wait for the whole of a call."""
MOST_NAME: Final = 80
"""Characters of a reviewer's name."""
LOG_GONE: Final = "x-log-gone"
"""Header of the answer to a call that is not taken because the log is gone."""
MOST_NOTE: Final = 2000
"""Characters of a note: a page of text."""

Body = TypeVar("Body", bound=msgspec.Struct)


class DecisionBody(msgspec.Struct, forbid_unknown_fields=True):
    """What the page sends for a call."""

    request: str
    rep: int
    call: Call
    reviewer: str
    note: str = ""
    standard: str = ""


class ActionBody(msgspec.Struct, forbid_unknown_fields=True):
    """What the page sends to take the last call back, or to sign off."""

    request: str
    reviewer: str


class DeskPages:
    """The handlers, over one desk."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._digests: dict[tuple[str, int, int], str] = {}
        self._digest_lock = threading.Lock()

    def listing(self, request: Request) -> Response:
        """Show the list of attempts."""
        only_open = request.query_params.get("show") == "open"
        return HTMLResponse(pages.listing(self._desk, only_open=only_open))

    def attempt(self, request: Request) -> Response:
        """Show one attempt."""
        opened = self._desk.open(request.path_params["key"])
        if opened is None:
            return HTMLResponse(pages.missing(self._desk), 404)
        return HTMLResponse(pages.attempt(self._desk, opened))

    def agreement(self, _request: Request) -> Response:
        """Show how far reviewers agree."""
        return HTMLResponse(pages.agreement_page(self._desk))

    def next(self, request: Request) -> Response:
        """Lead on to the attempt most worth a look besides the one that was left."""
        return RedirectResponse(
            pages.next_place(self._desk, request.query_params.get("after", "")), 303
        )

    def state(self, request: Request) -> Response:
        """Give the standing calls for one reviewer."""
        reviewer = request.query_params.get("reviewer", "")
        return self._state(request, reviewer)

    def film(self, request: Request) -> Response:
        """Give the film, or the part of it that is asked for."""
        kind, library = request.path_params["kind"], self._desk.library
        attempt = self._opened(request).attempt
        number = kind.removeprefix("further-")
        if number != kind and number.isdecimal() and len(number) == 1:
            film = library.further_film(attempt, int(number))
        else:
            film = library.film(attempt, marked=kind == "marked")
        if film is None:
            raise HTTPException(404, "The film is not in this folder.")
        media_type = FILM_TYPES.get(film.suffix.lower(), "video/mp4")
        return FileResponse(
            film, media_type=media_type, headers={"cache-control": "private, no-cache"}
        )

    def frames(self, request: Request) -> Response:
        """Give the presentation times of all frames, for stepping."""
        return JSONResponse(frame_times(self._opened(request).attempt))

    def views(self, request: Request) -> Response:
        """Give, for each rep, the part of the picture to show and the lines to draw on it."""
        return JSONResponse(views_of(self._opened(request).attempt))

    def film_check(self, request: Request) -> Response:
        """Say whether the film is the one that was audited."""
        opened = self._opened(request)
        film = self._desk.library.film(opened.attempt)
        if film is None:
            return JSONResponse({"same": None})
        return JSONResponse({"same": self._digest(film) == opened.attempt.record.film.sha256})

    async def decide(self, request: Request) -> Response:
        """Write one call into the log, then give the standing calls."""
        body = _parsed(await _body(request), DecisionBody)
        return await run_in_threadpool(self._decide, request, body)

    async def undo(self, request: Request) -> Response:
        """Take the reviewer's last call back, then give the standing calls."""
        body = _parsed(await _body(request), ActionBody)
        return await run_in_threadpool(self._undo, request, body)

    async def sign(self, request: Request) -> Response:
        """Sign the sheet off as it stands."""
        body = _parsed(await _body(request), ActionBody)
        return await run_in_threadpool(self._sign, request, body)

    def sheet(self, request: Request) -> Response:
        """Give the sheet as CSV, JSON or report."""
        opened = self._opened(request)
        kind = request.path_params["kind"]
        stem = Path(opened.attempt.record.film.file).stem
        if kind == "report":
            return HTMLResponse(pages.signed_report(opened), headers=pages.REPORT_HEADERS)
        if kind == "csv":
            return Response(
                csv_of(opened), headers=_as_file(f"{stem}.sheet.csv"), media_type="text/csv"
            )
        if kind == "json":
            headers = _as_file(f"{stem}.sheet.json")
            return Response(json_of(opened), headers=headers, media_type="application/json")
        raise HTTPException(404, "There is no such sheet.")

    def _decide(self, request: Request, body: DecisionBody) -> Response:
        opened = self._opened(request)
        record = opened.attempt.record
        rep = next((rep for rep in record.reps if rep.number == body.rep), None)
        if rep is None:
            raise HTTPException(422, f"There is no rep {body.rep}.")
        self._desk.log.add(
            NewDecision(
                film_sha256=record.film.sha256,
                rep=rep.number,
                movement=rep.movement,
                turn_s=rep.turn_s,
                reviewer=_name(body.reviewer),
                call=body.call,
                note=_note(body.note),
                request=_request_name(body.request),
                standard=_standard(body, rep),
            )
        )
        return self._state(request, _name(body.reviewer))

    def _undo(self, request: Request, body: ActionBody) -> Response:
        sha256 = self._opened(request).attempt.record.film.sha256
        row = self._desk.log.undo(sha256, _name(body.reviewer), _request_name(body.request))
        undone = next((one.rep for one in self._desk.log.decisions(sha256) if one.id == row), None)
        return self._state(request, _name(body.reviewer), undone=undone)

    def _sign(self, request: Request, body: ActionBody) -> Response:
        sha256 = self._opened(request).attempt.record.film.sha256
        self._desk.log.sign(sha256, _name(body.reviewer))
        return self._state(request, _name(body.reviewer))

    def _state(self, request: Request, reviewer: str, **more: int | None) -> Response:
        state = state_of(self._opened(request), reviewer)
        return JSONResponse({**state, **more, "log_trouble": self._desk.log.trouble})

    def _opened(self, request: Request) -> Opened:
        opened = self._desk.open(request.path_params["key"])
        if opened is None:
            raise HTTPException(404, "There is no such attempt in this folder.")
        return opened

    def _digest(self, film: Path) -> str:
        facts = film.stat()
        key = (str(film), facts.st_mtime_ns, facts.st_size)
        with self._digest_lock:
            if key not in self._digests:
                with film.open("rb") as file:
                    self._digests[key] = hashlib.file_digest(file, "sha256").hexdigest()
            return self._digests[key]


def desk_app(desk: Desk, access: Access) -> Starlette:
    """Build the application.

    Parameters
    ----------
    desk
        Audits and log.
    access
        Who may talk to it.
    """
    made = DeskPages(desk)
    desk.lines()
    static = StaticFiles(packages=[("cli.review", "static")])
    return Starlette(
        routes=[
            Route("/", made.listing),
            Route("/agreement", made.agreement),
            Route("/next", made.next),
            Route("/look.css", pages.look_css),
            Mount("/static", static),
            Route("/attempt/{key}", made.attempt),
            Route("/attempt/{key}/state", made.state),
            Route("/attempt/{key}/frames", made.frames),
            Route("/attempt/{key}/views", made.views),
            Route("/attempt/{key}/film-check", made.film_check),
            Route("/attempt/{key}/film/{kind}", made.film),
            Route("/attempt/{key}/decide", made.decide, methods=["POST"]),
            Route("/attempt/{key}/undo", made.undo, methods=["POST"]),
            Route("/attempt/{key}/sign", made.sign, methods=["POST"]),
            Route("/attempt/{key}/sheet/{kind}", made.sheet),
        ],
        middleware=[Middleware(Guard, access=access)],
        exception_handlers={
            HTTPException: _plain_error,
            LogError: _log_error,
            ClientDisconnect: _nobody_there,
        },
    )


async def _body(request: Request) -> bytes:
    try:
        async with asyncio.timeout(BODY_S):
            return await request.body()
    except TimeoutError as error:
        closing = {"connection": "close"}
        raise HTTPException(408, "The call arrived incomplete.", closing) from error


def _parsed(data: bytes, kind: type[Body]) -> Body:
    try:
        return msgspec.json.decode(data, type=kind)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        raise HTTPException(422, f"Not understood: {error}") from error


def _name(text: str) -> str:
    name = " ".join(text.split())
    if not 0 < len(name) <= MOST_NAME or not name.isprintable():
        raise HTTPException(422, f"A reviewer's name has 1 to {MOST_NAME} printable characters.")
    return name


def _note(text: str) -> str:
    if len(text) > MOST_NOTE:
        raise HTTPException(422, f"A note has at most {MOST_NOTE} characters.")
    return text.strip()


def _standard(body: DecisionBody, rep: RepPart) -> str:
    if body.standard and body.call != "no-rep":
        raise HTTPException(422, "Only a no-rep names the standard that was missed.")
    if body.standard and body.standard not in {check.name for check in rep.checks}:
        raise HTTPException(422, f"Rep {rep.number} has no such standard.")
    return body.standard


def _request_name(text: str) -> str:
    if not 8 <= len(text) <= 64 or not text.isalnum():
        raise HTTPException(422, "A request's name has 8 to 64 letters and digits.")
    return text


def _as_file(name: str) -> dict[str, str]:
    safe = "".join(sign if sign.isalnum() or sign in "-_." else "_" for sign in name)
    ascii_name = safe.encode("ascii", "replace").decode().replace("?", "_")
    return {"content-disposition": f'attachment; filename="{ascii_name}"'}


async def _plain_error(_request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    return PlainTextResponse(error.detail, error.status_code, error.headers)


async def _nobody_there(_request: Request, _error: Exception) -> Response:
    """Answer a browser that left while it sent; nobody hears it."""
    return Response(status_code=400)


async def _log_error(_request: Request, error: Exception) -> Response:
    headers = {LOG_GONE: "yes"} if isinstance(error, LogGoneError) else None
    return PlainTextResponse(str(error), 503, headers)
