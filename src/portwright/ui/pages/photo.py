"""Photos in and out over plain HTTP."""

from __future__ import annotations

from functools import partial

from nicegui import app
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from portwright.errors import PortwrightError
from portwright.services.photos import keep_photo, thumbnail
from portwright.ui import links
from portwright.ui.state import form_fits, shop_file
from portwright.ui.work import in_thread

# First bytes of what a browser may be given as a picture.
_MAGIC = ((b"\xff\xd8\xff", "image/jpeg"), (b"\x89PNG\r\n\x1a\n", "image/png"))


def picture_type(data: bytes) -> str:
    """Media type by content, "" for anything that is not a picture we keep."""
    return next((kind for magic, kind in _MAGIC if data.startswith(magic)), "")


@app.post(links.PHOTO, include_in_schema=False)
async def store_photo(
    request: Request,
    job: str,
    name: str = "",
    subject: str = "",
    stage: str = "",
    caption: str = "",
) -> Response:
    """Keep one photo with a job."""
    if not form_fits(request.headers.get("x-portwright-form", "")):
        return PlainTextResponse("the page is out of date; reload it.", 403)
    data = await request.body()
    if not picture_type(data):
        return PlainTextResponse("it is not a picture this file keeps: JPEG or PNG.", 415)
    try:
        await in_thread(
            keep_photo, shop_file(), job, data, name, subject=subject, stage=stage, caption=caption
        )
    except PortwrightError as error:
        return PlainTextResponse(str(error), 422)
    return PlainTextResponse("saved", 201)


@app.get(links.PHOTO + "/{photo:int}", include_in_schema=False)
async def show_photo(photo: int, small: str = "") -> Response:
    """Give one photo, or a small picture of it; it never changes, so the browser may keep it."""
    read = partial(thumbnail, shop_file()) if small else shop_file().attachment_data
    try:
        data = await in_thread(read, photo)
    except PortwrightError as error:
        return PlainTextResponse(str(error), 404)
    kind = picture_type(data)
    if not kind:
        return PlainTextResponse("Not a picture.", 415)
    return Response(
        data, media_type=kind, headers={"Cache-Control": "private, max-age=31536000, immutable"}
    )
