"""The API as an application of its own, served under /api."""

from __future__ import annotations

import logging
import pathlib
from collections.abc import Awaitable, Callable
from html import escape
from typing import Annotated, Any

from fastapi import FastAPI, Path, Query, Request, Security
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse, JSONResponse
from fastapi.security import HTTPBearer
from starlette.exceptions import HTTPException
from starlette.responses import Response

from portwright import __version__
from portwright.errors import (
    ArchiveBusyError,
    ArchiveError,
    ConflictError,
    Finding,
    InputError,
    NotAllowedError,
    NotFoundError,
    PortwrightError,
    UnknownNameError,
)
from portwright.model.job import Job, Note
from portwright.model.quantity import AsTyped
from portwright.model.run import Reading
from portwright.services import health, machine_entry, passphrase, tokens, users
from portwright.services import jobs as job_service
from portwright.services.compare import compare_names
from portwright.services.findings import check_job
from portwright.services.shop_file import ShopFile
from portwright.services.shop_log import Event, note
from portwright.services.wording import sentence
from portwright.ui.api import shapes
from portwright.ui.components.slow_work import under_way

_log = logging.getLogger(__name__)
_OPEN = ("/openapi.json", "/docs")
_STATUS: tuple[tuple[type[PortwrightError], int], ...] = (
    (NotAllowedError, 403),
    (NotFoundError, 404),
    (UnknownNameError, 404),
    (ConflictError, 409),
    (InputError, 422),
    (ArchiveBusyError, 503),
    (ArchiveError, 500),
    (PortwrightError, 422),
)
_REFUSALS: dict[int | str, dict[str, Any]] = {
    status: {"model": shapes.Refusal, "description": text}
    for status, text in (
        (400, "The request cannot be understood."),
        (401, "No token, or one that does not work any more."),
        (403, "The token's scope does not allow it."),
        (404, "No such thing."),
        (409, "Somebody was first; nothing was overwritten."),
        (422, "A value is wrong."),
        (429, "Too many wrong tokens from this device."),
        (503, "The shop file is in use by another program."),
    )
}
JobNumber = Annotated[str, Path(max_length=120, pattern=r"^[^\x00-\x1f/]+$")]
RunCode = Annotated[str, Path(max_length=120, pattern=r"^[^\x00-\x1f/]+$")]


def _refused(status: int, code: str, message: str, hint: str = "") -> JSONResponse:
    return JSONResponse({"error": {"code": code, "message": message, "hint": hint}}, status)


def make_api(shop: ShopFile, place: pathlib.Path | None = None) -> FastAPI:
    """The API of an open shop file."""
    api = FastAPI(
        title="Portwright",
        version=__version__,
        summary="A porting shop's jobs, sweeps and results for its other programs",
        docs_url=None,
        redoc_url=None,
        responses=_REFUSALS,
        dependencies=[Security(HTTPBearer(auto_error=False, description="A token of the shop."))],
    )
    _guard(api, shop)
    _errors(api)
    _reading(api, shop, place or shop.path)
    _entering(api, shop)

    @api.get("/docs", include_in_schema=False)
    def docs() -> HTMLResponse:
        return HTMLResponse(page(api.openapi()))

    return api


def _guard(api: FastAPI, shop: ShopFile) -> None:
    attempts = passphrase.Attempts()

    @api.middleware("http")
    async def known(request: Request, go_on: Callable[[Request], Awaitable[Response]]) -> Response:
        path = request.scope["path"].removeprefix(request.scope.get("root_path", ""))
        if path in _OPEN:
            return await go_on(request)
        device = request.client.host if request.client else ""
        if attempts.wait(device) > 0.0:
            return _refused(429, "too-many", "Too many wrong tokens.", "Wait five minutes.")
        scheme, _, token = request.headers.get("authorization", "").partition(" ")
        who = tokens.who(shop, token.strip(), device) if scheme.lower() == "bearer" else None
        if who is None:
            if token:
                attempts.failed(device)
                note(Event.TOKEN_REFUSED)
            answer = _refused(
                401,
                "no-token",
                "This needs a token of the shop.",
                "Make one: portwright tokens add",
            )
            answer.headers["WWW-Authenticate"] = "Bearer"
            return answer
        with users.acting(who):
            return await go_on(request)


