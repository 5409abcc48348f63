"""What commands print: plain tables for people, JSON for programs."""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Iterable, Sequence
from typing import Any

import typer

from portwright import units
from portwright.errors import Finding, PortwrightError
from portwright.units import Kind


def say(text: str = "") -> None:
    """Print a line."""
    typer.echo(text)


def table(
    headings: Sequence[str],
    rows: Iterable[Sequence[str]],
    indent: str = "  ",
    numeric: Sequence[int] | None = None,
) -> None:
    """Print a table; the columns of numbers right, which are all but the first if not named."""
    body = [list(headings), *[list(r) for r in rows]]
    right = range(1, len(headings)) if numeric is None else numeric
    widths = [max(len(r[i]) for r in body) for i in range(len(headings))]
    for row in body:
        cells = (
            c.rjust(w) if i in right else c.ljust(w)
            for i, (c, w) in enumerate(zip(row, widths, strict=True))
        )
        say(indent + "  ".join(cells).rstrip())


def plain(value: Any) -> Any:
    """Anything Portwright returns as JSON values; a number that is not one becomes null."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, dict):
        return {str(k): plain(v) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(v) for v in value]
    if hasattr(value, "tolist"):
        return plain(value.tolist())
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value if value is None or isinstance(value, (bool, int, float, str)) else str(value)


def print_json(value: Any) -> None:
    """Print a value as JSON."""
    typer.echo(json.dumps(plain(value), indent=2, ensure_ascii=False))


def finding_json(finding: Finding) -> dict[str, Any]:
    """A finding as JSON values, lift in mm."""
    where = finding.where
    lift = None if where.lift is None else round(units.from_si(where.lift, "mm", Kind.LENGTH), 4)
    return {
        "code": finding.code,
        "severity": finding.severity.value,
        "where": {
            "job": where.job,
            "run": where.run,
            "port": where.port,
            "stage": where.stage,
            "repeat": where.repeat,
            "lift": lift,
        },
        "message": finding.message,
        "hint": finding.hint,
        "size": finding.size,
    }


def say_findings(findings: Sequence[Finding], length_unit: str = "mm") -> None:
    """Print findings, worst first as given."""
    for finding in findings:
        where = finding.where
        parts = [where.run, where.port, where.stage]
        if where.lift is not None:
            parts.append(f"{units.show(where.lift, length_unit, Kind.LENGTH)} {length_unit}")
        place = " ".join(p for p in parts if p)
        say(f"{finding.severity.value.upper():8}{place:18} {finding.message}")
        if finding.hint:
            say(f"{'':26} → {finding.hint}")


def error_json(error: PortwrightError) -> dict[str, Any]:
    """An error as JSON values."""
    return {"error": {"code": error.code, "message": error.message, "hint": error.hint}}
