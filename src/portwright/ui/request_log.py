"""Notes requests that took long or failed, by the pattern of their address."""

from __future__ import annotations

import time

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from portwright.services.shop_log import Event, note

SLOW = 2.0  # [s]


class RequestLog:
    """Layer of the app that measures each request.

    Parameters
    ----------
    app : ASGIApp
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass one request on and note it where somebody might ask about it later."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        status, begun = 0, time.monotonic()

        async def sending(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = int(message["status"])
            await send(message)

        try:
            await self._app(scope, receive, sending)
        finally:
            seconds = time.monotonic() - begun
            # the pattern, never the address itself: that has numbers of jobs in it
            place = str(getattr(scope.get("route"), "path", ""))
            if status >= 500 or status == 0:
                note(Event.FAILED_REQUEST, place=place, status=status, seconds=seconds)
            elif seconds > SLOW:
                note(Event.SLOW_REQUEST, place=place, status=status, seconds=seconds)