def _errors(api: FastAPI) -> None:
    @api.exception_handler(PortwrightError)
    def ours(_: Request, error: PortwrightError) -> JSONResponse:
        status = next(status for kind, status in _STATUS if isinstance(error, kind))
        return _refused(status, error.code, error.message, error.hint)

    @api.exception_handler(RequestValidationError)
    def wrong(_: Request, error: RequestValidationError) -> JSONResponse:
        first = error.errors()[0]
        place = " ".join(str(part) for part in first["loc"][1:])
        return _refused(422, "input", f"{place or 'The request'}: {first['msg']}.")

    @api.exception_handler(HTTPException)
    def plain(_: Request, error: HTTPException) -> JSONResponse:
        answer = _refused(error.status_code, "request", str(error.detail))
        answer.headers.update(error.headers or {})
        return answer

    @api.exception_handler(Exception)
    def unexpected(_: Request, error: Exception) -> JSONResponse:
        _log.error("unexpected error in the API", exc_info=error)
        return _refused(500, "error", "Something went wrong inside Portwright.")


def _value(value: AsTyped) -> shapes.ValueOut:
    return shapes.ValueOut(text=value.text, unit=value.unit, si=value.si)


def _reading_out(reading: Reading) -> shapes.ReadingOut:
    read = {name: getattr(reading, name) for name in machine_entry.CHANNELS}
    values = {name: _value(value) for name, value in read.items() if value is not None}
    return shapes.ReadingOut(lift=_value(reading.lift), values=values)


def _finding(finding: Finding) -> shapes.FindingOut:
    where = finding.where
    return shapes.FindingOut(
        code=finding.code,
        severity=finding.severity.value,
        run=where.run,
        port=where.port,
        stage=where.stage,
        message=finding.message,
        hint=finding.hint,
    )


def _reading(api: FastAPI, shop: ShopFile, place: pathlib.Path) -> None:
    """What any token may look at."""

    @api.get("/shop", summary="The shop's own facts")
    def facts() -> shapes.ShopOut:
        known = shop.shop()
        names = shapes.ShopOut.model_fields
        return shapes.ShopOut(**{n: str(getattr(known, n)) if known else "" for n in names})

    @api.get("/health", summary="Whether the records are sound, backed up, with room left")
    def state_of_health() -> shapes.HealthOut:
        found = health.look(shop, place, under_way())
        items = [
            shapes.HealthItemOut(name=one.name, state=one.state.value, facts=one.facts)
            for one in found.items
        ]
        return shapes.HealthOut(at=found.at, state=found.state.value, items=items)

    @api.get("/benches", summary="Flow benches")
    def benches() -> list[shapes.BenchOut]:
        return [shapes.BenchOut(code=b.code, name=b.name, kind=b.kind) for b in shop.benches()]

    @api.get("/jobs", summary="Jobs that contain every word, newest first")
    def jobs(
        words: Annotated[str, Query(max_length=200)] = "",
        limit: Annotated[int, Query(ge=1, le=1000)] = 100,
    ) -> list[shapes.JobLineOut]:
        names = ("number", "opened", "customer", "vehicle", "casting")
        return [
            shapes.JobLineOut(**{n: getattr(line.job, n) for n in names}, runs=line.runs)
            for line in shop.job_list(limit, words.split())
        ]

    @api.get("/jobs/{number}", summary="One job")
    def job(number: JobNumber) -> shapes.JobOut:
        found = shop.job(number)
        names = ("number", "opened", "customer", "vehicle", "casting", "goal")
        return shapes.JobOut(
            **{n: getattr(found.job, n) for n in names},
            ports=[shapes.PortOut(code=p.code, side=p.side.value) for p in found.ports],
            stages=[shapes.StageOut(code=s.code, note=s.note) for s in found.stages],
            runs=[
                shapes.RunLineOut(
                    code=r.code,
                    port=r.port,
                    stage=r.stage,
                    bench=r.bench,
                    repeat=r.repeat,
                    date=r.date,
                    readings=len(r.readings),
                    left_out=r.left_out,
                )
                for r in found.runs
            ],
        )

    @api.get("/jobs/{number}/runs/{code}", summary="One sweep with its readings")
    def run(number: JobNumber, code: RunCode) -> shapes.RunOut:
        found = shop.run(f"{number}/{code}")
        names = ("code", "job", "port", "stage", "bench", "date")
        readings = [_reading_out(r) for r in found.readings]
        return shapes.RunOut(**{n: getattr(found, n) for n in names}, readings=readings)

    @api.get("/jobs/{number}/findings", summary="What looks wrong, and what to check")
    def findings(number: JobNumber) -> list[shapes.FindingOut]:
        return [_finding(f) for f in check_job(shop, number).findings]

    @api.get("/jobs/{number}/compare", summary="What a change did, in a sentence")
    def compare(
        number: JobNumber,
        before: Annotated[str, Query(max_length=200)],
        after: Annotated[str, Query(max_length=200)],
    ) -> shapes.ComparisonOut:
        found = compare_names(shop, before, after, job=number)
        return shapes.ComparisonOut(
            sentence=sentence(found),
            before=before,
            after=after,
            findings=[_finding(f) for f in found.findings],
        )


