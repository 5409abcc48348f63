"""Log-in for devices of the network, with the shop passphrase."""

from __future__ import annotations

import asyncio
import math

from nicegui import app
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from portwright.services import passphrase, users
from portwright.services.shop_log import Event, note
from portwright.ui import links
from portwright.ui.plain_page import plain_page
from portwright.ui.security import SESSION_COOKIE
from portwright.ui.state import form_fits, form_token, open_shop, shop_file
from portwright.ui.work import in_thread

_attempts = passphrase.Attempts()
_one_at_a_time = asyncio.Lock()  # checking is costly on purpose; many at once would be a load


def _form(message: str = "", status: int = 200) -> HTMLResponse:
    notice = f'<p class="notice fault" role="alert">{message}</p>' if message else ""
    return plain_page(
        "Log in",
        f"""<h1>Portwright</h1>{notice}
<form class="sheet" method="post" action="{links.LOGIN}">
<input type="hidden" name="form" value="{form_token()}">
<div class="field"><label for="name">Your name, if you have a passphrase of your own</label>
<input id="name" name="name" autocomplete="username"></div>
<div class="field"><label for="phrase">Shop passphrase, or your own</label>
<input id="phrase" name="phrase" type="password" autocomplete="current-password" required
 autofocus></div><button class="act">Log in</button></form>""",
        status=status,
    )


@app.get(links.LOGIN, include_in_schema=False)
async def login_form() -> Response:
    """The form, or straight on where nobody needs to log in."""
    return _form() if open_shop().lan else RedirectResponse(links.HOME, 303)


@app.post(links.LOGIN, include_in_schema=False)
async def log_in(request: Request) -> Response:
    """Check the passphrase and open a session."""
    if not open_shop().lan:
        return RedirectResponse(links.HOME, 303)
    device = request.client.host if request.client else ""
    form = await request.form(max_files=0, max_fields=4)
    if not form_fits(str(form.get("form", ""))):
        return _form("The page was out of date. Please try again.", 403)
    async with _one_at_a_time:
        wait = _attempts.wait(device)
        if wait > 0.0:
            answer = _form(f"Too many attempts. Try again in {math.ceil(wait / 60.0)} min.", 429)
            answer.headers["Retry-After"] = str(math.ceil(wait))
            return answer
        name, phrase = (str(form.get(field, "")) for field in ("name", "phrase"))
        if not await in_thread(users.enters, shop_file(), name, phrase):
            _attempts.failed(device)
            note(Event.LOG_IN_REFUSED)
            return _form("That is not the passphrase.", 403)
    with users.acting(users.Who(name.strip(), device=device)):  # the door is the program's own work
        token = passphrase.open_session(shop_file(), user=name.strip(), device=device)
    note(Event.LOG_IN)
    entered = RedirectResponse(links.HOME, 303)
    entered.set_cookie(
        SESSION_COOKIE,
        token,
        max_age=int(passphrase.SESSION_HOURS * 3600),
        httponly=True,
        samesite="strict",
        secure=request.url.scheme == "https",
    )
    return entered


@app.post(links.LOGOUT, include_in_schema=False)
async def log_out(request: Request) -> Response:
    """End the session of this device."""
    form = await request.form(max_files=0, max_fields=4)
    if form_fits(str(form.get("form", ""))):
        with users.acting(users.Who()):  # everybody may leave
            passphrase.close_session(shop_file(), request.cookies.get(SESSION_COOKIE, ""))
        note(Event.LOG_OUT)
    answer = RedirectResponse(links.LOGIN, 303)
    answer.delete_cookie(SESSION_COOKIE)
    return answer
