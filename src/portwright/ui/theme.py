"""Style sheet and scripts every page carries, served by the app itself."""

from __future__ import annotations

import hashlib
from pathlib import Path

from nicegui import app, ui

ASSETS = Path(__file__).parent / "assets"
ADDRESS = "/assets"


def asset(name: str) -> str:
    """Address of a file in ``assets``, different whenever its content is."""
    digest = hashlib.sha256((ASSETS / name).read_bytes()).hexdigest()[:12]
    return f"{ADDRESS}/{name}?v={digest}"


def head() -> str:
    """Tags for the head of a page; the script runs before the first paint."""
    return (
        f'<link rel="stylesheet" href="{asset("portwright.css")}">'
        f'<script src="{asset("frame.js")}"></script>'
        f'<script defer src="{asset("draw_chart.js")}"></script>'
    )


def install() -> None:
    """Serve the assets and put them into every page."""
    app.add_static_files(ADDRESS, ASSETS)
    app.config.quasar_config["loadingBar"]["aria-label"] = "Loading"  # it has no name of its own
    ui.add_head_html(head(), shared=True)
    ui.add_body_html('<div id="offline" role="alert">Not connected: not saved</div>', shared=True)
