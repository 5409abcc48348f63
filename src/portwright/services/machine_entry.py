"""Sweeps and readings entered by another program: by name, every value as text with its unit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from portwright import units
from portwright.errors import ConflictError, InputError, UnknownNameError
from portwright.model.run import Reading, Run
from portwright.services.capture import StoredReading
from portwright.services.jobs import today
from portwright.services.shop_file import ShopFile
from portwright.units import Kind

CHANNELS = {
    "flow": Kind.FLOW,
    "percent": Kind.RATIO,
    "meter_pressure": Kind.PRESSURE,
    "test_pressure": Kind.PRESSURE,
    "air_temperature": Kind.TEMPERATURE,
    "meter_temperature": Kind.TEMPERATURE,
    "barometer": Kind.PRESSURE,
    "humidity": Kind.RATIO,
    "leak": Kind.FLOW,
    "test_pressure_zero": Kind.PRESSURE,
    "meter_pressure_zero": Kind.PRESSURE,
}
_ATTEMPTS = 50  # several programs may begin a sweep in the same moment


def begin_run(shop: ShopFile, job: str, port: str, stage: str, bench: str) -> Run:
    """Begin a sweep with the next free run code and the bench's newest calibration.

    Raises
    ------
    NotFoundError, UnknownNameError, InputError
        No such job, port or bench.
    """
    contents = shop.job(job)
    versions = [c.version for c in shop.calibrations() if c.bench == bench]
    if not versions:
        raise UnknownNameError("bench", bench, (b.code for b in shop.benches()))
    if not stage.strip():
        raise InputError("A sweep belongs to a stage.", "Give its code, like S0.")
    same = [r for r in contents.runs if (r.port, r.stage, r.bench) == (port, stage, bench)]
    for attempt in range(_ATTEMPTS):
        run = Run(
            shop.next_run_code("R"),
            job,
            port,
            stage,
            bench,
            calibration=max(versions),
            repeat=1 + max((r.repeat for r in same), default=0),
            date=today(),
        )
        try:
            shop.add_run(run)
        except ConflictError:  # another began a sweep in the same moment
            if attempt == _ATTEMPTS - 1:
                raise
        else:
            return run
    raise AssertionError("unreachable")  # pragma: no cover - the loop returns or raises


def add_reading(
    shop: ShopFile, job: str, run: str, lift: str, values: Mapping[str, str]
) -> StoredReading:
    """Store one reading; it is on disk when this returns, and sent twice it is stored once.

    Parameters
    ----------
    lift : str
        Number and unit, as "3 mm".
    values : mapping
        Channel name to number and unit, as "50.2 cfm".

    Raises
    ------
    InputError
        No value, or one without a unit.
    ConflictError
        The lift has another reading; the new one is set aside for a person to choose.
    """
    if not values:
        raise InputError("The reading has no value.", "Give flow, percent or meter_pressure.")
    read: dict[str, Any] = {name: units.read(text, CHANNELS[name]) for name, text in values.items()}
    reading = replace(Reading(lift=units.read(lift, Kind.LENGTH)), **read)
    return shop.add_reading(job, run, reading)
