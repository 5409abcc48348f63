"""All ports of a head on one strip: deviation from their mean, with what the bench can tell."""

from __future__ import annotations

from html import escape

from portwright.services.uniformity import Uniformity
from portwright.ui.format import signed_percent
from portwright.ui.layout import raw

_WIDTH, _HEIGHT, _LEFT, _TOP, _BOTTOM = 760, 240, 74, 16, 40
_LEAST = 0.01  # the scale always shows at least this much either way


def uniformity_strip(found: Uniformity, band: int) -> None:
    """Draw one band.

    Parameters
    ----------
    found : Uniformity
    band : int
        Place in ``found.bands``.
    """
    marks = [(p.port, p.bands[band]) for p in found.ports]
    reach = max([_LEAST, *(abs(d.value) + d.half for _, d in marks)]) * 1.08
    middle = (_TOP + _HEIGHT - _BOTTOM) / 2.0
    scale = (_HEIGHT - _BOTTOM - _TOP) / 2.0 / reach

    def y(value: float) -> float:
        return middle - value * scale

    step = next(s for s in (0.0025, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5) if reach / s < 4.5)
    lines = []
    for k in range(-int(reach / step), int(reach / step) + 1):
        at, style = y(k * step), "zero" if k == 0 else "grid"
        lines.append(
            f'<line class="{style}" x1="{_LEFT}" x2="{_WIDTH}" y1="{at:.1f}" y2="{at:.1f}"/>'
        )
        digits = 0 if step >= 0.01 else 2 if step < 0.005 else 1
        text = signed_percent(k * step, digits) if k else "mean"
        lines.append(
            f'<text class="soft" x="{_LEFT - 8}" y="{at + 5:.1f}" text-anchor="end">{text}</text>'
        )
    half = found.bands[band].by_chance / 2.0
    chance = (
        f'<rect class="chance" x="{_LEFT}" width="{_WIDTH - _LEFT}" y="{y(half):.1f}" '
        f'height="{2 * half * scale:.1f}"/>'
    )
    wide = (_WIDTH - _LEFT) / len(marks)
    dots = []
    for k, (port, deviation) in enumerate(marks):
        x = _LEFT + wide * (k + 0.5)
        look = "real" if deviation.verdict.value == "real" else ""
        top, low = y(deviation.value + deviation.half), y(deviation.value - deviation.half)
        dots.append(
            f'<g class="{look}"><line class="bar" x1="{x:.1f}" x2="{x:.1f}" y1="{top:.1f}" '
            f'y2="{low:.1f}"/>'
            f'<circle class="dot" cx="{x:.1f}" cy="{y(deviation.value):.1f}" r="7"/>'
            f'<text x="{x:.1f}" y="{_HEIGHT - 14}" text-anchor="middle">{escape(port)}</text></g>'
        )
    words = ", ".join(f"{port} {signed_percent(d.value)}" for port, d in marks)
    summary = escape(
        f"{found.bands[band].name}: {words}; {found.bands[band].by_chance:.1%} by chance"
    )
    raw(
        f'<div class="strip"><svg viewBox="0 0 {_WIDTH} {_HEIGHT}" role="img" '
        f'aria-label="{summary}">{chance}{"".join(lines)}{"".join(dots)}</svg></div>'
    )
