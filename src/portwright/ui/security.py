"""What the app lets in: its own addresses, its own pages, known devices, small uploads.

Every request and every socket passes here before any screen sees it.
"""

from __future__ import annotations

import ipaddress
import re
import secrets
import socket
import time
from collections.abc import Callable
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import cookie_parser
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from portwright.services.users import Role, Who, acting
from portwright.ui import links
from portwright.ui.theme import ADDRESS

SESSION_COOKIE = "pw_session"
LARGEST_UPLOAD = 25 * 1024 * 1024  # [bytes]
LARGEST_SCAN = 200 * 1024 * 1024  # two million triangles; written to the disk as they come [bytes]
_RECHECK = 5.0  # how long an open socket may outlive its session, plus one heartbeat [s]
_SAFE = {"GET", "HEAD", "OPTIONS"}
_OPEN = (links.LOGIN, links.GUEST, links.API, ADDRESS, "/favicon.ico")


def host_name(header: str) -> str:
    """Host of a Host header or address without its port, lower case, "" when malformed."""
    try:
        return urlsplit(f"//{header}").hostname or ""
    except ValueError:
        return ""


def allowed_host(name: str, *, lan: bool) -> bool:
    """Whether the app answers under this name.

    A foreign name that points here is how a web site would reach into the shop, so names are
    refused and addresses accepted: a browser shows an address only where a person typed one.
    """
    if name == "localhost":
        return True
    try:
        address = ipaddress.ip_address(name)
    except ValueError:
        own = socket.gethostname().lower()
        return lan and bool(own) and name in {own, f"{own}.local"}
    if address.is_loopback:
        return True
    return lan and (address.is_private or address.is_link_local)


def content_policy(nonce: str) -> str:
    """Policy under which a page runs: nothing from elsewhere, no frames, no foreign forms.

    The interface compiles its templates in the browser, which is what ``unsafe-eval`` is for;
    scripts in the page must carry the nonce, so text that slips into a page cannot run.
    """
    return (
        f"default-src 'self'; script-src 'self' 'nonce-{nonce}' 'unsafe-eval'; "
        "style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; font-src 'self' data:; "
        "connect-src 'self'; object-src 'none'; base-uri 'none'; form-action 'self'; "
        "frame-ancestors 'none'"
    )


