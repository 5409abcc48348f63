"""Runs and readings: what the bench said, never altered."""

from __future__ import annotations

from dataclasses import dataclass, field

from portwright.model.bench import Conditions
from portwright.model.quantity import AsTyped


@dataclass(frozen=True, slots=True)
class Reading:
    """One row of a flow sheet.

    What the bench showed is exactly one of: a flow, a share of a numbered range, or a meter
    pressure; which one is fixed by the bench's metering, not by which field is filled.

    Parameters
    ----------
    lift : AsTyped
        Valve lift. [m]
    flow : AsTyped or None
        Volume flow shown. [m3/s]
    percent : AsTyped or None
        Share of the range. [-]
    range_number : int or None
    meter_pressure : AsTyped or None
        Pressure drop across the meter. [Pa]
    test_pressure : AsTyped or None
        Pressure drop across the head. [Pa]
    air_temperature, meter_temperature : AsTyped or None
        [K]
    barometer : AsTyped or None
        [Pa]
    humidity : AsTyped or None
        Relative humidity. [-]
    leak : AsTyped or None
        Flow with the port blanked. [m3/s]
    test_pressure_zero, meter_pressure_zero : AsTyped or None
        What each gauge shows with the air off; taken off its reading. [Pa]
    scatter : AsTyped or None
        Half width of the needle's swing over the reading. [-]
    """

    lift: AsTyped
    flow: AsTyped | None = None
    percent: AsTyped | None = None
    range_number: int | None = None
    meter_pressure: AsTyped | None = None
    test_pressure: AsTyped | None = None
    air_temperature: AsTyped | None = None
    meter_temperature: AsTyped | None = None
    barometer: AsTyped | None = None
    humidity: AsTyped | None = None
    leak: AsTyped | None = None
    test_pressure_zero: AsTyped | None = None
    meter_pressure_zero: AsTyped | None = None
    scatter: AsTyped | None = None


@dataclass(frozen=True, slots=True)
class Run:
    """One sweep of one port.

    Parameters
    ----------
    code : str
        Run number on the sheet, unique in the shop.
    job, port, stage : str
    bench : str
        Bench code.
    calibration : int
        Version of the bench's calibration in force.
    method : str
        Reduction method chosen when the run was stored.
    repeat : int
        1 for the first sweep of this port at this stage.
    date, time : str
        ISO date and clock time, "" where not recorded.
    conditions : Conditions
    readings : tuple of Reading
        In the order taken.
    note : str
    left_out : str
        Why a person excluded the run from comparisons; "" while it counts.
    """

    code: str
    job: str
    port: str
    stage: str
    bench: str
    calibration: int = 1
    method: str = "standard-1"
    repeat: int = 1
    date: str = ""
    time: str = ""
    conditions: Conditions = field(default_factory=Conditions)
    readings: tuple[Reading, ...] = ()
    note: str = ""
    left_out: str = ""
