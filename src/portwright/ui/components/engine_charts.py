"""Charts of a head on its engine."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from portwright import units
from portwright.services.display import Display
from portwright.services.engine_dyno import DynoComparison
from portwright.services.engine_quick import QuickAnswers
from portwright.services.engine_run import EngineRun
from portwright.services.engine_waves import PortWaves
from portwright.ui.components.flow_chart import Axis, Series, chart_spec
from portwright.units import Kind

_CONDITIONS = "forecast, uncalibrated unless it says so; quote the difference, not the level"


def inches(display: Display) -> bool:
    """Whether this page shows inches, and with them feet and horsepower."""
    return display.length in {"in", "thou"}


def _speed_axis() -> Axis:
    return Axis("crank speed", "rpm", 0)


def velocity_spec(q: QuickAnswers, display: Display) -> dict[str, Any]:
    """Mean air speed in each section over crank speed, with the limit."""
    unit = "ft/s" if inches(display) else "m/s"

    def shown(values: Sequence[float]) -> list[float]:
        return [units.from_si(float(v), unit, Kind.SPEED) for v in values]

    x = [float(n) for n in q.speed]
    series = [
        Series(s.name, x, shown(list(s.velocity)), tone=k % 8, dash=k % 8, points=False)
        for k, s in enumerate(q.sections)
    ]
    limit = shown([q.velocity_limit] * len(x))
    series.append(Series("limit", x, limit, tone=1, dash=3, points=False))
    return chart_spec(
        f"{q.port} {q.stage} air speed",
        _speed_axis(),
        Axis("mean air speed", unit, 0, minimum=0.0),
        series,
        summary=f"Mean air speed in the sections of {q.port} at {q.stage}, with the limit.",
    )


def _before_after(
    run: EngineRun, pick: Callable[[Any], Any], shown: Callable[[float], float]
) -> list[Series]:
    x = [float(n) for n in run.speed]
    found = []
    for head, tone in ((run.before, 1), (run.after, 0)):
        values, level = pick(head), head.level
        found.append(
            Series(
                f"{head.stage}, band: range of the level",
                x,
                [shown(float(v)) for v in values],
                [shown(float(v)) for v in values * (1.0 - level)],
                [shown(float(v)) for v in values * (1.0 + level)],
                tone=tone,
                dash=tone,
            )
        )
    return found


def torque_spec(run: EngineRun, display: Display, summary: str) -> dict[str, Any]:
    """Torque before and after with the range of its level."""
    unit = "lbf ft" if inches(display) else "Nm"
    return chart_spec(
        f"Torque {run.before.stage} to {run.after.stage}",
        _speed_axis(),
        Axis("torque", unit, 0),
        _before_after(run, lambda h: h.torque, lambda v: units.from_si(v, unit, Kind.TORQUE)),
        summary=summary,
        footer=_CONDITIONS,
    )


def power_spec(run: EngineRun, display: Display, summary: str) -> dict[str, Any]:
    """Power before and after with the range of its level."""
    unit = "hp" if inches(display) else "kW"
    return chart_spec(
        f"Power {run.before.stage} to {run.after.stage}",
        _speed_axis(),
        Axis("power", unit, 0),
        _before_after(run, lambda h: h.power, lambda v: units.from_si(v, unit, Kind.POWER)),
        summary=summary,
        footer=_CONDITIONS,
    )


def dyno_spec(found: DynoComparison, display: Display, summary: str) -> dict[str, Any]:
    """Torque off the dyno sheet over the forecast with its range, both corrected."""
    unit = "lbf ft" if inches(display) else "Nm"

    def shown(value: float) -> float:
        return units.from_si(value * found.forecast_factor, unit, Kind.TORQUE)

    series = _before_after(found.run, lambda h: h.torque, shown)
    x = [float(n) for n in found.curves.speed]
    for head, values, tone in (
        (found.run.before, found.curves.before, 1),
        (found.run.after, found.curves.after, 0),
    ):
        y = [units.from_si(float(v), unit, Kind.TORQUE) for v in values]
        series.append(Series(f"{head.stage} on the dyno", x, y, tone=tone, dash=2 + tone))
    return chart_spec(
        f"Torque on the dyno and forecast, {found.standard.name}",
        _speed_axis(),
        Axis("torque", unit, 0),
        series,
        summary=summary,
        footer=_CONDITIONS,
    )


def difference_spec(run: EngineRun, summary: str) -> dict[str, Any]:
    """Change of torque with its own, narrower range."""
    d = run.difference
    x = [float(n) for n in run.speed]
    name = f"{run.before.stage} to {run.after.stage}, band: 95 % range"
    change = Series(
        name,
        x,
        [100.0 * float(v) for v in d.gain],
        [100.0 * float(v) for v in d.low],
        [100.0 * float(v) for v in d.high],
    )
    none = Series("no change", x, [0.0] * len(x), quiet=True, points=False)
    return chart_spec(
        f"Change of torque {run.before.stage} to {run.after.stage}",
        _speed_axis(),
        Axis("change of torque", "%", 0),
        [none, change],
        summary=summary,
    )


def mach_spec(waves: Sequence[PortWaves]) -> dict[str, Any]:
    """Mach number in the smallest section against crank angle."""
    series = [
        Series(
            f"{w.stage}, {w.section}",
            [float(a) for a in w.angle],
            [float(v) for v in w.mach[:, w.smallest]],
            tone=tone,
            dash=tone,
            points=False,
        )
        for w, tone in zip(waves, (1, 0), strict=False)
    ]
    return _angle_chart(waves, "Mach number in the smallest section", Axis("Mach", "-", 2), series)


def pressure_spec(waves: Sequence[PortWaves]) -> dict[str, Any]:
    """Pressure at the valve end of the port against crank angle."""
    series = [
        Series(
            w.stage,
            [float(a) for a in w.angle],
            [units.from_si(float(v), "kPa", Kind.PRESSURE) for v in w.pressure[:, -1]],
            tone=tone,
            dash=tone,
            points=False,
        )
        for w, tone in zip(waves, (1, 0), strict=False)
    ]
    return _angle_chart(
        waves, "Pressure in the port at the intake valve", Axis("pressure", "kPa", 0), series
    )


def along_spec(waves: Sequence[PortWaves], display: Display) -> dict[str, Any]:
    """Largest Mach number of the cycle along the port."""
    unit = display.length
    series = [
        Series(
            w.stage,
            [units.from_si(float(x), unit, Kind.LENGTH) for x in w.distance[w.first :]],
            [float(v) for v in w.mach[:, w.first :].max(axis=0)],
            tone=tone,
            dash=tone,
            points=False,
        )
        for w, tone in zip(waves, (1, 0), strict=False)
    ]
    title = f"Largest Mach number along the port at {waves[0].speed:.0f} rpm"
    return chart_spec(
        title,
        Axis("distance from the opening", unit, 2 if inches(display) else 0, minimum=0.0),
        Axis("Mach", "-", 2, minimum=0.0),
        series,
        summary=f"{title}, before and after.",
    )


def _angle_chart(
    waves: Sequence[PortWaves], title: str, axis: Axis, series: Sequence[Series]
) -> dict[str, Any]:
    whole = f"{title} at {waves[0].speed:.0f} rpm"
    return chart_spec(
        whole,
        Axis("crank angle after firing dead centre", "°", 0, minimum=0.0, maximum=720.0),
        axis,
        series,
        summary=f"{whole}, before and after.",
    )
