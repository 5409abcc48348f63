"""Our own line drawings for the places of the app, 24 by 24."""

from __future__ import annotations

_PATHS = {
    # a valve on its seat
    "mark": "M12 3v11M6 18c2.5 0 4-2 6-4 2 2 3.5 4 6 4M4 18h16M9 3h6",
    # a tag on a wire
    "jobs": "M4 9l6-5h10v16H10l-6-5zM9.5 12h.01M13 9h4M13 12h4M13 15h4",
    # air drawn down through an opening
    "bench": "M4 5h5c2 0 3 1 3 3v2M20 5h-5c-2 0-3 1-3 3M4 14h5M15 14h5M12 12v8M9 17l3 3 3-3",
    # caliper jaws on a step
    "measure": "M3 5h18v4H3zM6 9v8l3 3V9M15 9v5h3V9M12 5v2M16 5v2M8 5v2",
    # two curves that part
    "compare": "M4 20C8 12 12 8 20 6M4 20c5-5 9-6 16-7M4 4v16h16",
    # steps, one of them marked
    "rank": "M3 20h18M5 20v-5h4v5M10 20V8h4v12M15 20v-8h4v8M12 3v2",
    # a hanging lamp
    "lamp": "M12 2v5M5 15a7 7 0 0 1 14 0zM9 18a3 3 0 0 0 6 0",
    # a vice
    "shop": "M3 20h18M6 20v-6h12v6M8 14V9h8v5M12 9V4M8 4h8",
}


def icon(name: str) -> str:
    """SVG of a place; the words beside it name it, so it is hidden from screen readers."""
    return (
        '<svg viewBox="0 0 24 24" fill="none" stroke="currentColor" stroke-width="1.8" '
        'stroke-linecap="round" stroke-linejoin="round" aria-hidden="true">'
        f'<path d="{_PATHS[name]}"/></svg>'
    )
