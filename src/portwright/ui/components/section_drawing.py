"""Outline of a section with its box and what its sizes are called."""

from __future__ import annotations

from collections.abc import Sequence

_SIDE, _MARGIN = 190.0, 46.0
_NAMES = {
    "top left radius": (0.0, 1.0, "start", "top left"),
    "top right radius": (1.0, 1.0, "end", "top right"),
    "bottom right radius": (1.0, 0.0, "end", "bottom right"),
    "bottom left radius": (0.0, 0.0, "start", "bottom left"),
}


def section_drawing(
    outline: Sequence[tuple[float, float]], sizes: Sequence[str], label: str
) -> str:
    """Picture as SVG text.

    Parameters
    ----------
    outline : sequence of (across, up)
        [m]
    sizes : sequence of str
        Names of the sizes of the shape.
    label : str
        What is drawn, for those who cannot see it.
    """
    wide, high = (max(p[k] for p in outline) for k in (0, 1))
    scale = _SIDE / max(wide, high)
    w, h = wide * scale, high * scale
    left, top = _MARGIN, _MARGIN

    def at(x: float, y: float) -> tuple[float, float]:
        return left + x * scale, top + h - y * scale

    path = "L".join("{:.1f} {:.1f}".format(*at(x, y)) for x, y in outline)
    parts = [
        f'<path d="M{path}Z" fill="var(--blue)" fill-opacity="0.14" stroke="currentColor"/>',
    ]
    across = "diameter" if "diameter" in sizes else "width"
    parts.append(_size(left, top + h + 14, left + w, top + h + 14))
    parts.append(_word(left + w / 2, top + h + 36, across, "middle"))
    if "height" in sizes:
        parts.append(_size(left + w + 14, top, left + w + 14, top + h))
        parts.append(_word(left + w + 24, top + h / 2 + 6, "height", "start"))
    if "roof height" in sizes:
        roof = min(y for x, y in outline if abs(x - wide) < 1e-9 and y > 0.0) if wide else 0.0
        roof = max((y for x, y in outline if abs(x - wide) < 1e-6 * wide), default=roof)
        y = at(0.0, roof)[1]
        parts.append(_size(left - 14, top, left - 14, y))
        parts.append(_word(left - 20, top + 0.5 * (y - top) + 6, "roof", "end"))
    if "corner radius" in sizes:
        parts.append(_word(left + 0.16 * w, top + h - 12, "corner radius", "start", 14))
    for name, (x, y, anchor, words) in _NAMES.items():
        if name in sizes:
            px = left + (0.12 if x == 0.0 else 0.88) * w
            py = top + (h - 14 if y == 0.0 else 26)
            parts.append(_word(px, py, words, anchor, 14))
    width, height = w + 2 * _MARGIN + 40, h + 2 * _MARGIN
    return (
        f'<svg viewBox="0 0 {width:.0f} {height:.0f}" role="img" aria-label="{label}" '
        f'font-size="16" style="width:100%;max-width:{width:.0f}px;height:auto" '
        f'fill="var(--ink)">{"".join(parts)}</svg>'
    )


def _size(x1: float, y1: float, x2: float, y2: float) -> str:
    tick = 'stroke="var(--ink)" stroke-width="1.5"'
    flat = y1 == y2
    ends = "".join(
        f'<line x1="{x:.1f}" y1="{y - 5 if flat else y:.1f}" x2="{x if flat else x + 5:.1f}" '
        f'y2="{y + 5 if flat else y:.1f}" {tick}/>'
        for x, y in ((x1, y1), (x2, y2))
    )
    return f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" {tick}/>{ends}'


def _word(x: float, y: float, words: str, anchor: str, size: int = 16) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="{size}">{words}</text>'
