"""Findings of a job by weight."""

from __future__ import annotations

from collections.abc import Iterable

from nicegui import ui

from portwright.errors import Finding, Severity
from portwright.ui.errors import show_finding
from portwright.ui.layout import heading

_ORDER = (Severity.FAULT, Severity.WARNING, Severity.NOTE)


def job_findings(findings: Iterable[Finding]) -> None:
    """Faults first; many of one kind stand under the first of them."""
    by_code: dict[str, list[Finding]] = {}
    for finding in sorted(findings, key=lambda f: _ORDER.index(f.severity)):
        by_code.setdefault(finding.code, []).append(finding)
    with ui.element("section").classes("sheet"):
        heading("Findings")
        if not by_code:
            ui.label("Nothing found in the runs and measurements so far.").classes("soft")
        for same in by_code.values():
            show_finding(same[0])
            if len(same) > 1:
                with ui.expansion(f"{len(same) - 1} more of this kind").classes("fold"):
                    for finding in same[1:]:
                        ui.label(finding.message).classes("small")
