"""One picture of a port: area along it, what the air does there, wall left, where to cut."""

from __future__ import annotations

import html
import math
from collections.abc import Sequence
from dataclasses import dataclass

from portwright import units
from portwright.services.landmarks import LANDMARKS
from portwright.services.port import PortView
from portwright.services.stations import Station
from portwright.ui.state import View
from portwright.units import Kind

_WIDTH, _LEFT, _RIGHT = 900, 78, 20
_PANELS = {"area": (44, 268), "air": (300, 418), "wall": (470, 590)}
_HEIGHT = 640
_TEXT = 17
_BAR = 26  # width of a wall


@dataclass(frozen=True, slots=True)
class _Scale:
    """Value to pixel on one axis."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Pixel of a value."""
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)

    def ticks(self, wanted: int) -> list[float]:
        """Round values inside the range."""
        raw = (self.high - self.low) / wanted
        power = 10.0 ** math.floor(math.log10(raw))
        step = next(m * power for m in (1.0, 2.0, 2.5, 5.0, 10.0) if m * power >= raw * 0.999)
        first = math.ceil(self.low / step - 1e-9)
        return [
            step * (first + i) for i in range(int((self.high - first * step) / step + 1e-6) + 1)
        ]


def port_picture(port: PortView, view: View) -> str:
    """Picture as SVG text.

    Parameters
    ----------
    port : PortView
    view : View
        Units of the page.
    """
    places = _places(port.profile.stations, view)
    across = _Scale(min(places), max(places), _LEFT, _WIDTH - _RIGHT)
    x = [across.at(p) for p in places]
    parts = [
        _area_panel(port, view, x, across),
        _air_panel(port, view, x),
        _wall_panel(port, view, x),
        _landmarks(port.profile.stations, x),
    ]
    parts.append(_distance_axis(port, view, across))
    label = html.escape(" ".join(port.sentences), quote=True)
    return (
        f'<svg viewBox="0 0 {_WIDTH} {_HEIGHT}" role="img" aria-label="{label}" '
        f'style="width:100%;height:auto" font-size="{_TEXT}" fill="var(--ink)">'
        f"{''.join(parts)}</svg>"
    )


def _places(stations: Sequence[Station], view: View) -> list[float]:
    """Distances in the unit of the page; evenly spaced where they were not measured."""
    if any(s.distance is None for s in stations):
        return [float(i) for i in range(len(stations))]
    return [units.from_si(s.distance or 0.0, view.unit(Kind.LENGTH), Kind.LENGTH) for s in stations]


def _text(x: float, y: float, words: str, more: str = "") -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" {more}>{html.escape(words)}</text>'


def _line(points: Sequence[tuple[float, float]], colour: str, more: str = "") -> str:
    path = "L".join(f"{x:.1f} {y:.1f}" for x, y in points)
    return f'<path d="M{path}" fill="none" stroke="var({colour})" {more}/>'


def _grid(scale: _Scale, title: str, digits: int) -> str:
    parts = [_text(_LEFT - 62, scale.end - 10, title, 'font-weight="650"')]
    for tick in scale.ticks(4):
        y = scale.at(tick)
        parts.append(_line([(_LEFT, y), (_WIDTH - _RIGHT, y)], "--line", 'stroke-width="1"'))
        parts.append(_text(_LEFT - 8, y + 6, f"{tick:.{digits}f}", 'text-anchor="end"'))
    return "".join(parts)


def _range(values: Sequence[float], panel: str, air: float = 0.12) -> _Scale:
    low, high = min(values), max(values)
    room = max((high - low) * air, abs(high) * 0.01, 1e-12)
    top, bottom = _PANELS[panel]
    return _Scale(low - room, high + room, bottom, top)


