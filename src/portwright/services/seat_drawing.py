"""A valve on its seat in half section, to scale, with the smallest passage at one lift."""

from __future__ import annotations

import numpy as np

from portwright.core.constants import Array
from portwright.core.seat.gap import smallest_passages
from portwright.services.display import Display
from portwright.services.seat_plan import Alternative, SeatPlan

_SIDE = 3.0  # metal drawn beside what matters [mm]
_PAPER = (
    "<style>text{font-family:sans-serif;font-size:0.8px;fill:#1b222c}.metal{fill:#e9e5da;stroke:#1b222c;"
    "stroke-width:.12}.valve{fill:#dfe8f4;stroke:#16437e;stroke-width:.14}.shut{fill:none;"
    "stroke:#4b5563;stroke-width:.1;stroke-dasharray:.6 .4}.before{fill:none;stroke:#8f4410;"
    "stroke-width:.14;stroke-dasharray:.9 .5}.gap{stroke:#9d1c19;stroke-width:.28}"
    ".bar{stroke:#1b222c;stroke-width:.2}</style>"
)


def _path(points: Array) -> str:
    return " ".join(f"{1e3 * r:.3f},{-1e3 * z:.3f}" for r, z in points)


def seat_drawing(
    plan: SeatPlan, made: Alternative, lift: float, display: Display, *, paper: bool = False
) -> str:
    """Draw one alternative.

    Parameters
    ----------
    plan : SeatPlan
    made : Alternative
    lift : float
        Lift the valve is drawn at. [m]
    display : Display
        Units of the words.
    paper : bool
        With its own colours, for print.

    Raises
    ------
    RangeError
        A lift below zero.
    """
    passage = smallest_passages(made.seat, made.valve, np.array([lift]))[0]
    seat, valve = made.seat.outline().points, made.valve.outline().points
    right = 0.5e3 * max(made.seat.cut_diameter, made.valve.head_diameter) + _SIDE
    left = 0.5e3 * made.seat.throat_diameter - 2.2 * _SIDE
    top = 1e3 * (made.shut.height + lift + made.valve.margin) + 1.5
    bottom = 1e3 * float(seat[1, 1]) - _SIDE
    high = max(top, 1e3 * float(seat[-1, 1]) + 1.5)
    roof = float(seat[-1, 1])
    metal = [*seat[1:-1], (right * 1e-3, roof), (right * 1e-3, bottom * 1e-3)]
    metal.append((seat[1, 0], bottom * 1e-3))
    head = np.vstack([valve, [[0.0, valve[-1, 1]], [0.0, valve[0, 1]]]])
    opened = head + np.array([0.0, made.shut.height + lift])
    shut = valve + np.array([0.0, made.shut.height])
    parts = [
        f'<polygon class="metal" points="{_path(np.array(metal))}"/>',
        f'<polygon class="valve" points="{_path(opened)}"/>',
        f'<polyline class="shut" points="{_path(shut)}"/>',
    ]
    if made.sink is not None:
        old = plan.before.outline().points[1:-1] + np.array([0.0, made.sink.seat])
        parts.append(f'<polyline class="before" points="{_path(old)}"/>')
    ends = np.array([passage.seat_point, passage.valve_point])
    area = display.area_text(passage.area)
    low, start = bottom + 1.4, left + 0.8
    bar, bar_text = (5.0, "5 mm") if display.area == "mm2" else (5.08, "0.2 in")
    parts += [
        f'<polyline class="gap" points="{_path(ends)}"/>',
        f'<polyline class="bar" points="{start:.2f},{-low:.2f} {start + bar:.2f},{-low:.2f}"/>',
        f'<text x="{start:.2f}" y="{-low - 0.5:.2f}">{bar_text}</text>',
    ]
    between = f"{passage.seat_piece} and {passage.valve_piece}"
    about = (
        f"Half section of valve and seat {made.name} of {plan.port}, to scale, opened "
        f"{display.length_text(lift)}. Smallest passage {area}, between {between}."
    )
    clip = f'<clipPath id="window"><rect x="{left:.2f}" y="{-high:.2f}" '
    clip += f'width="{right - left:.2f}" height="{high - bottom:.2f}"/></clipPath>'
    box = f"{left:.2f} {-high:.2f} {right - left:.2f} {high - bottom:.2f}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}" role="img" '
        f'aria-label="{about}">{_PAPER if paper else ""}{clip}'
        f'<g clip-path="url(#window)">{"".join(parts)}</g></svg>'
    )
