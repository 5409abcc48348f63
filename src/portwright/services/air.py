"""Air at the bench from what was typed."""

from __future__ import annotations

from dataclasses import dataclass

from portwright import units
from portwright.core.air import Air, air_findings
from portwright.errors import Finding, NumberError
from portwright.model.quantity import AsTyped
from portwright.units import Kind

# CIPM-2007 states 22 parts per million for its equation alone; the instruments dominate.
_EQUATION_UNCERTAINTY = 22e-6


@dataclass(frozen=True, slots=True)
class AirProperties:
    """Air as typed and what follows from it.

    Parameters
    ----------
    pressure, temperature, humidity : AsTyped
    density : float
        [kg/m3]
    density_relative_uncertainty : float
        Of the equation itself, without the instruments. [-]
    speed_of_sound : float
        [m/s]
    viscosity : float
        [Pa s]
    findings : tuple of Finding
    """

    pressure: AsTyped
    temperature: AsTyped
    humidity: AsTyped
    density: float
    density_relative_uncertainty: float
    speed_of_sound: float
    viscosity: float
    findings: tuple[Finding, ...]


def air_properties(pressure: str, temperature: str, humidity: str) -> AirProperties:
    """Work out the air from texts with units.

    Numbers without a unit are pascal and degrees Celsius; a bare humidity is a fraction up to 1
    and a percentage above 1.5.

    Raises
    ------
    NumberError, UnitError, RangeError
    """
    p = units.read(pressure, Kind.PRESSURE, "Pa")
    t = units.read(temperature, Kind.TEMPERATURE, "degC")
    h = _humidity(humidity)
    state = Air(p.si, t.si, h.si)
    return AirProperties(
        pressure=p,
        temperature=t,
        humidity=h,
        density=state.density,
        density_relative_uncertainty=_EQUATION_UNCERTAINTY,
        speed_of_sound=state.speed_of_sound,
        viscosity=state.viscosity,
        findings=air_findings(p.si, t.si, h.si),
    )


def _humidity(text: str) -> AsTyped:
    if any(c in text for c in "%pf"):
        return units.read(text, Kind.RATIO)
    value = units.parse_number(text)
    if 1.0 < value <= 1.5:
        raise NumberError(
            f"Humidity '{text}' could be a percentage or a fraction above 1.",
            "Write '1.2 %' or a fraction up to 1.",
        )
    return units.read(text, Kind.RATIO, "%" if value > 1.0 else "-")