def _entering(api: FastAPI, shop: ShopFile) -> None:
    """What needs the scope "enter" or "write"; the shop file itself refuses the others."""

    @api.post("/jobs", status_code=201, summary="Open a job; scope write")
    def new_job(job: shapes.JobIn) -> shapes.Done:
        shop.add_job(Job(**job.model_dump(), opened=job_service.today()))
        return shapes.Done()

    @api.post("/jobs/{number}/notes", status_code=201, summary="Add a remark; scope enter")
    def note(number: JobNumber, note: shapes.NoteIn) -> shapes.Done:
        shop.add_note(number, Note(note.text, job_service.today(), author=note.author))
        return shapes.Done()

    @api.post("/jobs/{number}/runs", status_code=201, summary="Begin a sweep; scope enter")
    def begin(number: JobNumber, run: shapes.RunIn) -> shapes.RunBegun:
        begun = machine_entry.begin_run(shop, number, run.port, run.stage, run.bench)
        return shapes.RunBegun(code=begun.code)

    @api.post(
        "/jobs/{number}/runs/{code}/readings",
        status_code=201,
        summary="Store a reading; scope enter. Sent twice, it is stored once",
    )
    def reading(
        number: JobNumber, code: RunCode, reading: shapes.ReadingIn
    ) -> shapes.ReadingStored:
        given = reading.model_dump(exclude_none=True)
        stored = machine_entry.add_reading(shop, number, code, given.pop("lift"), given)
        return shapes.ReadingStored(id=stored.id, position=stored.position)


def page(description: dict[str, Any]) -> str:
    """The description as a plain page, which needs nothing from elsewhere."""
    parts = []
    for path, operations in description["paths"].items():
        for method, operation in operations.items():
            body = operation.get("requestBody", {}).get("content", {}).get("application/json", {})
            takes = body.get("schema", {}).get("$ref", "").rpartition("/")[2]
            parts.append(
                f"<h2><code>{method.upper()} /api{escape(path)}</code></h2>"
                f"<p>{escape(operation.get('summary', ''))}</p>"
                + (f"<p>Takes <a href='#{takes}'>{takes}</a>.</p>" if takes else "")
            )
    parts.append("<h1>What goes in and out</h1>")
    for name, shape in description["components"]["schemas"].items():
        rows = "".join(
            f"<tr><td><code>{escape(field)}</code></td>"
            f"<td>{'needed' if field in shape.get('required', ()) else ''}</td></tr>"
            for field in shape.get("properties", {})
        )
        parts.append(
            f"<h2 id='{name}'>{name}</h2><p>{escape(shape.get('description', ''))}</p>"
            f"<table>{rows}</table>"
        )
    return (
        "<!doctype html><html lang='en-GB'><head><meta charset='utf-8'><title>Portwright API"
        "</title></head><body><h1>Portwright API</h1><p>Each request carries a token: "
        "<code>Authorization: Bearer TOKEN</code>. The full description is in "
        "<a href='openapi.json'>openapi.json</a> (OpenAPI 3.1).</p>" + "".join(parts)
    ) + "</body></html>"
