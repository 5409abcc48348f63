"""What a comparison says: one sentence, the bands behind it, what limits it, the numbers."""

from __future__ import annotations

from collections.abc import Sequence

from nicegui import ui

from portwright import units
from portwright.services.compare import RunComparison
from portwright.services.wording import band_name, percent, sentence
from portwright.ui.components.compare_charts import groups_of, label, label_before
from portwright.ui.errors import show_finding
from portwright.ui.layout import heading, table
from portwright.ui.state import View
from portwright.units import Kind

# How sure a verdict is, as a colour; the word says the same.
LOOK = {"real": "good", "probably": "ask", "can't tell": ""}


def verdict(comparison: RunComparison, view: View) -> None:
    """Sentence and bands of one comparison."""
    with ui.element("div").classes("stack"):
        ui.label(sentence(comparison, view.choice.length)).classes("verdict")
        if comparison.result.bands:
            with ui.element("ul").classes("row-wrap"):
                for band in comparison.result.bands:
                    gain = band.gain
                    with ui.element("li").classes("band-gain"):
                        ui.label(band_name(band, view.choice.length)).classes("small soft")
                        ui.label(percent(gain)).classes("strong number")
                        ui.label(gain.verdict.value).classes(f"tag {LOOK[gain.verdict.value]}")


def limits(comparisons: Sequence[RunComparison]) -> None:
    """Findings of all comparisons, each said once, faulty runs by name."""
    seen = dict.fromkeys(f for c in comparisons for f in c.findings)
    if not seen:
        return
    with ui.element("section").classes("sheet"):
        heading("What limits this comparison")
        for finding in seen:
            show_finding(finding)


def numbers(comparison: RunComparison, view: View) -> None:
    """Table of a comparison by lift."""
    display = view.display
    groups = groups_of([comparison])
    rows = []
    for item in comparison.result.lifts:
        gain = item.gain
        before, after = (comparison.flow(a) for a in (gain.before, gain.after))
        rows.append(
            (
                display.lift_text(item.lift) + (" *" if item.interpolated else ""),
                display.flow_text(before),
                display.flow_text(after),
                units.show(gain.before, display.area, Kind.AREA),
                units.show(gain.after, display.area, Kind.AREA),
                percent(gain),
                gain.verdict.value,
            )
        )
    first, second = label_before(comparison, groups), label(groups[1], groups)
    flow, area = units.sign(display.flow), units.sign(display.area)
    table(
        (
            f"Lift [{display.length}]",
            f"{first} [{flow}]",
            f"{second} [{flow}]",
            f"{first} [{area}]",
            f"{second} [{area}]",
            "Gain",
            "Verdict",
        ),
        rows,
        numeric=(0, 1, 2, 3, 4, 5),
    )
    notes = [f"Flow at {display.pressure_text(comparison.pressure)}; areas are effective areas."]
    if any(item.interpolated for item in comparison.result.lifts):
        notes.append("* read between the lifts tested")
    ui.label(" ".join(notes)).classes("small soft")


def conditions(comparisons: Sequence[RunComparison]) -> None:
    """Conditions of all sides beside each other, differences marked in words."""
    groups = groups_of(comparisons)
    names = dict.fromkeys(name for g in groups for name in g.conditions)
    rows = []
    for name in names:
        values = [g.conditions.get(name, "not recorded") for g in groups]
        rows.append((name, *values, "differs" if len(set(values)) > 1 else ""))
    rows.append(("sweeps", *(", ".join(g.runs) for g in groups), ""))
    rows.append(
        (
            "left out",
            *("; ".join(f"{c}: {why}" for c, why in g.left_out.items()) or "none" for g in groups),
            "",
        )
    )
    with ui.element("section").classes("sheet"):
        heading("Conditions")
        table(("", *(label(g, groups) for g in groups), ""), rows)
