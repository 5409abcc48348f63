"""Air at the bench.

Commands import their services when they run, so that help and small answers come at once.
"""

from __future__ import annotations

from typing import Annotated

import typer

from portwright.cli.options import JsonOption
from portwright.cli.output import finding_json, print_json, say, say_findings


def air(
    pressure: Annotated[
        str,
        typer.Option(help="Absolute air pressure: '101.3 kPa', '29.92 inHg'; Pa without a unit."),
    ] = "101.325 kPa",
    temperature: Annotated[
        str, typer.Option(help="Air temperature: '20 degC', '68 degF'; degC without a unit.")
    ] = "20 degC",
    humidity: Annotated[str, typer.Option(help="Relative humidity: '50 %' or '0.5'.")] = "0 %",
    as_json: JsonOption = False,
) -> None:
    """Density of moist air, speed of sound and viscosity."""
    from portwright.services.air import air_properties

    result = air_properties(pressure, temperature, humidity)
    if as_json:
        print_json(
            {
                "density_kg_m3": result.density,
                "density_relative_uncertainty": result.density_relative_uncertainty,
                "speed_of_sound_m_s": result.speed_of_sound,
                "viscosity_pa_s": result.viscosity,
                "pressure_pa": result.pressure.si,
                "temperature_k": result.temperature.si,
                "relative_humidity": result.humidity.si,
                "findings": [finding_json(f) for f in result.findings],
            }
        )
        return
    say(f"Air at {result.pressure}, {result.temperature}, {result.humidity} humidity")
    say(f"  density         {result.density:.4f} kg/m3   (CIPM-2007)")
    say(f"  speed of sound  {result.speed_of_sound:.1f} m/s")
    say(f"  viscosity       {result.viscosity * 1e6:.2f} µPa·s")
    say_findings(result.findings)
