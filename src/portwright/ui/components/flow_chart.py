"""Interactive curves with bands, drawn in the browser, saved as SVG or PNG for print."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from nicegui.element import Element


@dataclass(frozen=True, slots=True)
class Axis:
    """One axis, always with its unit; ``-`` for a bare number, which shows none.

    Parameters
    ----------
    label, unit : str
    decimals : int
        Digits of the readout.
    minimum, maximum : float or None
        Value the axis reaches at least.
    """

    label: str
    unit: str
    decimals: int = 1
    minimum: float | None = None
    maximum: float | None = None

    def props(self) -> dict[str, Any]:
        """For the browser."""
        return {
            "label": self.label,
            "unit": "" if self.unit == "-" else self.unit,
            "decimals": self.decimals,
            "min": self.minimum,
            "max": self.maximum,
        }


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """One curve in units of the axes.

    Parameters
    ----------
    name : str
        Shown in the list of curves; "" draws without listing.
    x, y : sequence of float
        NaN leaves a gap.
    low, high : sequence of float
        Edges of the band, empty for none.
    tone : int
        Colour 0 to 7; 0 is the curve at hand, 1 what it is compared with.
    dash : int
        Line pattern 0 (full) to 7.
    quiet : bool
        Thin grey background curve.
    points : bool
        Draw a dot at each reading.
    marks : sequence of (x, y, text)
        Rings around readings to look at.
    """

    name: str
    x: Sequence[float]
    y: Sequence[float]
    low: Sequence[float] = ()
    high: Sequence[float] = ()
    tone: int = 0
    dash: int = 0
    quiet: bool = False
    points: bool = True
    marks: Sequence[tuple[float, float, str]] = ()

    def props(self) -> dict[str, Any]:
        """For the browser."""
        banded = len(self.low) == len(self.x) and len(self.high) == len(self.x)
        return {
            "name": self.name,
            "x": [float(v) for v in self.x],
            "y": _numbers(self.y),
            "low": _numbers(self.low) if banded else None,
            "high": _numbers(self.high) if banded else None,
            "tone": self.tone,
            "dash": self.dash,
            "quiet": self.quiet,
            "unlisted": not self.name or self.quiet,
            "points": self.points,
            "marks": [{"x": float(x), "y": float(y), "text": text} for x, y, text in self.marks],
        }


def _numbers(values: Sequence[float]) -> list[float | None]:
    return [float(v) if math.isfinite(v) else None for v in values]


def chart_spec(
    title: str, x: Axis, y: Axis, series: Sequence[Series], *, summary: str = "", footer: str = ""
) -> dict[str, Any]:
    """Everything a drawing needs, ready for JSON.

    Parameters
    ----------
    title : str
        Heading of a saved picture and its file name.
    summary : str
        What the chart shows in one sentence, for those who cannot see it.
    footer : str
        Conditions, printed under a saved picture so that the curve never travels without them.
    """
    return {
        "title": title,
        "x": x.props(),
        "y": y.props(),
        "series": [s.props() for s in series],
        "summary": summary,
        "footer": footer,
    }


class FlowChart(Element, component="flow_chart.js"):
    """Chart of a spec from :func:`chart_spec`.

    Parameters
    ----------
    spec : dict
    height : str
        CSS height of the plot.
    saving : bool
        Offer SVG and PNG.
    """

    def __init__(self, spec: dict[str, Any], *, height: str = "380px", saving: bool = True) -> None:
        super().__init__()
        self._props.update(spec=spec, height=height, saving=saving)

    def draw(self, spec: dict[str, Any]) -> None:
        """Draw something else in place."""
        self._props["spec"] = spec
