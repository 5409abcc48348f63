"""Openings of port, manifold and gasket laid on one another, drawn to scale."""

from __future__ import annotations

from portwright.core.manifold import Edge
from portwright.core.outline import Outline
from portwright.services.manifold_fit import ManifoldFit

_PAPER = (
    "<style>text{font-family:sans-serif;font-size:2.6px;fill:#1b222c}.head{fill:#dfe8f4;stroke:#16437e;"
    "stroke-width:.35}.runner{fill:none;stroke:#8f4410;stroke-width:.35;stroke-dasharray:1.6 .9}"
    ".gasket{fill:none;stroke:#4b5563;stroke-width:.25;stroke-dasharray:.6 .6}"
    ".land{fill:none;stroke:#4b5563;stroke-width:.25}.hole{fill:none;stroke:#1b222c;stroke-width:.3}"
    ".key path{fill:none;stroke:#1b222c;stroke-width:.3}</style>"
)

_KEY = 14.0  # height of the key below the drawing [mm]


def fit_drawing(fit: ManifoldFit, *, paper: bool = False) -> str:
    """Openings laid on one another, to scale; "" while none is known.

    Parameters
    ----------
    fit : ManifoldFit
    paper : bool
        With its own colours, for print.
    """
    known = {"head": fit.head, "runner": fit.runner, "gasket": fit.gasket}
    drawn = {name: o.points * 1e3 for name, o in known.items() if o is not None}
    if not drawn:
        return ""
    low = [min(float(p[:, i].min()) for p in drawn.values()) for i in (0, 1)]
    high = [max(float(p[:, i].max()) for p in drawn.values()) for i in (0, 1)]
    for holes in fit.holes.values():
        low = [min(low[i], 1e3 * float(holes[:, i].min())) for i in (0, 1)]
        high = [max(high[i], 1e3 * float(holes[:, i].max())) for i in (0, 1)]
    if fit.head is not None:
        _lands(fit, fit.head, low, high)
    parts = []
    if fit.head is not None and fit.rooms:
        x0, y0 = low
        parts.append(
            f'<rect class="land" x="{x0:.2f}" y="{-high[1]:.2f}" width="{high[0] - x0:.2f}" '
            f'height="{high[1] - y0:.2f}"/>'
        )
    for name, points in drawn.items():
        text = " ".join(f"{x:.2f},{-y:.2f}" for x, y in points)
        parts.append(f'<polygon class="{name}" points="{text}"/>')
    parts += _holes(fit)
    parts.append(_key(low[0], -low[1] + 7.0))
    middle = 0.5 * (low[0] + high[0])
    parts.append(
        f'<text x="{middle:.2f}" y="{-high[1] - 2:.2f}" text-anchor="middle">roof</text>'
        f'<text x="{middle:.2f}" y="{-low[1] + 4:.2f}" text-anchor="middle">floor</text>'
    )
    about = (
        f"Openings of {fit.port} to scale: head full, manifold or pipe dashed, gasket dotted"
        + (", gasket face round them" if fit.rooms else "")
        + (", rings for the holes they are laid by" if fit.laid else "")
        + ". Across counts to the right, up away from the deck, a turn anticlockwise."
    )
    margin = 6.0
    box = (
        f"{low[0] - margin:.2f} {-high[1] - margin:.2f} {high[0] - low[0] + 2 * margin:.2f} "
        f"{high[1] - low[1] + 2 * margin + _KEY:.2f}"
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}" role="img" '
        f'aria-label="{about}">{_PAPER if paper else ""}{"".join(parts)}</svg>'
    )


def _lands(fit: ManifoldFit, head: Outline, low: list[float], high: list[float]) -> None:
    """Widen the box to the gasket face on every side where it is known."""
    ends = {
        Edge.ROOF: float(head.points[:, 1].max()),
        Edge.FLOOR: float(head.points[:, 1].min()),
        Edge.LEFT: float(head.points[:, 0].min()),
        Edge.RIGHT: float(head.points[:, 0].max()),
    }
    for edge in fit.rooms:
        land = fit.known[f"land beyond {edge.value}"].value
        if edge in {Edge.ROOF, Edge.RIGHT}:
            axis = 1 if edge is Edge.ROOF else 0
            high[axis] = max(high[axis], 1e3 * (ends[edge] + land))
        else:
            axis = 1 if edge is Edge.FLOOR else 0
            low[axis] = min(low[axis], 1e3 * (ends[edge] - land))


def _holes(fit: ManifoldFit) -> list[str]:
    """Rings where the holes of each part come to lie."""
    return [
        f'<circle class="hole" cx="{1e3 * x:.2f}" cy="{-1e3 * y:.2f}" r="{size}"/>'
        for part, size in (("head", 1.6), ("runner", 1.1), ("gasket", 0.7))
        for x, y in fit.holes.get(part, ())
    ]


def _key(x: float, y: float) -> str:
    """Which way across, up and a turn count."""
    return (
        f'<g class="key" transform="translate({x:.2f} {y:.2f})">'
        '<path d="M0 8V1M-1 2.4L0 1L1 2.4M0 8H7M5.6 7L7 8L5.6 9"/>'
        '<path d="M26 8A4 4 0 0 0 22 4M23.3 3L22 4L23.3 5"/>'
        '<text x="1.4" y="3">up +</text><text x="7.6" y="9">across +</text>'
        '<text x="27" y="6">turn +</text></g>'
    )