def _area_panel(port: PortView, view: View, x: Sequence[float], across: _Scale) -> str:
    unit = view.unit(Kind.AREA)

    def shown(value: float) -> float:
        return units.from_si(value, unit, Kind.AREA)

    stations, profile = port.profile.stations, port.profile
    first = port.first.stations if port.first else ()
    bounds = [shown(s.area + k * 2.0 * s.uncertainty) for s in stations for k in (-1, 1)]
    scale = _range([*bounds, *(shown(s.area) for s in first)], "area")
    parts = [_grid(scale, f"Area {units.sign(unit)}", 2 if unit == "in2" else 0)]
    upper = [
        (a, scale.at(shown(s.area + 2 * s.uncertainty))) for a, s in zip(x, stations, strict=True)
    ]
    lower = [
        (a, scale.at(shown(s.area - 2 * s.uncertainty))) for a, s in zip(x, stations, strict=True)
    ]
    around = "L".join(f"{a:.1f} {b:.1f}" for a, b in [*upper, *lower[::-1]])
    parts.append(f'<path d="M{around}Z" fill="var(--blue)" fill-opacity="0.15"/>')
    if len(first) == len(stations) and port.first is not None:
        old_x = [across.at(p) for p in _places(first, view)]
        line = [(a, scale.at(shown(s.area))) for a, s in zip(old_x, first, strict=True)]
        parts.append(_line(line, "--ink-soft", 'stroke-width="2" stroke-dasharray="7 5"'))
        parts.append(_text(line[-1][0], line[-1][1] + 22, port.first.stage, 'text-anchor="end"'))
    now = [(a, scale.at(shown(s.area))) for a, s in zip(x, stations, strict=True)]
    parts.append(_line(now, "--blue", 'stroke-width="3.5"'))
    parts.append(_text(now[-1][0], now[-1][1] - 12, profile.stage, 'text-anchor="end"'))
    for i in (profile.smallest, *profile.rivals):
        a, b = now[i]
        full = i == profile.smallest
        fill = "var(--bronze)" if full else "none"
        parts.append(
            f'<circle cx="{a:.1f}" cy="{b:.1f}" r="8" fill="{fill}" stroke="var(--bronze)" '
            'stroke-width="3"/>'
        )
        parts.append(
            _text(a, b + 30, f"{shown(stations[i].area):.{2 if unit == 'in2' else 0}f}",
                  'text-anchor="middle" font-weight="650"')
        )  # fmt: skip
    return "".join(parts) + _numbers(port, x)


def _numbers(port: PortView, x: Sequence[float]) -> str:
    """Candidates by their number in the list, above the place they are for."""
    parts = []
    names = [s.landmark for s in port.profile.stations]
    for place, candidate in enumerate(port.advice.candidates, start=1):
        if candidate.place not in names:
            continue
        a = x[names.index(candidate.place)]
        parts.append(
            f'<circle cx="{a:.1f}" cy="22" r="15" fill="var(--blue)"/>'
            + _text(a, 28, str(place), 'text-anchor="middle" fill="var(--paper)" font-weight="700"')
        )
    return "".join(parts)


def _air_panel(port: PortView, view: View, x: Sequence[float]) -> str:
    unit = view.unit(Kind.SPEED)
    if not port.air or port.flow is None:
        return _text(_LEFT, _PANELS["air"][0] + 40, "Air: no sound sweep at this stage yet.")
    speed = [units.from_si(a.mean, unit, Kind.SPEED) for a in port.air]
    asked = [units.from_si(a.engine_mean, unit, Kind.SPEED) for a in port.air]
    asked = [v for v in asked if math.isfinite(v)]
    scale = _range([*speed, *asked], "air", 0.25)
    lift = f"{view.display.lift_text(port.flow.lift)} {view.display.length}"
    title = f"Air {unit}, bench at {lift} lift ({port.flow.stage})"
    line = [(a, scale.at(v)) for a, v in zip(x, speed, strict=True)]
    parts = [_grid(scale, title, 0), _line(line, "--ask", 'stroke-width="3"')]
    parts.append(_text(line[0][0] + 6, line[0][1] - 9, "bench"))
    if asked and port.engine is not None:
        line = [(a, scale.at(v)) for a, v in zip(x, asked, strict=True)]
        rpm = port.engine.turning_speed * 30.0 / math.pi
        parts.append(_line(line, "--ink-soft", 'stroke-width="2.5" stroke-dasharray="9 4 2 4"'))
        words = f"engine, mean at {rpm:.0f} rpm"
        parts.append(_text(line[0][0] + 6, line[0][1] - 9, words))
    return "".join(parts)


