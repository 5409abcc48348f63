"""Pages without a socket: log-in and guest view, plain HTML that needs nothing else."""

from __future__ import annotations

from html import escape

from starlette.responses import HTMLResponse

from portwright.ui.theme import asset


def plain_page(title: str, body: str, *, status: int = 200, scripts: str = "") -> HTMLResponse:
    """A whole page; ``body`` and ``scripts`` are markup with every foreign text escaped."""
    return HTMLResponse(
        f"""<!doctype html>
<html lang="en-GB"><head><meta charset="utf-8"><title>{escape(title)} · Portwright</title>
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="robots" content="noindex"><link rel="stylesheet" href="{asset("plain.css")}">
<link rel="stylesheet" href="{asset("portwright.css")}"><script src="{asset("frame.js")}"></script>
</head><body class="plain"><main>{body}</main>{scripts}</body></html>""",
        status,
    )
