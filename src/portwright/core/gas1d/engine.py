"""What the engine is: the numbers a simulation needs, in SI."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from portwright.core.curve import Array
from portwright.core.gas1d.ducts import Duct
from portwright.core.gas1d.gas import FUELS
from portwright.core.gas1d.march import TABLE_STEP
from portwright.errors import RangeError, ShapeError, UnknownNameError

CURVE_SIZE = int(720 / TABLE_STEP) + 1

# Heat to evaporate a kilogram of fuel at 25 C, from isooctane 308, toluene 412, ethanol 920 and
# methanol 1170 kJ/kg (from memory) and the blends of the stand-in fuels. [J/kg]
EVAPORATION_HEAT = {"petrol": 350e3, "race-petrol": 333e3, "e85": 838e3, "methanol": 1170e3}


@dataclass(frozen=True, slots=True)
class Mechanics:
    """Crank drive.

    Parameters
    ----------
    bore, stroke, rod : float
        Bore, stroke and connecting-rod length; the pin is in the middle. [m]
    compression : float
        Compression ratio. [-]
    firing : tuple of float
        Crank angle at which each cylinder fires, one entry per cylinder. [deg]

    Raises
    ------
    RangeError
        Dimensions that cannot turn.
    """

    bore: float
    stroke: float
    rod: float
    compression: float
    firing: tuple[float, ...] = (0.0,)

    def __post_init__(self) -> None:
        if min(self.bore, self.stroke, self.rod) <= 0.0 or self.rod <= 0.5 * self.stroke:
            raise RangeError(
                "Bore, stroke and rod must be above zero and the rod longer than half the stroke.",
                "Check the engine data.",
            )
        if not 1.5 < self.compression < 30.0:
            raise RangeError(
                f"Compression ratio {self.compression:g} is not between 1.5 and 30.",
                "Check the engine data.",
            )
        if not self.firing or any(not 0.0 <= a < 720.0 for a in self.firing):
            raise RangeError(
                "Each cylinder needs a firing angle from 0 to below 720 degrees.",
                "Give one angle per cylinder in cylinder order.",
            )

    @property
    def cylinders(self) -> int:
        """Number of cylinders."""
        return len(self.firing)

    @property
    def swept(self) -> float:
        """Swept volume of one cylinder. [m3]"""
        return 0.25 * np.pi * self.bore**2 * self.stroke


@dataclass(frozen=True, slots=True)
class Burning:
    """Combustion as a Wiebe function.

    Parameters
    ----------
    half_burned : float
        Crank angle after firing dead centre where half the charge is burned. [deg]
    length : float
        Crank angle from start to end of burning. [deg]
    completeness, shape : float
        Wiebe constants a and m. [-]
    efficiency : float
        Share of the energy released; the rest leaves unburned. [-]

    Raises
    ------
    RangeError
        A number that makes no sense.
    """

    half_burned: float = 8.0
    length: float = 55.0
    completeness: float = 5.0
    shape: float = 2.0
    efficiency: float = 0.97

    def __post_init__(self) -> None:
        if not (0.0 < self.length < 180.0 and self.completeness > 0.0 and self.shape > 0.0):
            raise RangeError("Burning length and Wiebe constants must be above zero.")
        if not 0.0 <= self.efficiency <= 1.0:
            raise RangeError("Combustion efficiency must be between 0 and 1.")

    @property
    def start(self) -> float:
        """Crank angle after firing dead centre where burning starts. [deg]"""
        whole = 1.0 - np.exp(-self.completeness)
        half = (-np.log(1.0 - 0.5 * whole) / self.completeness) ** (1.0 / (self.shape + 1.0))
        return float(self.half_burned - half * self.length)


@dataclass(frozen=True, slots=True)
class Walls:
    """Cylinder walls and heat transfer.

    Parameters
    ----------
    piston, head, liner : float
        Wall temperatures. [K]
    head_ratio : float
        Head surface over bore area. [-]
    factor, exponent : float
        Woschni constants: 3.26 and -0.55 as printed by Heywood 1988 (from memory); -0.53 is
        the other variant that circulates. [-]
    heat_factor : float
        Factor on the heat flow, 0 for adiabatic walls. [-]
    """

    piston: float = 500.0
    head: float = 450.0
    liner: float = 400.0
    head_ratio: float = 1.2
    factor: float = 3.26
    exponent: float = -0.55
    heat_factor: float = 1.0


@dataclass(frozen=True, slots=True)
class Fuel:
    """Fuel and mixture.

    Parameters
    ----------
    name : str
        ``petrol``, ``race-petrol``, ``e85`` or ``methanol``.
    air_ratio : float
        Lambda. [-]
    evaporated : float
        Share of the fuel that evaporates with heat taken from the charge before it enters the
        runner; the rest takes its heat from hot walls. A setting to calibrate. [-]

    Raises
    ------
    UnknownNameError
        Fuel not in the list.
    RangeError
        Share not between 0 and 1.
    """

    name: str = "petrol"
    air_ratio: float = 0.88
    evaporated: float = 0.3

    def __post_init__(self) -> None:
        if self.name not in FUELS:
            raise UnknownNameError("fuel", self.name, FUELS)
        if not 0.0 <= self.evaporated <= 1.0:
            raise RangeError("The evaporated share must be between 0 and 1.")


@dataclass(frozen=True, slots=True)
class Rubbing:
    """Mechanical friction after Chen and Flynn (SAE 650733, from memory).

    ``fmep = constant + pressure_share * pmax + speed * Sp + speed_square * Sp**2``.

    Parameters
    ----------
    constant : float
        [Pa]
    pressure_share : float
        [-]
    speed : float
        [Pa s/m]
    speed_square : float
        [Pa s2/m2]
    """

    constant: float = 0.4e5
    pressure_share: float = 0.005
    speed: float = 0.09e5
    speed_square: float = 0.0009e5

    def mean_pressure(self, most_pressure: float, piston_speed: float) -> float:
        """Friction mean effective pressure. [Pa]

        Parameters
        ----------
        most_pressure : float
            Peak cylinder pressure. [Pa]
        piston_speed : float
            Mean piston speed. [m/s]

        Returns
        -------
        float
        """
        return (
            self.constant
            + self.pressure_share * most_pressure
            + self.speed * piston_speed
            + self.speed_square * piston_speed**2
        )


@dataclass(frozen=True, slots=True)
class Plenum:
    """Common intake volume.

    Parameters
    ----------
    size : float
        Volume. [m3]
    opening : float
        Effective area between surroundings and volume: throttle or restrictor. [m2]
    """

    size: float
    opening: float


@dataclass(frozen=True, slots=True, eq=False)
class Collector:
    """Junction of exhaust primaries.

    Parameters
    ----------
    cylinders : tuple of int
        Cylinders that meet here, counted from 0.
    size : float
        Volume of the junction. [m3]
    tail : Duct
        Pipe from the junction to the surroundings.
    """

    cylinders: tuple[int, ...]
    size: float
    tail: Duct


@dataclass(frozen=True, slots=True)
class Air:
    """Surroundings.

    Parameters
    ----------
    pressure, temperature : float
        What the intake breathes; boost raises it. [Pa, K]
    exhaust_pressure : float
        Behind the exhaust. [Pa]
    """

    pressure: float = 101325.0
    temperature: float = 298.15
    exhaust_pressure: float = 101325.0

    def __post_init__(self) -> None:
        if min(self.pressure, self.temperature, self.exhaust_pressure) <= 0.0:
            raise RangeError("Pressures and temperature of the surroundings must be above zero.")


@dataclass(frozen=True, slots=True, eq=False)
class Engine:
    """An engine to simulate.

    Parameters
    ----------
    mechanics : Mechanics
    intake, exhaust : tuple of Duct
        One duct per cylinder, in flow direction: runner entry to intake valve, exhaust valve to
        end of primary. A single duct is used for all cylinders.
    intake_area, exhaust_area : ndarray, shape (2881,)
        Effective valve area against crank angle from firing dead centre, every quarter degree;
        see :func:`~portwright.core.gas1d.valves.area_against_crank`. [m2]
    plenum : Plenum or None
        None: each runner breathes from the surroundings.
    collectors : tuple of Collector
        Empty: each primary ends in the surroundings.
    burning, walls, fuel, rubbing, air
        See the classes.

    Raises
    ------
    ShapeError
        Number of ducts or length of the valve tables wrong, a cylinder in two collectors.
    """

    mechanics: Mechanics
    intake: tuple[Duct, ...]
    exhaust: tuple[Duct, ...]
    intake_area: Array
    exhaust_area: Array
    plenum: Plenum | None = None
    collectors: tuple[Collector, ...] = ()
    burning: Burning = field(default_factory=Burning)
    walls: Walls = field(default_factory=Walls)
    fuel: Fuel = field(default_factory=Fuel)
    rubbing: Rubbing = field(default_factory=Rubbing)
    air: Air = field(default_factory=Air)

    def __post_init__(self) -> None:
        n = self.mechanics.cylinders
        for name, ducts in (("intake", self.intake), ("exhaust", self.exhaust)):
            if len(ducts) not in {1, n}:
                raise ShapeError(f"{len(ducts)} {name} ducts for {n} cylinders.", "Give 1 or all.")
        for table in (self.intake_area, self.exhaust_area):
            if table.shape != (CURVE_SIZE,) or not np.all(np.isfinite(table)):
                raise ShapeError(f"Valve area tables need {CURVE_SIZE} finite values.")
        used = [k for c in self.collectors for k in c.cylinders]
        if self.collectors and sorted(used) != list(range(n)):
            raise ShapeError(
                "Every cylinder must belong to exactly one collector.", "Check the groups."
            )
