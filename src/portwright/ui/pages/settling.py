"""How a sweep settled: the trace under another rule, on another bench, and up against down."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TypeVar

from nicegui import ui

from portwright import units
from portwright.errors import PortwrightError
from portwright.services import live_trace, replay, settle_rules, up_down
from portwright.services.replay import SideBySide, TwoBenches
from portwright.services.up_down import Gap
from portwright.ui import links
from portwright.ui.components.field import Field
from portwright.ui.components.live_mode import store_heard
from portwright.ui.errors import error_words
from portwright.ui.layout import button, heading, link_button, page_frame, screen, table
from portwright.ui.state import View, shop_file
from portwright.ui.work import in_thread
from portwright.units import Kind

T = TypeVar("T")
_HEADINGS = ("Stored", "waited s", "By the rule", "waited s", "Change", "known to ±", "")


@screen(links.SETTLING)
async def settling(run: str = "", rule: str = "strict-1", against: str = "") -> None:
    """One run; everything else is asked beside it."""
    shop = shop_file()
    found = await in_thread(shop.run, run)
    await in_thread(store_heard, shop, run)
    others = await in_thread(_with_trace, found.job, found.port, found.bench)
    with page_frame(f"How {run} settled", "bench") as view, ui.element("div").classes("stack"):
        with ui.element("section").classes("sheet"):
            with ui.element("div").classes("fields"):
                box = Field("Another settle rule", rule, options=settle_rules.rule_names())
                bench = Field(
                    "The same port on another bench",
                    against,
                    kind="choice",
                    options={"": "not asked"} | others,
                )
            with ui.element("div").classes("row-wrap"):
                button(
                    "Show it",
                    lambda: ui.navigate.to(links.settling(run, box.value, bench.value)),
                    "main",
                )
                back = links.bench(found.job, found.port, found.stage, run)
                link_button("Back to the sweep", back)
        chosen = settle_rules.read_rule(rule)
        await _try(lambda: replay.side_by_side(shop, run, chosen), lambda made: _rows(made, view))
        if against:
            await _try(
                lambda: replay.two_benches(shop, run, against, chosen),
                lambda made: _benches(made, view),
            )
        partner = await in_thread(up_down.partner, shop, found)
        if partner is not None:
            gaps = await in_thread(up_down.gaps, shop, found, partner)
            _both_ways(gaps, partner.code, view)


async def _try(work: Callable[[], T], show: Callable[[T], object]) -> None:
    try:
        made = await in_thread(work)
    except PortwrightError as error:
        message, hint = error_words(error)
        with ui.element("div").classes("notice ask"):
            ui.label(message).classes("kind")
            ui.label(hint)
        return
    show(made)


def _with_trace(job: str, port: str, bench: str) -> dict[str, str]:
    """Sweeps of this port on other benches that have a trace, code to words."""
    shop = shop_file()
    traced = set(live_trace.runs_with_trace(shop, job))
    return {
        r.code: f"{r.code}, {r.bench}, {r.stage}, {r.date}"
        for r in shop.job(job).runs
        if r.code in traced and r.port == port and r.bench != bench
    }


def percent(value: float, digits: int = 2) -> str:
    """A share as text, "–" where it is not known."""
    return f"{100.0 * value:+z.{digits}f} %" if math.isfinite(value) else "–"


def _seconds(value: float) -> str:
    return f"{value:.1f}" if math.isfinite(value) else "–"


def _rows(found: SideBySide, view: View) -> None:
    display = view.display
    with ui.element("section").classes("sheet"):
        heading(f"As stored, and by {found.rule.name}")
        change = percent(found.mean_change)
        mean = f"Mean change {change}. " if math.isfinite(found.mean_change) else ""
        ui.label(
            f"{mean}Flow in {display.flow} at "
            f"{display.pressure_text(found.pressure)}; {found.lines} lines in the trace."
        )
        if found.not_taken:
            ui.label(
                f"{found.rule.name} takes nothing at {', '.join(found.not_taken)}: what the "
                "instruments sent there is too short or too unsteady for it."
            ).classes("notice ask")
        table(
            (f"Lift {display.length}", *_HEADINGS),
            [
                (
                    display.lift_text(r.lift.si),
                    display.flow_text(r.stored),
                    _seconds(r.stored_waited),
                    display.flow_text(r.other) if math.isfinite(r.other) else "not taken",
                    _seconds(r.other_waited),
                    percent(r.change),
                    percent(2.0 * r.other_error).lstrip("+"),
                    "unsteady" if r.unsteady else "",
                )
                for r in found.rows
            ],
            numeric=(0, 1, 2, 3, 4, 5, 6),
        )


def _benches(both: TwoBenches, view: View) -> None:
    display = view.display
    with ui.element("section").classes("sheet"):
        heading("Two benches, one port")
        ui.label(both.sentence()).classes("strong")
        table(
            (f"Lift {display.length}", "As stored", "By settling", "Left", "unrest ±"),
            [
                (
                    display.lift_text(s.lift.si),
                    percent(s.as_stored),
                    percent(s.by_settling),
                    percent(s.settled),
                    percent(2.0 * s.error).lstrip("+"),
                )
                for s in both.shares
            ],
            numeric=(0, 1, 2, 3, 4),
        )
        for finding in both.findings:
            ui.label(finding).classes("small")


def _both_ways(gaps: list[Gap], partner: str, view: View) -> None:
    display = view.display
    lifts = [f"{display.lift_text(g.lift)} {display.length}" for g in gaps]
    with ui.element("section").classes("sheet"):
        heading(f"Up against down, with {partner}")
        ui.label(up_down.sentence(gaps, lifts)).classes("strong")
        table(
            (f"Lift {display.length}", "Up", "Down", "Down against up", "scatter allows ±"),
            [
                (
                    display.lift_text(g.lift),
                    units.show(g.up, display.flow, Kind.FLOW),
                    units.show(g.down, display.flow, Kind.FLOW),
                    percent(g.change),
                    percent(g.wide).lstrip("+"),
                )
                for g in gaps
            ],
            numeric=(0, 1, 2, 3, 4),
        )
