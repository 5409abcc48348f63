"""Before and after of one port as curves, the gain's uncertainty drawn round the later one."""

from __future__ import annotations

import math
from typing import Any

from portwright import units
from portwright.services.compare import RunComparison
from portwright.services.display import Display
from portwright.ui.components.flow_chart import Axis, Series, chart_spec
from portwright.units import Kind


def result_spec(comparison: RunComparison, display: Display, summary: str) -> dict[str, Any]:
    """Chart of flow against lift at the test pressure of the comparison.

    Parameters
    ----------
    comparison : RunComparison
    display : Display
        Units of the axes.
    summary : str
        What the chart says in a sentence.
    """

    def lift(value: float) -> float:
        return units.from_si(value, display.length, Kind.LENGTH)

    def flow(area: float) -> float:
        return units.from_si(comparison.flow(area), display.flow, Kind.FLOW)

    gains = [g for g in comparison.result.lifts if math.isfinite(g.gain.gain)]
    x = [lift(g.lift) for g in gains]
    before, after = comparison.before, comparison.after
    pressure = display.pressure_text(comparison.pressure)
    return chart_spec(
        f"{after.port} {before.stage} to {after.stage}",
        Axis("valve lift", display.length, 3 if display.length == "in" else 1, minimum=0.0),
        Axis(f"flow at {pressure}", units.sign(display.flow), 1, minimum=0.0),
        [
            Series(before.stage, x, [flow(g.gain.before) for g in gains], tone=1, dash=1),
            Series(
                f"{after.stage}, band: 95 % of the gain",
                x,
                [flow(g.gain.after) for g in gains],
                [flow(g.gain.before * (1.0 + g.gain.low)) for g in gains],
                [flow(g.gain.before * (1.0 + g.gain.high)) for g in gains],
            ),
        ],
        summary=summary,
        footer=_conditions(comparison),
    )


def _conditions(comparison: RunComparison) -> str:
    after = comparison.after
    named = {"bench": after.bench} | after.conditions
    return "; ".join(f"{name} {text}" for name, text in named.items() if text)
