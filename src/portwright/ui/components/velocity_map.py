"""Pitot map of a plane as a picture: in the outline of the section, roof on top, or as a table."""

from __future__ import annotations

import html
import math

import numpy as np
from numpy.typing import NDArray

from portwright import units
from portwright.services.velocity_maps import Mark, VelocityMap
from portwright.ui.state import View
from portwright.units import Kind

Array = NDArray[np.float64]
_CELL_WIDTH, _CELL_HEIGHT, _LEFT = 112, 62, 120
_SIDE = 440  # longer side of a section as drawn
_NARROW = 74  # a cell needs this much room for the words of its zone
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
    mean = units.from_si(found.mean.mean, view.unit(Kind.SPEED), Kind.SPEED)
    words = f"Velocity map of the {found.plane}, mean {mean:.0f} {view.unit(Kind.SPEED)}"
    label = html.escape(". ".join((words, *zone_words(found, view))), quote=True)
    if found.outline is not None and found.marks[0].cell is not None:
        width, height, parts = _in_outline(found, found.outline, view)
    else:
        width, height, parts = _rows(found, view)
    return (
        f'<svg viewBox="0 0 {width:.0f} {height:.0f}" role="img" aria-label="{label}" '
        f'font-size="17" style="width:100%;max-width:{width:.0f}px;height:auto" '
        f'fill="var(--ink)">{"".join(parts)}</svg>'
    )


def zone_words(found: VelocityMap, view: View) -> list[str]:
    """Places that stand out, each in words with its velocity."""
    unit = view.unit(Kind.SPEED)
    said = []
    for mark in found.marks:
        if mark.zone.name == "EVEN":
            continue
        number = (
            f", {units.from_si(mark.velocity, unit, Kind.SPEED):.0f} {unit}"
            if math.isfinite(mark.velocity)
            else ""
        )
        said.append(f"{mark.name}: {mark.zone.value}{number}")
    return said


def _in_outline(found: VelocityMap, outline: Array, view: View) -> tuple[float, float, list[str]]:
    """Section to scale, each place with the part nearest to it."""
    size = np.max(outline, axis=0)
    scale = _SIDE / float(np.max(size))
    margin = 6.0
    width, height = (float(v) * scale + 2.0 * margin for v in size)

    def at(points: Array) -> str:
        x, y = margin + points[:, 0] * scale, height - margin - points[:, 1] * scale
        return "L".join(f"{a:.1f} {b:.1f}" for a, b in zip(x, y, strict=True))

    parts, edges, texts = [], [], []
    unit = view.unit(Kind.SPEED)
    for mark in found.marks:
        if mark.cell is None or len(mark.cell) < 3:
            continue
        fill = f'fill="var(--blue)" fill-opacity="{_shade(mark, found.mean.mean):.2f}"'
        parts.append(f'<path d="M{at(mark.cell)}Z" {fill} stroke="var(--line)"/>')
        edge = _EDGE.get(mark.zone.name)
        if edge:
            look = f'fill="none" stroke="var({edge})" stroke-width="4"'
            edges.append(f'<path d="M{at(mark.cell)}Z" {look}/>')
        middle = np.mean(mark.cell, axis=0) if mark.point is None else np.array(mark.point)
        x, y = margin + middle[0] * scale, height - margin - middle[1] * scale
        words = mark.zone.value if mark.zone.name != "EVEN" else ""
        roomy = float(np.ptp(mark.cell[:, 0])) * scale > _NARROW
        texts.append(
            f'<text x="{x:.1f}" y="{y + 6:.1f}" text-anchor="middle" font-weight="650">'
            f"{_number(mark, unit)}</text>"
        )
        if words and roomy:
            texts.append(
                f'<text x="{x:.1f}" y="{y + 24:.1f}" text-anchor="middle" font-size="13">'
                f"{html.escape(words)}</text>"
            )
    rim = f'<path d="M{at(outline)}Z" fill="none" stroke="var(--ink)" stroke-width="2.5"/>'
    return width, height, [*parts, *edges, rim, *texts]


def _rows(found: VelocityMap, view: View) -> tuple[float, float, list[str]]:
    """Marks that lie on no known place of the section: rows as noted."""
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
    return float(width), float(height), parts


def _shade(mark: Mark, mean: float) -> float:
    share = mark.velocity / mean if math.isfinite(mark.velocity) else 0.0
    return min(max(share - 0.5, 0.0), 1.0) * 0.6


def _number(mark: Mark, unit: str) -> str:
    if not math.isfinite(mark.velocity):
        return "–"
    return f"{units.from_si(mark.velocity, unit, Kind.SPEED):.0f}"


def _cell(mark: Mark, mean: float, unit: str, x: float, y: float) -> str:
    shade = _shade(mark, mean)
    edge = _EDGE.get(mark.zone.name)
    look = f'stroke="var({edge})" stroke-width="4"' if edge else 'stroke="var(--line)"'
    number = _number(mark, unit)
    words = "" if mark.zone.name == "EVEN" else mark.zone.value
    return (
        f'<rect x="{x + 3}" y="{y + 3}" width="{_CELL_WIDTH - 6}" height="{_CELL_HEIGHT - 6}" '
        f'rx="5" fill="var(--blue)" fill-opacity="{shade:.2f}" {look}/>'
        f'<text x="{x + _CELL_WIDTH / 2}" y="{y + 28}" text-anchor="middle" '
        f'font-weight="650">{number}</text>'
        f'<text x="{x + _CELL_WIDTH / 2}" y="{y + 48}" text-anchor="middle" '
        f'font-size="13">{html.escape(words)}</text>'
    )
