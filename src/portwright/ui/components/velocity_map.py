"""Pitot map of a plane as a picture: rows as noted, roof on top."""

from __future__ import annotations

import html
import math

from portwright import units
from portwright.services.velocity_maps import Mark, VelocityMap
from portwright.ui.state import View
from portwright.units import Kind

_CELL_WIDTH, _CELL_HEIGHT, _LEFT = 112, 62, 120
_EDGE = {
    "CROWDED": "--fault",
    "FAST": "--fault",
    "LAZY": "--ask",
    "UNSTEADY": "--ask",
    "BACKFLOW": "--fault",
}


def velocity_map(found: VelocityMap, view: View) -> str:
    """Picture as SVG text.

    Parameters
    ----------
    found : VelocityMap
    view : View
        Units of the page.
    """
    rows: dict[str, list[Mark]] = {}
    for mark in found.marks:
        rows.setdefault(mark.row, []).append(mark)
    wide = max(len(marks) for marks in rows.values())
    width, height = _LEFT + wide * _CELL_WIDTH, len(rows) * _CELL_HEIGHT
    unit = view.unit(Kind.SPEED)
    parts = []
    for level, (name, marks) in enumerate(rows.items()):
        y = level * _CELL_HEIGHT
        parts.append(f'<text x="0" y="{y + 36}">{html.escape(name)}</text>')
        parts += [
            _cell(mark, found.mean.mean, unit, _LEFT + place * _CELL_WIDTH, y)
            for place, mark in enumerate(marks)
        ]
    mean = units.from_si(found.mean.mean, unit, Kind.SPEED)
    label = html.escape(f"Velocity map of the {found.plane}, mean {mean:.0f} {unit}", quote=True)
    return (
        f'<svg viewBox="0 0 {width} {height}" role="img" aria-label="{label}" font-size="17" '
        f'style="width:100%;max-width:{width}px;height:auto" fill="var(--ink)">'
        f"{''.join(parts)}</svg>"
    )


def _cell(mark: Mark, mean: float, unit: str, x: float, y: float) -> str:
    share = mark.velocity / mean if math.isfinite(mark.velocity) else 0.0
    shade = min(max((share - 0.5) / 1.0, 0.0), 1.0) * 0.6
    edge = _EDGE.get(mark.zone.name)
    look = f'stroke="var({edge})" stroke-width="4"' if edge else 'stroke="var(--line)"'
    number = (
        f"{units.from_si(mark.velocity, unit, Kind.SPEED):.0f}"
        if math.isfinite(mark.velocity)
        else "–"
    )
    words = "" if mark.zone.name == "EVEN" else mark.zone.value
    return (
        f'<rect x="{x + 3}" y="{y + 3}" width="{_CELL_WIDTH - 6}" height="{_CELL_HEIGHT - 6}" '
        f'rx="5" fill="var(--blue)" fill-opacity="{shade:.2f}" {look}/>'
        f'<text x="{x + _CELL_WIDTH / 2}" y="{y + 28}" text-anchor="middle" '
        f'font-weight="650">{number}</text>'
        f'<text x="{x + _CELL_WIDTH / 2}" y="{y + 48}" text-anchor="middle" '
        f'font-size="13">{html.escape(words)}</text>'
    )
