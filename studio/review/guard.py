"""Who may speak to the desk: this computer's own browser, once it was given the token.

The page is bound to 127.0.0.1, but every page that the coach has open can send requests there, and
every program on the computer can connect. So: the Host must be ours (no DNS rebinding), a request
from another origin is refused, and all but the first visit need a cookie that only that visit gets.
"""

from __future__ import annotations

import secrets
from http.cookies import CookieError, SimpleCookie

from starlette.datastructures import Headers, QueryParams
from starlette.exceptions import HTTPException
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

MAX_BODY = 256 << 10
"""Bytes; the longest summary a person types is far smaller."""
TOO_MUCH = "That is too much for one edit."
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "media-src 'self'; connect-src 'self'; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'"
)
"""No request can leave for another host, whatever the page comes to hold."""
OUT_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src 'self' data:; "
    "media-src 'self' data:; sandbox allow-same-origin"
)
"""For the deliverables (the report carries its own style): no script, no request, no form."""
HEADERS = {
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
}


class Guard:
    """Middleware around the whole desk.

    Args:
        app: The desk.
        port: The one it listens on.
    """

    def __init__(self, app: ASGIApp, port: int) -> None:
        self._app = app
        self._hosts = {f"127.0.0.1:{port}", f"localhost:{port}"}
        self._cookie = f"desk-{port}"
        self._session = secrets.token_urlsafe(32)
        self.token: str | None = secrets.token_urlsafe(32)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let through, or refuse with one plain line."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        refusal = self._refusal(scope, headers)
        if refusal is not None:
            await refusal(scope, receive, send)
            return

        async def sending(message: Message) -> None:
            if message["type"] == "http.response.start":
                _harden(scope, message)
            await send(message)

        await self._app(scope, _limited(receive), sending)

    def _refusal(self, scope: Scope, headers: Headers) -> Response | None:
        host = headers.get("host", "")
        if host not in self._hosts:
            return _no(421, "This desk answers to its own address only.")
        origin = headers.get("origin")
        writes = scope["method"] not in ("GET", "HEAD")
        if (writes or origin is not None) and origin != f"http://{host}":
            return _no(403, "A request from another page is refused.")
        if headers.get("sec-fetch-site", "none") not in ("none", "same-origin"):
            return _no(403, "A request from another page is refused.")
        length = headers.get("content-length", "0")
        if not length.isdigit() or int(length) > MAX_BODY:
            return _no(413, TOO_MUCH)
        return self._let_in(scope, headers)

    def _let_in(self, scope: Scope, headers: Headers) -> Response | None:
        known = secrets.compare_digest(_cookie(headers, self._cookie), self._session)
        given = QueryParams(scope["query_string"]).get("token", "")
        if scope["path"] == "/" and given:
            if self.token is not None and secrets.compare_digest(
                given.encode(), self.token.encode()
            ):
                self.token = None
                home = RedirectResponse("/", 303, {"cache-control": "no-store"})
                home.set_cookie(self._cookie, self._session, httponly=True, samesite="strict")
                return home
            if known:
                return RedirectResponse("/", 303, {"cache-control": "no-store"})
        if known:
            return None
        return _no(403, "This link was used already, or is not the desk's. Close the desk and run "
                        "launchside review again for a new one.")  # fmt: skip


def _cookie(headers: Headers, name: str) -> str:
    try:
        found = SimpleCookie(headers.get("cookie", "")).get(name)
    except CookieError:
        return ""
    return found.value if found is not None and found.value.isascii() else ""


def _no(status: int, text: str) -> Response:
    return PlainTextResponse(text + "\n", status, HEADERS | {"cache-control": "no-store"})


def _limited(receive: Receive) -> Receive:
    seen = 0

    async def receiving() -> Message:
        nonlocal seen
        message = await receive()
        seen += len(message.get("body", b""))
        if seen > MAX_BODY:
            raise HTTPException(413, TOO_MUCH)
        return message

    return receiving


def _harden(scope: Scope, message: Message) -> None:
    headers = {k.lower() for k, _ in message["headers"]}
    wanted = dict(HEADERS)
    outside = scope["path"].startswith("/out/")
    wanted["content-security-policy"] = OUT_POLICY if outside else POLICY
    if b"cache-control" not in headers:
        wanted["cache-control"] = "no-cache"
    message["headers"] = [
        *message["headers"], *((k.encode(), v.encode()) for k, v in wanted.items())
    ]  # fmt: skip
