"""Power corrected to reference air by a named standard."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from portwright.core.air import saturation_vapour_pressure
from portwright.errors import Finding, RangeError, Severity, UnknownNameError


@dataclass(frozen=True, slots=True)
class CorrectionStandard:
    """How one standard corrects power.

    Parameters
    ----------
    name : str
    pressure, temperature : float
        Reference air. [Pa, K]
    dry : bool
        Whether the pressure is that of dry air, without water vapour.
    pressure_exponent, temperature_exponent : float
        [-]
    gain, offset : float
        ``factor = gain (p_ref/p)^a (T/T_ref)^b - offset``. [-]
    least, most : float
        Factors for which the standard may be used. [-]
    label : str
        Where the numbers come from.
    """

    name: str
    pressure: float
    temperature: float
    dry: bool
    pressure_exponent: float
    temperature_exponent: float
    gain: float
    offset: float
    least: float
    most: float
    label: str

    def factor(self, pressure: float, temperature: float, humidity: float = 0.0) -> float:
        """Factor on measured power that gives corrected power.

        Parameters
        ----------
        pressure : float
            Barometer, water vapour included. [Pa]
        temperature : float
            Intake air. [K]
        humidity : float
            Relative humidity. [-]

        Returns
        -------
        float
            [-]

        Raises
        ------
        RangeError
            Air that cannot be.
        """
        if not (pressure > 0.0 and temperature > 0.0 and 0.0 <= humidity <= 1.0):
            raise RangeError("Barometer and temperature must be above zero, humidity 0 to 1.")
        vapour = 0.0
        if self.dry and humidity > 0.0:
            vapour = humidity * float(saturation_vapour_pressure(temperature))
        by_pressure = (self.pressure / (pressure - vapour)) ** self.pressure_exponent
        by_temperature = (temperature / self.temperature) ** self.temperature_exponent
        return float(self.gain * by_pressure * by_temperature - self.offset)

    def findings(self, factor: float) -> tuple[Finding, ...]:
        """Say when a factor is outside what the standard allows."""
        if self.least <= factor <= self.most:
            return ()
        return (
            Finding(
                "correction-outside-range",
                Severity.WARNING,
                f"{self.name} gives {factor:.3f}; it is meant for {self.least:g} to {self.most:g}.",
                "Measure on a day closer to the reference air.",
                size=factor,
            ),
        )


@cache
def correction_standards() -> tuple[CorrectionStandard, ...]:
    """Standards known, with their labels."""
    source = files("portwright.refdata.engine") / "power_correction.csv"
    rows = csv.DictReader(source.read_text(encoding="utf-8").splitlines())
    return tuple(
        CorrectionStandard(
            name=row["name"],
            pressure=1e3 * float(row["reference_pressure_kpa"]),
            temperature=float(row["reference_temperature_k"]),
            dry=row["dry"] == "yes",
            pressure_exponent=float(row["pressure_exponent"]),
            temperature_exponent=float(row["temperature_exponent"]),
            gain=float(row["gain"]),
            offset=float(row["offset"]),
            least=float(row["least"] or "-inf"),
            most=float(row["most"] or "inf"),
            label=row["label"],
        )
        for row in rows
    )


def correction_standard(name: str) -> CorrectionStandard:
    """Standard by name.

    Raises
    ------
    UnknownNameError
    """
    for standard in correction_standards():
        if standard.name.casefold() == name.strip().casefold():
            return standard
    raise UnknownNameError("correction standard", name, (s.name for s in correction_standards()))
