"""Spoken read-back, a flash at the edge of the screen, and which key the foot pedal sends."""

from __future__ import annotations

from nicegui.element import Element


class Voice(Element, component="voice.js"):
    """Switches kept in the browser; listens for what the number pad tells."""