class Guard:
    """Outermost layer of the app.

    Parameters
    ----------
    app : ASGIApp
    lan : bool
        Other devices may connect, after log-in.
    session_who : callable
        Who a session token belongs to at a device now, None where it is not valid.
    """

    def __init__(
        self, app: ASGIApp, *, lan: bool, session_who: Callable[[str, str], Who | None]
    ) -> None:
        self._app = app
        self._lan = lan
        self._session_who = session_who

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse or pass on one request or socket."""
        if scope["type"] not in {"http", "websocket"}:
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        refusal = self._refusal(scope, headers)
        with acting(self._who(scope, headers) or Who(role=Role.GUEST)):
            await self._pass_on(scope, headers, refusal, receive, send)

    def _who(self, scope: Scope, headers: Headers) -> Who | None:
        """Whoever this comes from; everything done for it carries that name."""
        if not self._lan:
            return Who()
        client = scope.get("client")
        return self._session_who(_token(headers), client[0] if client else "")

    async def _pass_on(
        self,
        scope: Scope,
        headers: Headers,
        refusal: Response | None,
        receive: Receive,
        send: Send,
    ) -> None:
        if scope["type"] == "websocket":
            if refusal is not None:
                await send({"type": "websocket.close", "code": 1008})
            else:
                await self._app(scope, self._watched(headers, receive), send)
            return
        nonce = secrets.token_urlsafe(16)
        guarded = _HeaderSender(send, nonce, path=scope["path"])
        if refusal is not None:
            await refusal(scope, receive, guarded)
        else:
            await self._app(scope, _Limited(receive, _largest(str(scope["path"]))), guarded)

    def _refusal(self, scope: Scope, headers: Headers) -> Response | None:
        if not allowed_host(host_name(headers.get("host", "")), lan=self._lan):
            return PlainTextResponse("Portwright does not answer under this name.", 421)
        if not _same_origin(scope, headers):
            return PlainTextResponse("This request came from another site.", 403)
        length = headers.get("content-length", "0")
        most = _largest(str(scope["path"]))
        if not length.isdecimal() or int(length) > most:
            return PlainTextResponse(f"That is larger than {most // 1024**2} MB.", 413)
        return self._log_in_first(scope, headers) if self._lan else None

    def _watched(self, headers: Headers, receive: Receive) -> Receive:
        """Receiver that ends a socket soon after its session ended or its person's role changed.

        The page connects again by itself, as whoever the person is by then.
        """
        if not self._lan:
            return receive
        token, checked = _token(headers), time.monotonic()
        began_as = self._session_who(token, "")

        async def next_message() -> Message:
            nonlocal checked
            message = await receive()
            if time.monotonic() - checked > _RECHECK:
                checked = time.monotonic()
                now = self._session_who(token, "")
                if now is None or now != began_as:
                    return {"type": "websocket.disconnect", "code": 1008}
            return message

        return next_message

    def _log_in_first(self, scope: Scope, headers: Headers) -> Response | None:
        path = str(scope["path"])
        if any(path == o or path.startswith(o + "/") for o in _OPEN):
            return None
        if self._session_who(_token(headers), "") is not None:
            return None
        wants_page = scope["type"] == "http" and scope["method"] == "GET"
        if wants_page and "text/html" in headers.get("accept", ""):
            return RedirectResponse(links.LOGIN, 303)
        return PlainTextResponse("Log in first.", 401)


def _largest(path: str) -> int:
    """Most bytes a request may bring. [bytes]"""
    return LARGEST_SCAN if path == links.SCAN_FILE else LARGEST_UPLOAD


def _token(headers: Headers) -> str:
    return cookie_parser(headers.get("cookie", "")).get(SESSION_COOKIE, "")


def _same_origin(scope: Scope, headers: Headers) -> bool:
    """Whether a request that can change something, or a socket, comes from our own page."""
    origin = headers.get("origin")
    if origin is not None:
        return urlsplit(origin).netloc.lower() == headers.get("host", "").lower()
    if scope["type"] == "websocket":
        return False
    if scope["method"] in _SAFE:
        return True
    if scope["path"].startswith(links.API + "/") and "authorization" in headers:
        return True  # no browser sends a token by itself
    return headers.get("sec-fetch-site") == "same-origin"


class _Limited:
    """Counts a body as it comes in, whatever length it claimed."""

    def __init__(self, receive: Receive, most: int) -> None:
        self._receive = receive
        self._most = most
        self._seen = 0

    async def __call__(self) -> Message:
        message = await self._receive()
        self._seen += len(message.get("body", b""))
        if self._seen > self._most:
            return {"type": "http.disconnect"}
        return message


class _HeaderSender:
    """Adds the security headers, and the nonce to the scripts of a page."""

    def __init__(self, send: Send, nonce: str, path: str) -> None:
        self._send = send
        self._nonce = nonce
        self._path = path
        self._start: Message | None = None
        self._body = b""

    async def __call__(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(raw=message["headers"])
            self._add(headers)
            if headers.get("content-type", "").startswith("text/html"):
                self._start = message
                return
        elif message["type"] == "http.response.body" and self._start is not None:
            self._body += message.get("body", b"")
            if message.get("more_body"):
                return
            await self._send_page()
            return
        await self._send(message)

    def _add(self, headers: MutableHeaders) -> None:
        headers["Content-Security-Policy"] = content_policy(self._nonce)
        headers["X-Content-Type-Options"] = "nosniff"
        headers["X-Frame-Options"] = "DENY"
        headers["Referrer-Policy"] = "same-origin"  # no-referrer would blank our own Origin too
        headers["Cross-Origin-Opener-Policy"] = "same-origin"
        headers["Cross-Origin-Resource-Policy"] = "same-origin"
        headers["Permissions-Policy"] = "camera=(self), geolocation=(), microphone=()"
        if "cache-control" not in headers:
            headers["Cache-Control"] = "no-store"

    async def _send_page(self) -> None:
        start = self._start
        if start is None:  # pragma: no cover - only called with a page at hand
            return
        nonce = f'<script nonce="{self._nonce}"'.encode()
        body = re.sub(rb"<script(?=[\s>])", nonce, self._body)
        MutableHeaders(raw=start["headers"])["content-length"] = str(len(body))
        await self._send(start)
        await self._send({"type": "http.response.body", "body": body})
