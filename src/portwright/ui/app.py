"""The shop app: one shop file, served to the browsers of the shop."""

from __future__ import annotations

import contextlib
import gc
import importlib
import logging
import pkgutil
import socket
import sys
from collections.abc import Callable
from pathlib import Path

from fastapi.exception_handlers import (
    http_exception_handler,
    request_validation_exception_handler,
)
from fastapi.exceptions import RequestValidationError
from nicegui import app, background_tasks, core, ui
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.types import ASGIApp

from portwright.errors import InputError, PortwrightError
from portwright.services import guarded, passphrase, shop_file, shop_log, users
from portwright.services.shop_file import ShopFile
from portwright.ui import links, pages, theme
from portwright.ui.api.service import make_api
from portwright.ui.backup_watch import watch
from portwright.ui.layout import error_page
from portwright.ui.plain_page import plain_page
from portwright.ui.request_log import RequestLog
from portwright.ui.security import Guard
from portwright.ui.state import OpenShop

_FAVICON = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 24 24"><rect width="24" height="24" '
    'rx="4" fill="#16437e"/><path d="M12 4v9M6.5 18c2 0 3.5-2 5.5-4 2 2 3.5 4 5.5 4M5 18h14" '
    'fill="none" stroke="#fff" stroke-width="2"/></svg>'
)
_HEARTBEAT = 3.0  # a tablet that lost its network says so within twice this time [s]
_SWITCH = 0.0005  # how long a computing thread may hold up one that answers a tablet [s]


def create_app(
    shop: ShopFile, *, lan: bool = False, port: int = 8080, place: Path | None = None
) -> None:
    """Make the app for an open shop file; the screens register themselves.

    Parameters
    ----------
    shop : ShopFile
    lan : bool
        Let other devices in after log-in with the shop passphrase.
    port : int
        Shown in addresses for other devices.
    place : Path, optional
        What was opened, where it is not a file: the address of a database.

    Raises
    ------
    InputError
        ``lan`` without a passphrase in the shop file.
    """
    if lan and not passphrase.is_set(shop):
        raise InputError(
            "Other devices are let in only with a shop passphrase, and none is set.",
            "Set one on the Shop screen, or start with --set-passphrase.",
        )
    app.state.portwright = OpenShop(shop, lan, port, place or shop.path)
    theme.install()
    for module in pkgutil.iter_modules(pages.__path__):
        importlib.import_module(f"{pages.__name__}.{module.name}")
    app.add_middleware(
        Guard, lan=lan, session_who=lambda token, device: users.at_session(shop, token, device)
    )
    app.add_middleware(RequestLog)
    app.mount(links.API, make_api(shop, place))
    app.on_page_exception(error_page)
    app.exception_handler(RequestValidationError)(_incomplete_address)
    app.exception_handler(404)(_no_such_address)
    app.on_startup(_answer_quickly)
    app.on_startup(lambda: background_tasks.create(watch(shop), name="backups") and None)
    logging.getLogger("nicegui").addFilter(_Unexpected())


async def _incomplete_address(request: Request, error: RequestValidationError) -> Response:
    """An address that lacks a part, as a sentence; programs get what is wrong field by field."""
    if not _read_by_a_person(request):
        return await request_validation_exception_handler(request, error)
    return _sorry(
        "This address is not complete",
        "It does not say what to show, or says it in a way that cannot be read.",
        422,
    )


async def _no_such_address(request: Request, error: HTTPException) -> Response:
    """An address nothing lies at, with the way back."""
    if not _read_by_a_person(request):
        return await http_exception_handler(request, error)
    return _sorry(
        "Nothing is at this address",
        "It may be mistyped, or from another version of the program.",
        404,
    )


def _read_by_a_person(request: Request) -> bool:
    return "text/html" in request.headers.get("accept", "")


def _sorry(title: str, why: str, status: int) -> Response:
    body = (
        f'<section class="sheet"><h1>{title}</h1><p>{why}</p>'
        f'<p><a class="act main" href="{links.JOBS}">All jobs</a></p></section>'
    )
    return plain_page(title, body, status=status)


class _Unexpected(logging.Filter):
    """Lets errors pass that nobody told the person about; the others were shown on the page."""

    def filter(self, record: logging.LogRecord) -> bool:
        return not (record.exc_info and isinstance(record.exc_info[1], PortwrightError))


def _answer_quickly() -> None:
    """Settings of the running program that keep a reading at the bench from waiting."""
    core.sio.eio.ping_interval = _HEARTBEAT
    core.sio.eio.ping_timeout = _HEARTBEAT
    sys.setswitchinterval(_SWITCH)
    gc.collect()
    gc.freeze()  # what was loaded stays: looking through it again and again stops every tablet


def _refuse_taken_port(port: int) -> None:
    with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), timeout=1.0):
        raise InputError(
            f"Something answers at port {port} already; it may be Portwright itself.",
            f"Look at http://127.0.0.1:{port}, or start with --port {port + 1}.",
        )


def _packed(inner: ASGIApp) -> GZipMiddleware:
    return GZipMiddleware(inner, compresslevel=4)


def run_app(
    shop_path: Path | None = None,
    *,
    port: int = 8080,
    lan: bool = False,
    open_browser: bool = True,
    when_up: Callable[[], None] | None = None,
) -> None:
    """Open or make the shop file and serve it until stopped.

    Parameters
    ----------
    shop_path : Path, optional
        The default shop file when left out.
    port : int
    lan : bool
        Listen on the network instead of this computer only.
    open_browser : bool
    when_up : callable, optional
        Called once, when the browsers can come.

    Raises
    ------
    InputError
        Something answers at that port already, or ``lan`` without a passphrase.
    """
    _refuse_taken_port(port)
    place = shop_path or shop_file.default_path()
    shop = shop_file.open_or_create(place)
    kept = shop_log.begin(place)
    shop_log.note(shop_log.Event.STARTED, lan=lan, on_server=shop.on_server)
    guarded.switch_on()
    try:
        create_app(shop, lan=lan, port=port, place=place)
        if when_up is not None:
            app.on_startup(when_up)
        ui.run(
            host="0.0.0.0" if lan else "127.0.0.1",  # noqa: S104 - only with a passphrase
            port=port,
            title="Portwright",
            favicon=_FAVICON,
            language="en-GB",
            dark=False,
            reload=False,
            show=open_browser,
            tailwind=False,
            reconnect_timeout=30.0,
            show_welcome_message=False,
            proxy_headers=False,
            server_header=False,
            # on this computer packing costs more than it saves; over the air it is worth a little
            gzip_middleware_factory=_packed if lan else None,
        )
    finally:
        guarded.switch_off()
        shop_log.note(shop_log.Event.STOPPED)
        shop_log.end(kept)
        shop.close()
