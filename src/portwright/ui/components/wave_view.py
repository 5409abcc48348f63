"""Pressure and Mach number along runner and port, moving with the crank."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from nicegui.element import Element

from portwright import units
from portwright.services.display import Display
from portwright.services.engine_waves import PortWaves, wave_line
from portwright.ui.components.flow_chart import Axis, chart_spec
from portwright.units import Kind

_STEP = 4.0  # crank degrees from picture to picture
_LOOKS = ((1, 1), (0, 0))  # tone and dash of before and after, as in the other charts


class WaveView(Element, component="wave_view.js"):
    """One cycle as a moving picture with a button and a slider.

    Parameters
    ----------
    waves : sequence of PortWaves
        Before and after, at the same speed.
    display : Display
    """

    def __init__(self, waves: Sequence[PortWaves], display: Display) -> None:
        super().__init__()
        self._props.update(wave_props(waves, display))


def wave_props(waves: Sequence[PortWaves], display: Display) -> dict[str, Any]:
    """What the browser needs to draw every picture by itself."""
    first = waves[0]
    unit = display.length
    along = Axis("distance from the port opening; runner below zero", unit, 0)
    pictures = np.arange(0.0, 720.0, _STEP)
    rows = [_nearest(w.angle, pictures) for w in waves]
    shown = (
        ("Pressure", Axis("pressure", "kPa", 0), [1e-3 * w.pressure for w in waves], 1),
        ("Mach number", Axis("Mach, towards the valve", "-", 2), [w.mach for w in waves], 3),
    )
    quantities = []
    for name, axis, fields, digits in shown:
        values = [np.round(f[r], digits) for f, r in zip(fields, rows, strict=True)]
        edges = Axis(
            axis.label,
            axis.unit,
            axis.decimals,
            minimum=min(float(v.min()) for v in values),
            maximum=max(float(v.max()) for v in values),
        )
        title = f"{name} along runner and port at {first.speed:.0f} rpm"
        quantities.append(
            {
                "name": name,
                "spec": chart_spec(title, along, edges, [], summary=title),
                "values": [v.tolist() for v in values],
                "decimals": axis.decimals,
                "unit": "" if axis.unit == "-" else f" {axis.unit}",
            }
        )
    lift = [units.from_si(float(v), unit, Kind.LENGTH) for v in first.lift[rows[0]]]
    decimals = 3 if unit == "in" else 1 if unit == "mm" else 0
    last = waves[-1]
    return {
        "quantities": quantities,
        "heads": [
            {
                "name": w.stage,
                "tone": tone,
                "dash": dash,
                "x": [round(units.from_si(float(d), unit, Kind.LENGTH), 3) for d in w.distance],
                "smallest": w.smallest,
            }
            for w, (tone, dash) in zip(waves, _LOOKS, strict=False)
        ],
        "angles": pictures.tolist(),
        "open": [f"{v:.{decimals}f} {unit}" if v > 0.0 else "" for v in lift],
        "marks": [
            {"x": 0.0, "text": "port opening"},
            {
                "x": units.from_si(float(last.distance[last.smallest]), unit, Kind.LENGTH),
                "text": last.section,
            },
        ],
        "said": [wave_line(w) for w in waves],
    }


def _nearest(angle: np.ndarray[Any, np.dtype[np.float64]], wanted: Any) -> list[int]:
    """Row recorded nearest to each angle, the cycle being closed."""
    apart = np.abs((angle[None, :] - wanted[:, None] + 360.0) % 720.0 - 360.0)
    return [int(k) for k in np.argmin(apart, axis=1)]
