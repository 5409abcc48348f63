"""A plan as a sheet for the workshop: headed lines in the units the shop reads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from portwright import units
from portwright.model.contents import JobContents
from portwright.report.pdf import render_work_sheet
from portwright.services.display import Display
from portwright.services.plan_terms import Known, Origin
from portwright.units import Kind

_DIGITS = {"mm": 2, "in": 3, "thou": 1}


@dataclass(frozen=True, slots=True)
class Part:
    """One headed part of the sheet."""

    title: str
    lines: tuple[str, ...]


class Say:
    """Lengths and volumes as the shop reads them."""

    def __init__(self, display: Display) -> None:
        self._unit = display.small_length

    def cut(self, value: float) -> str:
        """A depth or gap, without its sign."""
        text = units.show(abs(value), self._unit, Kind.LENGTH, _DIGITS[self._unit])
        return f"{text} {self._unit}"

    def tolerance(self, value: float) -> str:
        """Plus or minus."""
        return f"±{self.cut(value)}"

    def per_step(self, per_depth: float) -> str:
        """Volume for each step of depth."""
        if self._unit == "thou":
            return f"{per_depth * 25.4e-6 * 1e6:.3f} cc per 0.001 in"
        return f"{per_depth * 1e3:.2f} cc per mm"


def cc(value: float) -> str:
    """A volume to the tenth a burette shows."""
    return f"{value * 1e6:.1f} cc"


def belongs_to(contents: JobContents) -> str:
    """Casting and heads a sheet is for."""
    heads = ", ".join(f"{h.code} {h.serial}".strip() for h in contents.heads)
    casting = f"casting {contents.job.casting}" if contents.job.casting else "casting not recorded"
    return f"{casting}; heads {heads}" if heads else casting


def numbered(steps: Sequence[str]) -> tuple[str, ...]:
    """Steps in their order."""
    return tuple(f"{i}. {text}" for i, text in enumerate(steps, 1))


def work_sheet_pdf(title: str, lead: str, parts: Sequence[Part], drawing: str = "") -> bytes:
    """A sheet on paper.

    Parameters
    ----------
    title, lead : str
    parts : sequence of Part
    drawing : str
        SVG above the parts, "" for none.

    Raises
    ------
    ReportError
        The page could not be set.
    """
    return render_work_sheet(title, lead, [(p.title, p.lines) for p in parts], drawing)


_UNITS = {
    Kind.VOLUME: "cc",
    Kind.AREA: "cm2",
    Kind.ANGLE: "deg",
    Kind.LENGTH: "mm",
    Kind.RATIO: "-",
    Kind.PRESSURE: "bar",
    Kind.FORCE: "N",
    Kind.STIFFNESS: "N/mm",
}


def number_line(known: Known) -> str:
    """One number of the plan with its origin, loud where it is assumed."""
    unit = _UNITS[known.term.kind]
    sign = "" if unit == "-" else f" {unit}"
    text = f"{known.term.name}: {units.show(known.value, unit, known.term.kind)}{sign}"
    if known.uncertainty > 0.0:
        spread = units.show(2.0 * known.uncertainty, unit, known.term.kind)
        text += f" ± {spread}{sign} ({known.term.label})"
    origin = known.origin.value.upper() if known.origin is Origin.ASSUMED else known.origin.value
    return f"{text}, {origin}: {known.note}."
