"""Cut after cut as steps that add up, each with its interval and whether it is real."""

from __future__ import annotations

import math
from html import escape

from portwright.services.attribution import PortHistory
from portwright.ui.format import signed_percent
from portwright.ui.layout import raw

_WIDTH, _HEIGHT, _LEFT, _TOP, _BOTTOM = 760, 280, 74, 16, 64
_STEPS = (0.0025, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0)
_LEAST = 0.01  # the scale always shows at least this much


def waterfall(found: PortHistory, band: str) -> None:
    """Draw one lift band.

    Parameters
    ----------
    found : PortHistory
    band : str
        Name of the band, "" for the mean over the open time of the cam.
    """
    bars, level = [], 0.0
    for step in found.steps:
        result = step.comparison.result
        gain = (
            next((b.gain for b in result.bands if b.band.name == band), None)
            if band
            else result.over_cam
        )
        if gain is None:
            continue
        # gains multiply, so their logarithms are what adds up
        change, half = math.log1p(gain.gain), 0.5 * (math.log1p(gain.high) - math.log1p(gain.low))
        bars.append((step.after, level, level + change, half, gain))
        level += change
    if not bars:
        return
    high = max([_LEAST, *(max(b[1], b[2]) + b[3] for b in bars)]) * 1.08
    low = min([0.0, *(min(b[1], b[2]) - b[3] for b in bars)]) * 1.08
    scale = (_HEIGHT - _TOP - _BOTTOM) / (high - low)

    def y(value: float) -> float:
        return _TOP + (high - value) * scale

    least, most = math.expm1(low), math.expm1(high)
    apart = next(s for s in _STEPS if (most - least) / s < 7)
    drawn = []
    for k in range(math.ceil(least / apart), int(most / apart) + 1):
        at, look = y(math.log1p(k * apart)), "zero" if k == 0 else "grid"
        text = signed_percent(k * apart, 0 if apart >= 0.01 else 2 if apart < 0.005 else 1)
        drawn.append(
            f'<line class="{look}" x1="{_LEFT}" x2="{_WIDTH}" y1="{at:.1f}" y2="{at:.1f}"/>'
            f'<text class="soft" x="{_LEFT - 8}" y="{at + 5:.1f}" text-anchor="end">'
            f"{text if k else '0 %'}</text>"
        )
    wide = (_WIDTH - _LEFT) / len(bars)
    for k, (stage, start, end, half, gain) in enumerate(bars):
        left, x = _LEFT + wide * (k + 0.15), _LEFT + wide * (k + 0.5)
        look = {"real": "real", "probably": "maybe"}.get(gain.verdict.value, "none")
        top = y(max(start, end))
        drawn.append(
            f'<g class="fall {look}"><rect x="{left:.1f}" width="{0.7 * wide:.1f}" y="{top:.1f}" '
            f'height="{max(abs(end - start) * scale, 1.5):.1f}"/>'
            f'<line class="bar" x1="{x:.1f}" x2="{x:.1f}" y1="{y(end + half):.1f}" '
            f'y2="{y(end - half):.1f}"/>'
            f'<text x="{x:.1f}" y="{_HEIGHT - 38}" text-anchor="middle">{escape(stage)}</text>'
            f'<text x="{x:.1f}" y="{_HEIGHT - 14}" text-anchor="middle" class="soft">'
            f"{signed_percent(gain.gain)}</text></g>"
        )
    words = ", ".join(f"{s} {signed_percent(g.gain)} {g.verdict}" for s, *_, g in bars)
    summary = escape(f"{band or 'over the cam'}: {words}")
    raw(
        f'<div class="strip"><svg viewBox="0 0 {_WIDTH} {_HEIGHT}" role="img" '
        f'aria-label="{summary}">{"".join(drawn)}</svg></div>'
    )