def _wall_panel(port: PortView, view: View, x: Sequence[float]) -> str:
    unit = view.unit(Kind.LENGTH)
    top, bottom = _PANELS["wall"]
    if not port.walls:
        return _text(_LEFT, top + 40, "Wall: not sounded yet. Sound it before cutting.")

    def shown(value: float) -> float:
        return units.from_si(value, unit, Kind.LENGTH)

    most = max(shown(w.readings[0][1]) for w in port.walls)
    scale = _Scale(0.0, most * 1.15, bottom, top)
    parts = [_grid(scale, f"Wall {unit}", 2 if unit == "in" else 0)]
    for wall in port.walls:
        a = _beside(port.profile.stations, x, wall.landmark)
        if a is None:  # words that name no landmark: the list below has it
            continue
        a = min(max(a, _LEFT + _BAR), _WIDTH - _RIGHT - _BAR)
        colour = "--good" if wall.state.allows_cutting else "--fault"
        was, now, limit = (shown(v) for v in (wall.readings[0][1], wall.now, wall.limits.least))
        parts.append(_bar(a, scale.at(was), bottom, "--line"))
        parts.append(_bar(a, scale.at(now), bottom, colour))
        if wall.after_plan is not None and not wall.sounded_since:
            parts.append(_planned(a, scale.at(now), scale.at(max(0.0, shown(wall.after_plan)))))
        y = scale.at(limit)
        parts.append(_line([(a - 24, y), (a + 24, y)], "--ink", 'stroke-width="3"'))
        text = f"{now:.{3 if unit == 'in' else 2}f}"
        look = 'text-anchor="middle" font-size="15" font-weight="650"'
        parts.append(_text(a, scale.at(max(was, now)) - 5, text, look))
    return "".join(parts)


def _beside(stations: Sequence[Station], x: Sequence[float], landmark: str) -> float | None:
    """Pixel of a landmark; half way between its neighbours where it is no station."""
    order = list(LANDMARKS)
    if landmark not in order:
        return None
    at = {s.landmark: a for s, a in zip(stations, x, strict=True) if s.landmark}
    if landmark in at:
        return at[landmark]
    rank = order.index(landmark)
    before = [at[name] for name in order[:rank] if name in at]
    after = [at[name] for name in order[rank + 1 :] if name in at]
    nearest = before[-1:] + after[:1]
    return sum(nearest) / len(nearest) if nearest else None


def _bar(middle: float, top: float, bottom: float, colour: str) -> str:
    return (
        f'<rect x="{middle - _BAR / 2:.1f}" y="{top:.1f}" width="{_BAR}" '
        f'height="{max(0.0, bottom - top):.1f}" fill="var({colour})"/>'
    )


def _planned(middle: float, top: float, bottom: float) -> str:
    """Metal that the plan takes, hatched over the bar."""
    lines = []
    y = top + 4.0
    while y < bottom:
        lines.append(f"M{middle - _BAR / 2:.1f} {y:.1f}h{_BAR}")
        y += 5.0
    return f'<path d="{"".join(lines)}" stroke="var(--paper)" stroke-width="2.5" fill="none"/>'


def _landmarks(stations: Sequence[Station], x: Sequence[float]) -> str:
    top, bottom = _PANELS["area"][0], _PANELS["wall"][1]
    parts = []
    for a, station in zip(x, stations, strict=True):
        if station.landmark:
            parts.append(
                _line([(a, top), (a, bottom)], "--line", 'stroke-width="1" stroke-dasharray="2 4"')
            )
            anchor = "start" if a < _LEFT + 40 else "end" if a > _WIDTH - 60 else "middle"
            parts.append(_text(a, bottom + 20, station.landmark, f'text-anchor="{anchor}"'))
    return "".join(parts)


def _distance_axis(port: PortView, view: View, across: _Scale) -> str:
    bottom = _PANELS["wall"][1]
    if any(s.distance is None for s in port.profile.stations):
        words = "Distances along the port were not measured: landmarks in order only."
        return _text(_LEFT, bottom + 44, words)
    unit = view.unit(Kind.LENGTH)
    parts = [
        _text(
            across.at(t), bottom + 44, f"{t:.{1 if unit == 'in' else 0}f}", 'text-anchor="middle"'
        )
        for t in across.ticks(6)
    ]
    return "".join(parts) + _text(_LEFT - 62, bottom + 44, unit)
