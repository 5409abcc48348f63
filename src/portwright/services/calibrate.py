"""A new calibration version of a bench; older sweeps keep the one they were taken with."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from portwright.archive.archive import Archive
from portwright.core.flow_element import CalibrationTable
from portwright.errors import InputError, UnknownNameError
from portwright.io.calibrations import same_constants
from portwright.model.bench import (
    Calibration,
    CalibrationPoint,
    Metering,
    MeterRange,
    OrificeMeter,
)
from portwright.model.contents import ShopContents
from portwright.services.jobs import today
from portwright.units import Kind, read

# Metering with a table: what its rows indicate, and the unit where none is typed.
TABLES = {Metering.DIRECT: (Kind.FLOW, "cfm"), Metering.FLOW_ELEMENT: (Kind.PRESSURE, "inH2O")}
ORIFICES = (Metering.ORIFICE_PLATE, Metering.ORIFICE_ISO)


@dataclass(frozen=True, slots=True)
class NewCalibration:
    """What changes; what is left empty stays as in the version it is based on.

    Parameters
    ----------
    reason : str
        Why: "plate 4 replaced".
    valid_from : str
        ISO date, today where empty.
    based_on : int
        Version; where 0 the newest that has what changes.
    ranges : mapping of int to str
        Range number to flow at 100 percent, with unit.
    points : str
        Rows "indicated = flow" parted by semicolons: of a direct-reading bench the flow shown with
        a plate and the flow of the plate; of a flow element its pressure drop and flow.
    bore, pipe, coefficient : str
        Of a metering orifice.
    uncertainty : str
        Standard uncertainty of the bench against true flow, in percent.
    """

    reason: str
    valid_from: str = ""
    based_on: int = 0
    ranges: Mapping[int, str] = field(default_factory=dict)
    points: str = ""
    bore: str = ""
    pipe: str = ""
    coefficient: str = ""
    uncertainty: str = ""


def base_of(archive: Archive, code: str, new: NewCalibration) -> Calibration:
    """Version a new one begins from: the one named, else the newest that has what changes.

    Raises
    ------
    UnknownNameError
        No such bench or version.
    InputError
        A bench without any calibration, or what changes is no part of it.
    """
    codes = [b.code for b in archive.benches()]
    if code not in codes:
        raise UnknownNameError("bench", code, codes)
    own = {c.version: c for c in archive.calibrations() if c.bench == code}
    if not own:
        raise InputError(f"Bench {code} has no calibration yet.", "Describe the bench first.")
    if new.based_on and new.based_on not in own:
        raise UnknownNameError("calibration version", str(new.based_on), map(str, own))
    tried = [own[new.based_on]] if new.based_on else [own[v] for v in sorted(own, reverse=True)]
    for calibration in tried:
        if not _foreign(calibration, new):
            return calibration
    newest = tried[0]
    raise InputError(
        f"{newest.key} is {newest.metering.value}: it has no {_foreign(newest, new)}.",
        "Change what it has, or base the new version on one that has this.",
    )


def add_calibration(archive: Archive, code: str, new: NewCalibration) -> Calibration:
    """Store a new version; no sweep and no reading changes.

    Raises
    ------
    InputError
        No reason, nothing that changes, or something this kind of bench does not have.
    UnknownNameError
        No such bench, version or range.
    UnitError
        Not a flow, pressure or length.
    """
    if not new.reason.strip():
        raise InputError("A new calibration needs its reason.", "Say what changed on the bench.")
    based = base_of(archive, code, new)
    made = replace(
        based,
        version=max(c.version for c in archive.calibrations() if c.bench == code) + 1,
        valid_from=new.valid_from.strip() or today(),
        ranges=_ranges(based, new.ranges),
        table=_points(based, new.points) if new.points.strip() else based.table,
        orifice=_orifice(based, new),
        relative_uncertainty=_uncertainty(based, new.uncertainty),
        reason=new.reason.strip(),
    )
    if same_constants(based, made):
        raise InputError(
            f"Nothing differs from {based.key}.", "Change a constant; a note belongs on the bench."
        )
    archive.save(ShopContents(calibrations=(made,)))
    return made


def _foreign(based: Calibration, new: NewCalibration) -> str:
    """What is to change although such a bench has none of it, "" where all goes together."""
    orifice = based.metering in ORIFICES
    plate, pipe = based.metering is Metering.ORIFICE_PLATE, based.metering is Metering.ORIFICE_ISO
    has = {
        "ranges": (bool(new.ranges), based.metering is Metering.PERCENT_OF_RANGE),
        "table of points": (bool(new.points.strip()), based.metering in TABLES),
        "bore": (bool(new.bore.strip()), orifice),
        "pipe": (bool(new.pipe.strip()), pipe),
        "coefficient": (bool(new.coefficient.strip()), plate),
    }
    return next((what for what, (given, fits) in has.items() if given and not fits), "")


def _ranges(based: Calibration, new: Mapping[int, str]) -> tuple[MeterRange, ...]:
    unknown = set(new) - {r.number for r in based.ranges}
    if unknown:
        raise UnknownNameError("range", str(min(unknown)), (str(r.number) for r in based.ranges))
    return tuple(
        replace(r, full_scale=read(new[r.number], Kind.FLOW, "cfm"))
        if new.get(r.number, "").strip()
        else r
        for r in based.ranges
    )


def _points(based: Calibration, text: str) -> tuple[CalibrationPoint, ...]:
    kind, unit = TABLES[based.metering]
    rows = [row for row in re.split(r"[;\n]", text) if row.strip()]
    found = []
    for row in rows:
        indicated, sign, flow = row.partition("=")
        if not sign:
            raise InputError(
                f"'{row.strip()}' is no row of a calibration.", "Type rows like 66.9 = 69.6."
            )
        point = CalibrationPoint(read(indicated, kind, unit), read(flow, Kind.FLOW, "cfm"))
        if not (point.indicated.si > 0.0 and point.flow.si > 0.0):
            raise InputError(f"'{row.strip()}' must be above zero on both sides.", "Check it.")
        found.append(point)
    found.sort(key=lambda p: p.indicated.si)
    CalibrationTable(  # says what is wrong with the rows together
        np.array([p.indicated.si for p in found]), np.array([p.flow.si for p in found])
    )
    return tuple(found)


def _orifice(based: Calibration, new: NewCalibration) -> OrificeMeter | None:
    old = based.orifice
    if not (new.bore.strip() or new.pipe.strip() or new.coefficient.strip()):
        return old
    if new.bore.strip():
        bore = read(new.bore, Kind.LENGTH, "mm")
        made = OrificeMeter(bore) if old is None else replace(old, bore=bore)
    elif old is None:
        raise InputError(f"{based.key} has no bore yet.", "Type the bore as well.")
    else:
        made = old
    if new.pipe.strip():
        made = replace(made, pipe=read(new.pipe, Kind.LENGTH, "mm"))
    if new.coefficient.strip():
        made = replace(made, coefficient=_number(new.coefficient, "coefficient", 0.3, 1.2))
    return made


def _uncertainty(based: Calibration, text: str) -> float:
    if not text.strip():
        return based.relative_uncertainty
    return _number(text.replace("%", ""), "uncertainty in percent", 0.01, 20.0) / 100.0


def _number(text: str, what: str, low: float, high: float) -> float:
    try:
        found = float(text.strip().replace(",", "."))
    except ValueError as error:
        raise InputError(f"'{text.strip()}' is no {what}.", f"Type a number like {low}.") from error
    if not low <= found <= high:
        raise InputError(f"A {what} of {found:g} cannot be.", f"{low:g} to {high:g} is possible.")
    return found


def points_from_plates(archive: Archive, code: str, date: str = "") -> tuple[str, str]:
    """Rows of a table from plates read on a bench that shows flow, and their day.

    Parameters
    ----------
    date : str
        Session; the newest where empty.

    Raises
    ------
    InputError
        Fewer than two plates were read that day.
    """
    checks = [c for c in archive.plate_checks() if c.bench == code]
    day = date or max((c.date for c in checks), default="")
    plates: dict[str, list[float]] = {}
    for c in checks:
        if c.date == day:
            plates.setdefault(str(c.certified), []).append(c.measured.si / c.certified.si)
    if len(plates) < 2:
        raise InputError(
            f"{len(plates)} plates were read on {code}{' on ' + day if day else ''}; two or more "
            "make a calibration.",
            "Read the plates first.",
        )
    rows = []
    for certified, readings in plates.items():
        true = read(certified, Kind.FLOW)
        shown = float(true.text.replace(",", ".")) * float(np.mean(readings))
        rows.append((true.si, f"{shown:.2f} {true.unit} = {certified}"))
    return "; ".join(text for _, text in sorted(rows)), day
