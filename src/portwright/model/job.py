"""Jobs: the shop's unit of work, its stages, measurements, sheets and notes."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from portwright.model.quantity import AsTyped


@dataclass(frozen=True, slots=True)
class Shop:
    """The shop itself.

    Parameters
    ----------
    name, town, porter : str
    currency : str
        ISO 4217 code.
    labour_rate : str
        Money as decimal text per hour, "" when not set.
    length_unit, flow_unit, pressure_unit, temperature_unit : str
        Units shown by default.
    report_pressure : AsTyped or None
        Test pressure at which flow is shown. [Pa]
    """

    name: str
    town: str = ""
    porter: str = ""
    currency: str = "EUR"
    labour_rate: str = ""
    length_unit: str = "mm"
    flow_unit: str = "cfm"
    pressure_unit: str = "inH2O"
    temperature_unit: str = "degC"
    report_pressure: AsTyped | None = None


@dataclass(frozen=True, slots=True)
class Job:
    """One customer's work on one engine's heads.

    Parameters
    ----------
    number : str
        The shop's job number, unique.
    facts : dict of str to str
        Everything else written on the job sheet, field by field, as typed.
    """

    number: str
    opened: str = ""
    promised: str = ""
    delivered: str = ""
    customer: str = ""
    vehicle: str = ""
    casting: str = ""
    goal: str = ""
    facts: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Stage:
    """A state of the head between two pieces of work.

    Parameters
    ----------
    code : str
        Short name, in order of work ("S0").
    note : str
        What changed since the stage before.
    """

    code: str
    note: str = ""
    date: str = ""


@dataclass(frozen=True, slots=True)
class Measurement:
    """One measured value.

    Parameters
    ----------
    subject : str
        What it belongs to: a port ("I1"), a cylinder ("cyl 4"), a head ("L"), or "" for the job.
    quantity : str
        What was measured, from the nomenclature where it has it ("throat diameter").
    place : str
        Where: landmark, distance, row and column.
    value : AsTyped
    """

    subject: str
    quantity: str
    value: AsTyped
    place: str = ""
    stage: str = ""
    instrument: str = ""
    date: str = ""
    note: str = ""


class SheetKind(StrEnum):
    """Tables a shop keeps that are neither sweeps nor single measurements."""

    INSPECTION = "inspection"
    CLASS_RULES = "class rules"
    HOURS = "hours"
    DYNO = "dyno"
    CLAIM = "claim"
    EARLIER_JOBS = "earlier jobs"


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One row of such a table, each cell as typed under its heading."""

    kind: SheetKind
    cells: dict[str, str]
    subject: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class Note:
    """A dated remark on a job, port or stage."""

    text: str
    written_at: str
    subject: str = ""
    stage: str = ""
    author: str = ""
