"""Vector charts for printed pages."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import matplotlib
from matplotlib.axes import Axes
from matplotlib.figure import Figure

# Told apart in print, in grey, and by people who see red and green alike.
_COLOURS = ("#7a7a7a", "#0b5c8a", "#b35a00", "#4b7a2b")
_BAND = "#0b5c8a"
_STYLE: Any = {
    "svg.fonttype": "none",  # text stays text, so that it can be searched and read aloud
    "font.family": "DejaVu Sans",
    "font.size": 8,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "grid.color": "#dddddd",
    "grid.linewidth": 0.5,
}


def font_folder() -> Path:
    """Folder with the fonts that charts and pages share."""
    return Path(matplotlib.get_data_path()) / "fonts" / "ttf"


@dataclass(frozen=True, slots=True)
class Line:
    """One curve: points already in shown units."""

    label: str
    x: Sequence[float]
    y: Sequence[float]


@dataclass(frozen=True, slots=True)
class BandPoint:
    """A gain with its interval, in percent."""

    x: float
    middle: float
    low: float
    high: float
    filled: bool


@dataclass(frozen=True, slots=True)
class RangeLine:
    """One curve with its range, in shown units."""

    label: str
    x: Sequence[float]
    y: Sequence[float]
    low: Sequence[float]
    high: Sequence[float]


def flow_chart(
    lines: Sequence[Line],
    x_label: str,
    y_label: str,
    size: tuple[float, float],
    *,
    decimal: str = ".",
) -> str:
    """Flow against lift for several states.

    Parameters
    ----------
    size : (float, float)
        Width and height. [in]
    decimal : str
        Decimal sign of the figures on the axes.

    Returns
    -------
    str
        SVG.
    """

    def draw(axes: Axes) -> None:
        for colour, mark, line in zip(_COLOURS, "os^d", lines, strict=False):
            axes.plot(line.x, line.y, color=colour, marker=mark, markersize=3, label=line.label)
        axes.set_xlim(left=0)
        axes.set_ylim(bottom=0)
        axes.legend(frameon=False, loc="lower right")

    return _svg(draw, x_label, y_label, size, decimal)


def range_chart(
    lines: Sequence[RangeLine],
    x_label: str,
    y_label: str,
    size: tuple[float, float],
    *,
    decimal: str = ".",
) -> str:
    """Curves with their ranges as shades.

    Parameters as in :func:`flow_chart`.
    """

    def draw(axes: Axes) -> None:
        for colour, mark, line in zip(_COLOURS, "os^d", lines, strict=False):
            axes.fill_between(line.x, line.low, line.high, color=colour, alpha=0.16, lw=0)
            axes.plot(line.x, line.y, color=colour, marker=mark, markersize=3, label=line.label)
        axes.set_ylim(bottom=0)
        axes.legend(frameon=False, loc="lower left")

    return _svg(draw, x_label, y_label, size, decimal)


def gain_chart(
    points: Sequence[BandPoint],
    x_label: str,
    y_label: str,
    size: tuple[float, float],
    *,
    from_zero: bool = True,
    decimal: str = ".",
) -> str:
    """Gain with its 95 % interval; open marks where one can't tell.

    Parameters as in :func:`flow_chart`; ``from_zero`` begins the axis at nothing, as for lift.
    """

    def draw(axes: Axes) -> None:
        xs = [p.x for p in points]
        axes.axhline(0.0, color="black", linewidth=0.8)
        axes.fill_between(
            xs, [p.low for p in points], [p.high for p in points], color=_BAND, alpha=0.18, lw=0
        )
        axes.plot(xs, [p.middle for p in points], color=_BAND, linewidth=1)
        for p in points:
            face = _BAND if p.filled else "white"
            axes.plot([p.x], [p.middle], "o", color=_BAND, markerfacecolor=face, markersize=4)
        if from_zero:
            axes.set_xlim(left=0)

    return _svg(draw, x_label, y_label, size, decimal)


def write_figures(axes: Axes, decimal: str) -> None:
    """Write the figures on both axes with this decimal sign."""
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_formatter(lambda value, _: f"{value:.6g}".replace(".", decimal))


def _svg(
    draw: Callable[[Axes], None],
    x_label: str,
    y_label: str,
    size: tuple[float, float],
    decimal: str,
) -> str:
    with matplotlib.rc_context(_STYLE):
        figure = Figure(figsize=size, layout="constrained")
        axes = figure.subplots()
        draw(axes)
        axes.set_xlabel(x_label)
        axes.set_ylabel(y_label)
        write_figures(axes, decimal)
        out = io.StringIO()
        figure.savefig(out, format="svg", metadata={"Date": None})
    return out.getvalue()
