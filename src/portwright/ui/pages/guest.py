"""What a customer sees: the result of one job, read-only, without a socket."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from html import escape

from nicegui import app
from starlette.responses import HTMLResponse

from portwright.errors import InputError, PortwrightError
from portwright.services import passphrase
from portwright.services.clearances import usual_checks
from portwright.services.display import Display
from portwright.services.overview import StageStory, stage_story
from portwright.services.report import report_html
from portwright.services.shop_file import ShopFile
from portwright.ui import links
from portwright.ui.components.result_chart import result_spec
from portwright.ui.plain_page import plain_page
from portwright.ui.state import shop_file
from portwright.ui.theme import asset
from portwright.ui.work import in_thread

_KEPT_FOR = 60.0  # a page asked for again and again is worked out once a minute [s]
_kept: dict[tuple[str, str], tuple[float, tuple[str, str]]] = {}  # by page and job


@app.get(links.GUEST + "/{token}", include_in_schema=False)
async def guest(token: str) -> HTMLResponse:
    """Result page of the job a link was made for."""
    shop = shop_file()
    try:
        job = await in_thread(passphrase.guest_job, shop, token)
        body, scripts = await in_thread(_result, shop, job)
        whole = f"{links.GUEST}/{escape(token)}/report"
        body += f'<p><a class="act" href="{whole}">The whole report</a></p>'
    except PortwrightError as error:
        words = f"<h1>{escape(error.message)}</h1><p>{escape(error.hint)}</p>"
        return plain_page("Not found", words, status=404)
    return plain_page("Result", body, scripts=scripts)


@app.get(links.GUEST + "/{token}/report", include_in_schema=False)
async def guest_report(token: str) -> HTMLResponse:
    """The customer's report of the job a link was made for."""
    shop = shop_file()
    try:
        job = await in_thread(passphrase.guest_job, shop, token)
        body = await in_thread(_report, shop, job)
    except PortwrightError as error:
        words = f"<h1>{escape(error.message)}</h1><p>{escape(error.hint)}</p>"
        return plain_page("Not found", words, status=404)
    return plain_page("Report", body)


def _report(shop: ShopFile, job: str) -> str:
    return _lately(("report", job), lambda: (report_html(shop, job), ""))[0]


def _result(shop: ShopFile, job: str) -> tuple[str, str]:
    return _lately(("result", job), lambda: _work_out(shop, job))


def _lately(key: tuple[str, str], work_out: Callable[[], tuple[str, str]]) -> tuple[str, str]:
    if (found := _kept.get(key)) and time.monotonic() - found[0] < _KEPT_FOR:
        return found[1]
    page = work_out()
    _kept[key] = (time.monotonic(), page)
    return page


def _work_out(shop: ShopFile, job: str) -> tuple[str, str]:
    contents = shop.job(job)
    facts = shop.shop()
    shop_name = facts.name if facts and facts.name else "Portwright"
    parts = [f"<h1>{escape(contents.job.vehicle or job)}</h1>"]
    said = " · ".join(t for t in (shop_name, f"job {job}", contents.job.casting) if t)
    parts.append(f'<p class="soft">{escape(said)}</p>')
    scripts = ""
    try:
        story = stage_story(shop, job)
    except InputError as error:
        parts.append(_sheet("Flow", f"<p>{escape(error.message)}</p>"))
    else:
        parts += _story(story)
        if story.whole is not None:
            display = Display.of(facts)
            spec = result_spec(story.whole.comparison, display, story.whole.sentence)
            parts.insert(2, _chart(spec["summary"], spec["footer"]))
            text = json.dumps(spec).replace("<", "\\u003c")
            scripts = (
                f'<script type="application/json" id="spec">{text}</script>'
                f'<script src="{asset("draw_chart.js")}"></script>'
                f'<script src="{asset("guest.js")}"></script>'
            )
    checks = usual_checks(contents)
    missing = "".join(f"<li>{escape(check.name)}</li>" for check in checks if not check.done)
    if missing:
        parts.append(
            f'<section class="notice fault"><h2>Not checked yet</h2><ul>{missing}</ul></section>'
        )
    measured = "".join(
        f"<dt>{escape(check.name)}</dt><dd>{escape(check.words)}</dd>"
        for check in checks
        if check.found is not None
    )
    if measured:
        words = '<p class="small soft">To be checked again by whoever assembles the engine.</p>'
        parts.append(_sheet("Clearances on record", f'{words}<dl class="facts">{measured}</dl>'))
    return "".join(parts), scripts


def _sheet(title: str, inner: str) -> str:
    return f'<section class="sheet"><h2>{escape(title)}</h2>{inner}</section>'


def _chart(summary: str, footer: str) -> str:
    return _sheet(
        "Before and after",
        f'<p class="strong">{escape(summary)}</p>'
        f'<div id="chart" role="img" aria-label="{escape(summary)}"></div>'
        f'<p class="small soft">{escape(footer)}</p>',
    )


def _story(story: StageStory) -> list[str]:
    rows = "".join(
        f"<li><h3>{escape(f'{step.after} {step.change}')}</h3><p>{escape(step.sentence)}</p></li>"
        for step in story.steps
    )
    return [_sheet(f"What was done, port {story.port}", f'<ol class="stack steps">{rows}</ol>')]
