"""Flow benches: how they measure, how they are calibrated, what was mounted on them."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from portwright.model.quantity import AsTyped


class Metering(StrEnum):
    """How a bench shows flow; chosen for the bench, never inferred from a sheet."""

    DIRECT = "direct"  # shows a volume flow
    PERCENT_OF_RANGE = "percent-of-range"  # percent of a numbered range at a fixed pressure
    ORIFICE_PLATE = "orifice-plate"  # free-discharge plate of known coefficient
    ORIFICE_ISO = "orifice-iso"  # orifice plate in a pipe after ISO 5167-2
    FLOW_ELEMENT = "flow-element"  # element with a calibration table


@dataclass(frozen=True, slots=True)
class MeterRange:
    """One numbered range of a bench.

    Parameters
    ----------
    number : int
    full_scale : AsTyped
        Flow at 100 percent at the bench's range pressure. [m3/s]
    """

    number: int
    full_scale: AsTyped


@dataclass(frozen=True, slots=True)
class CalibrationPoint:
    """One row of a calibration table: what the bench indicates, and the flow. [m3/s]

    Indicated is the pressure drop of a flow element [Pa], or the flow a direct-reading bench shows
    with a plate of that flow. [m3/s]
    """

    indicated: AsTyped
    flow: AsTyped


@dataclass(frozen=True, slots=True)
class OrificeMeter:
    """Geometry of a metering orifice.

    Parameters
    ----------
    bore : AsTyped
        Orifice diameter. [m]
    pipe : AsTyped or None
        Pipe diameter for ISO 5167-2; None for free discharge. [m]
    coefficient : float or None
        Discharge coefficient of a free-discharge plate. [-]
    taps : str
        "corner", "flange" or "D" pressure taps.
    """

    bore: AsTyped
    pipe: AsTyped | None = None
    coefficient: float | None = None
    taps: str = "corner"


@dataclass(frozen=True, slots=True)
class Calibration:
    """One version of how a bench's readings become flow.

    Parameters
    ----------
    bench : str
        Bench code.
    version : int
        Counts up from 1 for each bench.
    valid_from : str
        ISO date from which it applies.
    metering : Metering
    reads_at : AsTyped or None
        Pressure at which ranges and shown flow hold. [Pa]
    flow_air : str
        "reference-air" when shown flow is for the reference air, "actual-air" otherwise.
    relative_uncertainty : float
        Standard uncertainty of the bench against true flow. [-]
    ranges, table, orifice
        Constants of the chosen metering.
    reason : str
        Why this version was made.
    """

    bench: str
    version: int
    valid_from: str
    metering: Metering
    reads_at: AsTyped | None
    flow_air: str = "reference-air"
    relative_uncertainty: float = 0.01
    ranges: tuple[MeterRange, ...] = ()
    table: tuple[CalibrationPoint, ...] = ()
    orifice: OrificeMeter | None = None
    reason: str = ""

    @property
    def key(self) -> str:
        """Name by which results say which calibration they used."""
        return f"{self.bench} calibration {self.version}"


@dataclass(frozen=True, slots=True)
class Bench:
    """A flow bench.

    Parameters
    ----------
    code : str
        Short name used on sheets ("B2").
    name : str
    kind : str
        What it is, in words.
    test_pressure : AsTyped or None
        Usual test pressure. [Pa]
    readout : str
    bore_adapter, adapter_length : AsTyped or None
        Usual bore adapter. [m]
    inlet_aid, exhaust_stub : str
        Usual entry radius and exhaust pipe stub; "none" is an answer, "" is not recorded.
    service_from, service_to : str
        ISO dates or months.
    notes : str
    """

    code: str
    name: str = ""
    kind: str = ""
    test_pressure: AsTyped | None = None
    readout: str = ""
    bore_adapter: AsTyped | None = None
    adapter_length: AsTyped | None = None
    inlet_aid: str = ""
    exhaust_stub: str = ""
    service_from: str = ""
    service_to: str = ""
    notes: str = ""


@dataclass(frozen=True, slots=True)
class Conditions:
    """What was mounted during a run; "" means not recorded, which is a finding.

    Parameters
    ----------
    bore_adapter, adapter_length, inlet_aid, exhaust_stub, plug, valve, lift_reference : str
        As recorded, with units where they have one.
    configuration : str
        "bare port" or what was bolted on.
    direction : str
        "forward" or "reverse".
    """

    bore_adapter: str = ""
    adapter_length: str = ""
    inlet_aid: str = ""
    exhaust_stub: str = ""
    plug: str = ""
    valve: str = ""
    lift_reference: str = ""
    configuration: str = "bare port"
    direction: str = "forward"


@dataclass(frozen=True, slots=True)
class PlateCheck:
    """One check of a bench with a reference plate."""

    date: str
    bench: str
    plate: str
    repeat: int
    certified: AsTyped
    measured: AsTyped
    bore: AsTyped | None = None


@dataclass(frozen=True, slots=True)
class BenchWithCalibrations:
    """A bench and every calibration version it has had, oldest first."""

    bench: Bench
    calibrations: tuple[Calibration, ...] = field(default=())
