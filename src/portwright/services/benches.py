"""Describing a flow bench well enough to test on it."""

from __future__ import annotations

import re
from dataclasses import dataclass

from portwright.errors import ConflictError, InputError
from portwright.model.bench import Bench, Calibration, Metering, MeterRange
from portwright.model.contents import ShopContents
from portwright.model.quantity import AsTyped
from portwright.services.jobs import today
from portwright.services.shop_file import ShopFile
from portwright.units import Kind, read


@dataclass(frozen=True, slots=True)
class NewBench:
    """A bench as the shop describes it.

    Parameters
    ----------
    code, name : str
    metering : Metering
        DIRECT or PERCENT_OF_RANGE; plates and elements come with their calibration sheet.
    test_pressure : str
        Usual pressure across the head, with its unit.
    ranges : str
        Full flow of each range in order, with unit, parted by semicolons: "50 cfm; 100 cfm".
    bore_adapter, inlet_aid, exhaust_stub : str
        What is usually mounted.
    """

    code: str
    name: str = ""
    metering: Metering = Metering.DIRECT
    test_pressure: str = "28 inH2O"
    ranges: str = ""
    bore_adapter: str = ""
    inlet_aid: str = ""
    exhaust_stub: str = ""


def add_bench(shop: ShopFile, new: NewBench) -> Bench:
    """Store a bench with its first calibration.

    Raises
    ------
    InputError
        Something is missing or not a number.
    ConflictError
        The code is taken.
    """
    code = new.code.strip()
    if not code:
        raise InputError("The bench has no short name.", "Type one, for example B1.")
    if any(bench.code == code for bench in shop.benches()):
        raise ConflictError(f"There is already a bench {code}.", "Choose another short name.")
    pressure = read(new.test_pressure, Kind.PRESSURE)
    bench = Bench(
        code,
        name=new.name.strip(),
        test_pressure=pressure,
        bore_adapter=_length(new.bore_adapter),
        inlet_aid=new.inlet_aid.strip(),
        exhaust_stub=new.exhaust_stub.strip(),
        service_from=today(),
    )
    calibration = Calibration(
        code,
        1,
        today(),
        new.metering,
        pressure,
        ranges=_ranges(new),
        reason="first description; not checked with a plate yet",
    )
    shop.save(ShopContents(benches=(bench,), calibrations=(calibration,)))
    return bench


def _length(text: str) -> AsTyped | None:
    return read(text, Kind.LENGTH, "mm") if text.strip() else None


def _ranges(new: NewBench) -> tuple[MeterRange, ...]:
    if new.metering is not Metering.PERCENT_OF_RANGE:
        return ()
    full = [part for part in re.split(r";", new.ranges) if part.strip()]
    if not full:
        raise InputError(
            "A bench that reads percent needs its ranges.", "Type them like 50 cfm; 100 cfm."
        )
    return tuple(MeterRange(n + 1, read(text, Kind.FLOW)) for n, text in enumerate(full))
