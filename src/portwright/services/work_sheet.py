"""A plan as a sheet for the workshop: headed lines and tables in the units the shop reads."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from enum import StrEnum

from portwright import units
from portwright.model.contents import JobContents
from portwright.report.document import Grid
from portwright.report.pdf import render_work_sheet
from portwright.services.clearances import open_checks
from portwright.services.display import Display
from portwright.services.plan_terms import Known, Origin
from portwright.services.shop_figures import Figure
from portwright.units import Kind

NOT_CHECKED_LOUD = "NOT CHECKED YET"
BELOW_LOUD = "BELOW THE LEAST"


class Place(StrEnum):
    """Where a part stands on paper."""

    FULL = "full"
    BESIDE = "beside"  # two in a row share the width
    BY_DRAWING = "by drawing"  # right of the drawing; the full width where there is none
    UNDER_DRAWING = "under drawing"  # as beside where there is none


@dataclass(frozen=True, slots=True)
class Part:
    """One headed part of the sheet.

    Parameters
    ----------
    title : str
    lines : tuple of str
        Above the table.
    grid : Grid or None
    notes : tuple of str
        Small, under the table.
    loud : bool
        Must not be overlooked.
    place : Place
    """

    title: str
    lines: tuple[str, ...] = ()
    grid: Grid | None = None
    notes: tuple[str, ...] = ()
    loud: bool = False
    place: Place = Place.FULL


class Say:
    """Lengths, areas and volumes as the shop reads them."""

    def __init__(self, display: Display) -> None:
        self._display = display
        self.inch = display.small_length == "thou"

    def cut(self, value: float) -> str:
        """A depth, gap or size, without its sign.

        In inches to the thousandth from a tenth of an inch; below that in thousandths, under fifty
        with a decimal, as cuts are read.
        """
        value = abs(value)
        if not self.inch:
            return f"{units.show(value, 'mm', Kind.LENGTH, 2)} mm"
        thou = units.from_si(value, "thou", Kind.LENGTH)
        if thou >= 99.5:
            return f"{units.show(value, 'in', Kind.LENGTH, 3)} in"
        return f"{thou:.{1 if thou < 49.95 else 0}f} thou"

    def about(self, value: float) -> str:
        """An estimate: to a tenth of a millimetre or a hundredth of an inch."""
        if not self.inch:
            return f"{units.show(value, 'mm', Kind.LENGTH, 1)} mm"
        return f"{units.show(value, 'in', Kind.LENGTH, 2)} in"

    def tolerance(self, value: float) -> str:
        """Plus or minus."""
        return f"±{self.cut(value)}"

    def per_step(self, per_depth: float) -> str:
        """Volume for each step of depth."""
        if self.inch:
            return f"{per_depth * 25.4e-6 * 1e6:.3f} cc per 0.001 in"
        return f"{per_depth * 1e3:.2f} cc per mm"

    def figure(self, figure: Figure) -> str:
        """A figure of the shop: as typed, in an inch shop as lengths are read there."""
        if self.inch and figure.kind is Kind.LENGTH:
            return self.cut(figure.value.si)
        return figure.text

    def force(self, value: float | None) -> str:
        """A force to three digits, a dash where it is not known."""
        if value is None:
            return "–"
        unit = "lbf" if self.inch else "N"
        return f"{float(f'{units.from_si(value, unit, Kind.FORCE):.3g}'):.0f} {unit}"

    def number(self, value: float, kind: Kind, doubt: float = 0.0) -> str:
        """A number of a plan with its unit; without a doubt no zeros that nobody measured."""
        unit = (_INCH_UNITS if self.inch else _UNITS).get(kind) or _UNITS[kind]
        digits = 3 if unit == "in" else units.unit(unit, kind).decimals
        if doubt > 0.0:
            digits = min(digits, _decimals(doubt / units.spread_to_si(1.0, unit, kind)))
            text, spread = (units.show(v, unit, kind, digits) for v in (value, doubt))
            text += f" ± {spread}"
        else:
            text = units.show(value, unit, kind, digits)
            text = text.rstrip("0").rstrip(".") if "." in text else text
        sign = units.sign(unit)
        return text if unit == "-" else f"{text}{'' if sign == '°' else ' '}{sign}"


def _decimals(doubt: float) -> int:
    """Digits behind the point a doubt leaves: its first, and a second where it begins with 1, 2."""
    size = math.floor(math.log10(doubt))
    return max(0, (1 if doubt / 10.0**size < 3.0 else 0) - size)


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
_INCH_UNITS = {
    Kind.AREA: "in2",
    Kind.LENGTH: "in",
    Kind.PRESSURE: "psi",
    Kind.FORCE: "lbf",
    Kind.STIFFNESS: "lbf/in",
}


def sources(figures: Iterable[tuple[str, Figure]]) -> str:
    """Where the shop's figures come from, in one line: what each source holds for."""
    by_tag: dict[str, list[str]] = {}
    for name, figure in figures:
        by_tag.setdefault(figure.tag, []).append(name)
    told = (f"{', '.join(dict.fromkeys(names))}: {tag}" for tag, names in by_tag.items())
    return f"Where the least comes from. {'. '.join(told)}."


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


def before_it_runs(contents: JobContents, *more: str) -> Part:
    """What nobody checked, loudly; ``more`` is said either way."""
    missing = open_checks(contents)
    if not missing:
        done = "All usual checks are on record with instrument and day."
        return Part("Before it runs", (done, *more))
    return Part("Before it runs", (f"{NOT_CHECKED_LOUD}: {', '.join(missing)}.", *more), loud=True)


def numbers_used(known: Iterable[Known], display: Display, place: Place = Place.FULL) -> Part:
    """Every number a plan rests on with its origin, loud where it is assumed."""
    say = Say(display)
    rows = tuple(_number_row(one, say) for one in known)
    if not rows:
        return Part("Numbers used", ("None yet.",))
    grid = Grid(("Number", "Value", "From"), rows, wide=(2,))
    return Part("Numbers used", grid=grid, place=place)


def _number_row(known: Known, say: Say) -> tuple[str, ...]:
    origin = known.origin.value.upper() if known.origin is Origin.ASSUMED else known.origin.value
    said = "" if known.origin is Origin.ENTERED else f": {known.note}"
    doubt = f" (± {known.term.label})" if known.uncertainty > 0.0 else ""
    value = say.number(known.value, known.term.kind, 2.0 * known.uncertainty)
    return known.term.name, value, f"{origin}{said}{doubt}"


def work_sheet_pdf(title: str, lead: str, parts: Sequence[Part], drawing: str = "") -> bytes:
    """A sheet on paper.

    Parameters
    ----------
    title, lead : str
    parts : sequence of Part
    drawing : str
        SVG beside the parts that want it, "" for none.

    Raises
    ------
    ReportError
        The page could not be set.
    """
    return render_work_sheet(title, lead, [asdict(p) for p in parts], drawing)
