"""Make the tables in this folder.

Needs Cantera, which the program itself never imports.  Run from the repository root::

    python -m portwright.refdata.gas_properties.generate

Species data: the NASA polynomials shipped with Cantera as ``nasa_gas.yaml`` (McBride, Gordon,
Reno, NASA TM-4513, 1993).  Burned gas is in chemical equilibrium above ``FREEZE``; below it
the composition stays what it was at ``FREEZE``, because exhaust gas cools too fast to follow.
Energies are counted from 298.15 K separately for fresh and burned gas; their difference there
is the energy released by burning at constant volume.
"""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import numpy as np

TEMPERATURES = np.arange(200.0, 3501.0, 50.0)
PRESSURES = 1.0e5 * np.array([0.1, 0.3, 1.0, 3.0, 10.0, 30.0, 100.0, 300.0])
AIR_RATIOS = (0.75, 0.80, 0.85, 0.90, 0.95, 1.00, 1.10)
FREEZE = 1750.0
DATUM = 298.15
AIR = {"O2": 0.2095, "N2": 0.7812, "Ar": 0.0093}

ISOOCTANE, TOLUENE = "C8H18,isooctane", "C7H8"
# Mole fractions of the stand-in liquids, from volume fractions with liquid densities of
# 692, 867, 789 and 792 kg/m3 (isooctane, toluene, ethanol, methanol; from memory).
FUELS = {
    "petrol": {ISOOCTANE: 0.545, TOLUENE: 0.455},  # 65 / 35 % by volume
    "race-petrol": {ISOOCTANE: 0.720, TOLUENE: 0.280},  # 80 / 20 % by volume
    "e85": {"C2H5OH": 0.9320, ISOOCTANE: 0.0371, TOLUENE: 0.0309},  # 85 % ethanol by volume
    "methanol": {"CH3OH": 1.0},
}
HEADER = ("air_ratio", "pressure_pa", "temperature_k", "energy_j_kg", "gas_constant_j_kg_k")
PRODUCTS = ("CO2", "H2O", "CO", "H2", "O2", "N2", "NO", "OH", "O", "H", "Ar")


def _species(names: set[str]) -> list[Any]:
    import cantera as ct  # noqa: PLC0415 - only this script needs it

    return [s for s in ct.Species.list_from_file("nasa_gas.yaml") if s.name in names]


def _make(fuel: str, air_ratio: float) -> tuple[dict[str, float], np.ndarray, np.ndarray]:
    import cantera as ct  # noqa: PLC0415

    blend = FUELS[fuel]
    fresh = ct.Solution(thermo="ideal-gas", species=_species(set(blend) | set(AIR)))
    burned = ct.Solution(thermo="ideal-gas", species=_species(set(PRODUCTS)))
    fresh.TP = DATUM, 1.0e5
    fresh.set_equivalence_ratio(1.0 / air_ratio, blend, AIR)
    mixture_fuel_fraction = sum(fresh[s].Y[0] for s in blend)
    afr = (1.0 - mixture_fuel_fraction) / mixture_fuel_fraction
    u_datum = fresh.int_energy_mass

    elements = {e: fresh.elemental_mole_fraction(e) for e in ("C", "H", "O", "N", "Ar")}

    def burn(temperature: float, pressure: float) -> None:
        atoms = {"C": elements["C"], "H": elements["H"], "O": elements["O"]}
        burned.TPX = (
            temperature,
            pressure,
            {
                "CO": atoms["C"],
                "H2": atoms["H"] / 2.0,
                "O2": (atoms["O"] - atoms["C"]) / 2.0,
                "N2": elements["N"] / 2.0,
                "Ar": elements["Ar"],
            },
        )
        burned.equilibrate("TP", rtol=1e-10)

    burn(FREEZE, 1.0e6)
    frozen = burned.X.copy()
    burned.TPX = DATUM, 1.0e5, frozen
    b_datum = burned.int_energy_mass
    facts = {
        "air_ratio": air_ratio,
        "air_fuel_ratio": afr,
        "fresh_gas_constant": ct.gas_constant / fresh.mean_molecular_weight,
        "frozen_gas_constant": ct.gas_constant / burned.mean_molecular_weight,
        "energy_released": u_datum - b_datum,
    }
    fresh_rows = np.empty(TEMPERATURES.size)
    burned_rows = np.empty((PRESSURES.size, TEMPERATURES.size, 2))
    for j, temperature in enumerate(TEMPERATURES):
        fresh.TP = temperature, 1.0e5
        fresh_rows[j] = fresh.int_energy_mass - u_datum
        for i, pressure in enumerate(PRESSURES):
            if temperature > FREEZE:
                burn(temperature, pressure)
            else:
                burned.TPX = temperature, pressure, frozen
            burned_rows[i, j] = (
                burned.int_energy_mass - b_datum,
                ct.gas_constant / burned.mean_molecular_weight,
            )
    return facts, fresh_rows, burned_rows


def main() -> None:
    """Write one facts file and one table per fuel beside this script."""
    here = Path(__file__).parent
    facts_rows: list[dict[str, str]] = []
    for fuel in FUELS:
        with (here / f"{fuel}.csv").open("w", newline="", encoding="utf-8") as file:
            out = csv.writer(file)
            out.writerow(HEADER)
            for air_ratio in AIR_RATIOS:
                facts, fresh, burned = _make(fuel, air_ratio)
                facts_rows.append({"fuel": fuel} | {k: f"{v:.8g}" for k, v in facts.items()})
                for t, u in zip(TEMPERATURES, fresh, strict=True):
                    gas_constant = f"{facts['fresh_gas_constant']:.4f}"
                    out.writerow([air_ratio, "fresh", f"{t:.0f}", f"{u:.1f}", gas_constant])
                for i, p in enumerate(PRESSURES):
                    for j, t in enumerate(TEMPERATURES):
                        u, r = burned[i, j]
                        out.writerow([air_ratio, f"{p:.0f}", f"{t:.0f}", f"{u:.1f}", f"{r:.4f}"])
    with (here / "facts.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, fieldnames=list(facts_rows[0]))
        writer.writeheader()
        writer.writerows(facts_rows)


if __name__ == "__main__":
    main()
