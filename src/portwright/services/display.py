"""How a shop wants numbers shown: display only, nothing stored changes with it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Self

from portwright import units
from portwright.model.job import Shop
from portwright.units import Kind

_LIFT_DIGITS = {"mm": 2, "in": 3, "thou": 0}


@dataclass(frozen=True, slots=True)
class Display:
    """Units in which a person wants to read results.

    Parameters
    ----------
    length, flow, pressure, temperature : str
        Unit names from the closed lists.
    """

    length: str = "mm"
    flow: str = "cfm"
    pressure: str = "inH2O"
    temperature: str = "degC"

    @classmethod
    def of(cls, shop: Shop | None) -> Self:
        """The shop's own choice."""
        if shop is None:
            return cls()
        return cls(shop.length_unit, shop.flow_unit, shop.pressure_unit, shop.temperature_unit)

    def inch(self) -> Self:
        """The same in inches."""
        return replace(self, length="in", temperature="degF")

    def metric(self) -> Self:
        """The same in millimetres."""
        return replace(self, length="mm", temperature="degC")

    @property
    def area(self) -> str:
        """Area unit that goes with the length unit."""
        return "in2" if self.length in {"in", "thou"} else "mm2"

    @property
    def per_valve_area(self) -> str:
        """Unit of flow through one square inch or square centimetre of valve."""
        return f"{self.flow}/{'in²' if self.area == 'in2' else 'cm²'}"

    @property
    def small_length(self) -> str:
        """Unit for clearances and wear."""
        return "thou" if self.length in {"in", "thou"} else "mm"

    def lift_text(self, lift: float) -> str:
        """A lift, without its unit."""
        return units.show(lift, self.length, Kind.LENGTH, _LIFT_DIGITS.get(self.length))

    def length_text(self, value: float) -> str:
        """A length with its unit."""
        return f"{units.show(value, self.length, Kind.LENGTH)} {self.length}"

    def area_text(self, value: float) -> str:
        """An area with its unit."""
        return f"{units.show(value, self.area, Kind.AREA)} {units.sign(self.area)}"

    def flow_text(self, value: float) -> str:
        """A flow, without its unit."""
        return units.show(value, self.flow, Kind.FLOW)

    def per_valve_area_text(self, velocity: float) -> str:
        """Flow per valve area, given in m/s, without its unit."""
        square = units.to_si(1.0, "in2" if self.area == "in2" else "cm2", Kind.AREA)
        return f"{units.from_si(velocity * square, self.flow, Kind.FLOW):.1f}"

    def pressure_text(self, value: float) -> str:
        """A test pressure with its unit."""
        shown = units.from_si(value, self.pressure, Kind.PRESSURE)
        return f"{shown:.4g} {self.pressure}"
