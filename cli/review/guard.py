"""Who may talk to the desk: its own pages, at its own address, with the token where it asks one."""

import hmac
import ipaddress
from collections.abc import Iterable
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie
from typing import Final
from urllib.parse import SplitResult, parse_qsl, urlencode, urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

COOKIE: Final = "repwitness_desk"
MOST_BODY_BYTES: Final = 64 * 1024
"""Of a call: eight times what the longest name and note take in UTF-8."""
_MOST_DIGITS: Final = 12
"""Of a stated length: longer ones are above any limit."""
SAFE_METHODS: Final = frozenset(("GET", "HEAD"))

HEADERS: Final = {
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
        "media-src 'self'; connect-src 'self'; base-uri 'none'; form-action 'none'; "
        "frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=()",
}


@dataclass(frozen=True, slots=True)
class Access:
    """What the guard checks requests against.

    Attributes
    ----------
    hosts
        Names and addresses, without port, that the ``Host`` header may hold.
    any_address
        Accept every literal address as host too, for a desk that listens on all of them.
    token
        What a browser must bring; None on the loopback address, where nobody else can call.
    """

    hosts: frozenset[str]
    any_address: bool = False
    token: str | None = field(default=None, repr=False)


def is_loopback(host: str) -> bool:
    """Whether only this machine can reach a listening address."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


class Guard:
    """ASGI middleware that refuses what `Access` does not allow and hardens every answer."""

    def __init__(self, app: ASGIApp, access: Access) -> None:
        self._app = app
        self._access = access

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Check one request and pass it on."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return

        async def hardened(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
                headers.setdefault("cache-control", "no-store")
            await send(message)

        refusal = self._refusal(scope)
        if refusal is not None:
            await refusal(scope, receive, hardened)
            return
        await self._app(scope, receive, hardened)

    def _refusal(self, scope: Scope) -> Response | None:
        headers = Headers(scope=scope)
        hosts = headers.getlist("host")
        if len(hosts) != 1 or not self._known_host(hosts[0]):
            return PlainTextResponse("This desk is not known by that name.", 421)
        method = scope["method"]
        if method not in SAFE_METHODS and method != "POST":
            return PlainTextResponse("Method not allowed.", 405, {"allow": "GET, HEAD, POST"})
        if method == "POST":
            refusal = _write_refusal(headers, hosts[0])
            if refusal is not None:
                return refusal
        return self._token_refusal(scope, headers)

    def _known_host(self, host: str) -> bool:
        name = _split(f"//{host}").hostname if _is_host(host) else None
        if name is None:
            return False
        if name in self._access.hosts:
            return True
        if not self._access.any_address:
            return False
        try:
            ipaddress.ip_address(name)
        except ValueError:
            return False
        return True

    def _token_refusal(self, scope: Scope, headers: Headers) -> Response | None:
        token = self._access.token
        if token is None:
            return None
        if _same(_cookie(headers), token):
            return None
        query = parse_qsl(scope["query_string"].decode("latin-1"), keep_blank_values=True)
        given = next((value for name, value in query if name == "token"), "")
        if scope["method"] == "GET" and _same(given, token):
            rest = urlencode([(name, value) for name, value in query if name != "token"])
            # The path alone, with one slash in front, so that no address of another site fits.
            place = "/" + scope["path"].lstrip("/\\") + (f"?{rest}" if rest else "")
            answer = RedirectResponse(place, 303)
            answer.set_cookie(COOKIE, token, httponly=True, samesite="strict")
            return answer
        return PlainTextResponse(
            "This desk asks for its token: open the address that it printed when it started.", 401
        )


def _write_refusal(headers: Headers, host: str) -> Response | None:
    origin = headers.get("origin")
    if origin is None or _split(origin).netloc != host:
        return PlainTextResponse("Only the desk's own pages may write.", 403)
    if headers.get("content-type", "").split(";")[0].strip().lower() != "application/json":
        return PlainTextResponse("Only JSON is taken; there are no uploads.", 415)
    length = headers.get("content-length", "")
    if not (length.isascii() and length.isdigit()):
        return PlainTextResponse("The length of the body is missing.", 411)
    if len(length) > _MOST_DIGITS or int(length) > MOST_BODY_BYTES:
        return PlainTextResponse("The body is too long.", 413)
    return None


def _split(address: str) -> SplitResult:
    """Take an address apart; one that is none, such as ``http://[``, has no parts."""
    try:
        return urlsplit(address)
    except ValueError:
        return SplitResult("", "", "", "", "")


def _is_host(host: str) -> bool:
    return bool(host) and not any(sign in host for sign in "/\\@?# \t")


def _cookie(headers: Headers) -> str:
    jar: SimpleCookie = SimpleCookie()
    try:
        jar.load(headers.get("cookie", ""))
    except CookieError:
        return ""
    return jar[COOKIE].value if COOKIE in jar else ""


def _same(given: str, token: str) -> bool:
    return hmac.compare_digest(given.encode(), token.encode())


def allowed_hosts(host: str, extra: Iterable[str]) -> Access:
    """Derive what to accept from the listening address and the names given by hand."""
    names = {name.lower() for name in extra}
    if is_loopback(host):
        return Access(frozenset({"127.0.0.1", "localhost", "::1", host, *names}))
    everywhere = host in {"0.0.0.0", "::"}
    return Access(frozenset({host.lower(), "localhost", "127.0.0.1", *names}), everywhere)
