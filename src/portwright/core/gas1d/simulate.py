"""Run an engine at one speed until its cycles repeat, and sum up what happened."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from portwright.core.curve import Array
from portwright.core.gas1d import march as ma
from portwright.core.gas1d import rows as r
from portwright.core.gas1d.build import EngineNetwork, build_engine, carry_over
from portwright.core.gas1d.engine import Engine
from portwright.core.gas1d.network import Records, march
from portwright.errors import NotConvergedError, RangeError, SolveCancelledError

# Name and version of the calculation, kept with results; a change that moves numbers counts up.
METHOD = "gas-exchange-2"
# Standard air of the volumetric efficiency: gas constant of dry air. [J/(kg K)]
_AIR = 287.05
_WINDOW = 4
# Cycles after the first ones repeat the time steps of the one before: without that they tremble.
_FREE_CYCLES, _MOST_PLANNED = 2, 200_000
# The first cycles run with cells this long until they change less than this, at most so often.
_COARSE, _COARSE_TOLERANCE, _COARSE_CYCLES = 20e-3, 2e-3, 8
_TREMBLING = 2e-3


@dataclass(frozen=True, slots=True)
class Settings:
    """How to solve.

    Parameters
    ----------
    cell : float
        Cell length in the intake. [m]
    exhaust_stretch : float
        Cell length in the exhaust over that in the intake. Sound is about 1.6 times as fast in
        exhaust gas: the same waves get the same number of cells. [-]
    courant : float
        Courant number. [-]
    tolerance : float
        Cycles repeat when trapped fresh charge and work change by less, relative, or tremble
        about a mean that drifts by less than twice that over four cycles. [-]
    most_cycles : int
        Give up after this many. [-]
    record_step : float
        Crank angle between recorded pictures; 0 records nothing. [deg]
    """

    cell: float = 7.5e-3
    exhaust_stretch: float = 1.6
    courant: float = 0.9
    tolerance: float = 1e-4
    most_cycles: int = 60
    record_step: float = 0.0


@dataclass(frozen=True, slots=True)
class CylinderResult:
    """One cylinder over one cycle.

    Parameters
    ----------
    air_mass, trapped_mass : float
        Air that stayed after passing the intake valve; all gas at intake closing. [kg]
    volumetric_efficiency : float
        Air mass over swept volume at the density of the surroundings. [-]
    residual : float
        Burned share at intake closing. [-]
    reversion : float
        Mass that flowed back into the intake port over mass that came in. [-]
    lost_charge : float
        Fresh charge that left through the exhaust valve over charge that came in. [-]
    indicated, gas_exchange : float
        Mean effective pressure of the whole cycle and of its exhaust and intake strokes. [Pa]
    most_pressure, most_pressure_angle : float
        Peak pressure and its crank angle after firing dead centre. [Pa, deg]
    opening_pressure : float
        Cylinder pressure when the exhaust valve opens. [Pa]
    wall_heat, released : float
        Heat to the walls and energy released. [J]
    """

    air_mass: float
    trapped_mass: float
    volumetric_efficiency: float
    residual: float
    reversion: float
    lost_charge: float
    indicated: float
    gas_exchange: float
    most_pressure: float
    most_pressure_angle: float
    opening_pressure: float
    wall_heat: float
    released: float


@dataclass(frozen=True, slots=True, eq=False)
class Pictures:
    """Recorded cycle.

    Parameters
    ----------
    angle : ndarray, shape (s,)
        Crank angle of the first cylinder from its firing dead centre. [deg]
    cylinders : ndarray, shape (s, n, 4)
        Pressure [Pa], temperature [K], mass [kg] and burned mass [kg] of each cylinder.
    intake_valve, exhaust_valve : ndarray, shape (s, n, 4)
        At the port side of the valves: mass flow into the port [kg/s], pressure [Pa], velocity
        [m/s], density [kg/m3].
    tubes : dict of str to ndarray, shape (s, cells, 4)
        Pressure [Pa], velocity [m/s], sound speed [m/s], burned share by tube.
    positions : dict of str to ndarray, shape (cells,)
        Distance of the cells from the left end of the tube. [m]
    """

    angle: Array
    cylinders: Array
    intake_valve: Array
    exhaust_valve: Array
    tubes: dict[str, ma.Singles]
    positions: dict[str, Array]


@dataclass(frozen=True, slots=True, eq=False)
class OperatingPoint:
    """An engine at one speed.

    Parameters
    ----------
    speed : float
        Crank speed. [rev/min]
    torque, power : float
        At the crank, all cylinders. [N m, W]
    volumetric_efficiency : float
        Mean of the cylinders. [-]
    indicated, friction, brake : float
        Mean effective pressures, mean of the cylinders. [Pa]
    air_flow, fuel_flow : float
        All cylinders. [kg/s]
    charge_temperature : float
        Charge entering the runners. [K]
    cylinders : tuple of CylinderResult
    most_mach : dict of str to ndarray, shape (cells,)
        Largest Mach number each cell saw, by tube; empty unless recorded.
    cycles, steps : int
        Cycles until they repeated, time steps.
    cycle_change : float
        Relative change of trapped charge and work in the last cycle. [-]
    mass_imbalance, energy_imbalance : float
        What is missing in the books of the last cycle, relative to what flowed. [-]
    pictures : Pictures or None
    """

    speed: float
    torque: float
    power: float
    volumetric_efficiency: float
    indicated: float
    friction: float
    brake: float
    air_flow: float
    fuel_flow: float
    charge_temperature: float
    cylinders: tuple[CylinderResult, ...]
    most_mach: dict[str, Array]
    cycles: int
    steps: int
    cycle_change: float
    mass_imbalance: float
    energy_imbalance: float
    pictures: Pictures | None


def simulate(
    engine: Engine,
    speed: float,
    settings: Settings | None = None,
    progress: Callable[[int, float], bool] | None = None,
) -> OperatingPoint:
    """Run an engine at one speed until its cycles repeat.

    Parameters
    ----------
    engine : Engine
        What to run.
    speed : float
        Crank speed. [rev/min]
    settings : Settings, optional
        How to solve.
    progress : callable, optional
        Called after each cycle with its number and the change it made; returning False stops.

    Returns
    -------
    OperatingPoint

    Raises
    ------
    RangeError
        Speed not between 100 and 30 000.
    NotConvergedError
        Cycles did not repeat.
    NonPhysicalStateError
        The gas state lost its sense.
    SolveCancelledError
        ``progress`` asked to stop.
    """
    settings = settings or Settings()
    if not 100.0 <= speed <= 30000.0:
        raise RangeError(f"Speed {speed:g} rev/min is not between 100 and 30 000.")
    run = _Run(engine, speed, settings, progress)
    if settings.cell < _COARSE:
        # Cycles that are far from repeating need no fine cells.
        run.until_repeating(_COARSE, _COARSE_TOLERANCE, enough=_COARSE_CYCLES)
    run.until_repeating(settings.cell, settings.tolerance)
    built, books, cycle, change = run.built, run.books, run.cycle, run.change
    network = built.network
    period = 120.0 / speed
    pictures = None
    if settings.record_step > 0.0:
        books.open()
        pictures = _record(built, network.clock[ma.TIME] + period, settings)
    mass, energy = books.imbalance()
    return _sum_up(engine, built, speed, cycle, change, (mass, energy), pictures)


class _Run:
    """Cycles of one engine at one speed, first with long cells, then with the wanted ones."""

    def __init__(
        self,
        engine: Engine,
        speed: float,
        settings: Settings,
        progress: Callable[[int, float], bool] | None,
    ) -> None:
        self._engine, self._speed, self._settings = engine, speed, settings
        self._progress = progress
        self.cycle = 0
        self.change = 1.0
        self.built: EngineNetwork
        self.books: Books

    def until_repeating(self, cell: float, tolerance: float, enough: int = 0) -> None:
        """Run cycles until they repeat, or until there were ``enough`` of them if above zero."""
        s = self._settings
        built = build_engine(self._engine, self._speed, cell, cell * s.exhaust_stretch)
        if self.cycle > 0:
            carry_over(self.built, built)
        self.built, self.books = built, Books(built)
        built.network.plan = np.zeros(_MOST_PLANNED)
        history: list[Array] = []
        period = 120.0 / self._speed
        while self.cycle < s.most_cycles:
            self.cycle += 1
            self.books.open()
            if len(history) < _FREE_CYCLES:
                built.network.clock[ma.PLANNED] = 0.0
            march(built.network, (len(history) + 1) * period, s.courant)
            history.append(_signature(built))
            self.change = _change(history[-1], history[-2]) if len(history) > 1 else 1.0
            if self._progress is not None and not self._progress(self.cycle, self.change):
                raise SolveCancelledError(
                    f"Stopped after cycle {self.cycle} at {self._speed:g} rev/min."
                )
            if len(history) > 1 and (_repeats(history, tolerance) or len(history) == enough):
                return
        raise NotConvergedError(
            f"At {self._speed:g} rev/min the cycles still change by {self.change:.1e} after "
            f"{s.most_cycles}.",
            "Allow more cycles or a larger tolerance; large plenums take longest.",
        )


def _signature(built: EngineNetwork) -> Array:
    vessels = list(built.cylinders)
    totals = built.network.totals[vessels]
    fresh = totals[:, ma.TRAPPED_MASS] - totals[:, ma.TRAPPED_BURNED]
    return np.stack((fresh, totals[:, ma.WORK]))


def _change(now: Array, before: Array) -> float:
    return float(np.max(np.abs(now - before) / np.maximum(np.abs(now), 1e-12)))


def _repeats(history: list[Array], tolerance: float) -> bool:
    """Whether cycles repeat, or only tremble about a settled mean.

    Time steps fall differently in each cycle, which leaves a trembling of a few 1e-4 with long
    cells; waiting for it to stop would be waiting for chance.
    """
    if _change(history[-1], history[-2]) < tolerance:
        return True
    if len(history) < 2 * _WINDOW:
        return False
    # The window grows, so that the mean of what trembles by chance settles too.
    window = max(_WINDOW, len(history) // 3)
    recent = np.array(history[-2 * window :])
    drift = _change(recent[window:].mean(axis=0), recent[:window].mean(axis=0))
    return drift < 2.0 * tolerance and _change(history[-1], history[-2]) < _TREMBLING


class Books:
    """Mass and energy accounts of a cycle: what the network holds and what crosses its border.

    Parameters
    ----------
    built : EngineNetwork
        Network to watch.
    """

    def __init__(self, built: EngineNetwork) -> None:
        self._network = built.network
        self._volumes = [tube.volumes for tube in built.network.tubes]
        self._start = self._held()

    def open(self) -> None:
        """Start a new account."""
        n = self._network
        n.totals[:] = 0.0
        n.end_totals[:] = 0.0
        n.link_areas[n.links.shape[0] :] = 0.0
        for t in range(len(n.tubes)):
            n.part(r.WALL_HEAT, t)[:] = 0.0
        self._start = self._held()

    def _held(self) -> tuple[float, float]:
        n = self._network
        inside = n.kinds != ma.FIXED
        mass = float(np.sum(n.content[inside, ma.MASS]))
        energy = float(np.sum(n.content[inside, ma.ENERGY]))
        for t, cells in enumerate(self._volumes):
            mass += float(np.sum(cells * n.part(r.DENSITY, t)))
            energy += float(np.sum(cells * n.part(r.ENERGY, t)))
        return mass, energy

    def imbalance(self) -> tuple[float, float]:
        """Missing mass and energy relative to the mass passed and the energy released."""
        n = self._network
        mass, energy = self._held()
        outside = n.kinds == ma.FIXED
        totals = n.totals
        mass_in = -float(np.sum(totals[outside, ma.MASS_IN]))
        energy_in = -float(np.sum(totals[outside, ma.ENERGY_IN]))
        energy_in += float(np.sum(totals[:, ma.HEAT_RELEASED] - totals[:, ma.WORK]))
        energy_in -= float(np.sum(totals[:, ma.HEAT_LOST]))
        for t, cells in enumerate(self._volumes):
            energy_in += float(np.sum(cells * n.part(r.WALL_HEAT, t)))
        passed = float(np.sum(np.abs(n.end_totals[:, ma.END_MASS]))) + 1e-30
        turned = float(np.sum(np.abs(n.end_totals[:, ma.END_ENERGY])))
        turned += float(np.sum(totals[:, ma.HEAT_RELEASED])) + 1e-30
        return (
            abs(mass - self._start[0] - mass_in) / passed,
            abs(energy - self._start[1] - energy_in) / turned,
        )


def _record(built: EngineNetwork, until: float, settings: Settings) -> Pictures:
    network = built.network
    count = round(720.0 / settings.record_step)
    start = float(network.clock[ma.CRANK])
    samples = np.linspace(start, start + 720.0, count + 1)[1:]
    records = Records(
        samples,
        np.zeros((count, network.kinds.size, 4)),
        np.zeros((count, network.ends.shape[0], 4)),
        np.zeros((count, network.cells, 4), dtype=np.float32),
    )
    for t in range(len(network.tubes)):
        network.part(r.MOST_MACH, t)[:] = 0.0
    march(network, until, settings.courant, records)
    tubes, positions = {}, {}
    for t, (tube, first) in enumerate(zip(network.tubes, network.starts, strict=True)):
        name = tube_label(built, t)
        tubes[name] = records.waves[:, first : first + tube.cells]
        positions[name] = tube.centres
    intake = [2 * t + 1 for t in built.intake]
    exhaust = [2 * t for t in built.exhaust]
    return Pictures(
        angle=(samples + network.phases[built.cylinders[0]]) % 720.0,
        cylinders=records.vessels[:, list(built.cylinders)],
        intake_valve=records.ends[:, intake],
        exhaust_valve=records.ends[:, exhaust],
        tubes=tubes,
        positions=positions,
    )


def tube_label(built: EngineNetwork, tube: int) -> str:
    """Name of a tube with its cylinder or collector number, counted from one.

    Parameters
    ----------
    built : EngineNetwork
    tube : int
        Number of the tube.

    Returns
    -------
    str
    """
    if tube in built.tails:
        return f"tail {built.tails.index(tube) + 1}"
    kind = "intake" if tube in built.intake else "exhaust"
    return f"{kind} {tube // 2 + 1}"


def _cylinder(engine: Engine, built: EngineNetwork, k: int) -> CylinderResult:
    n = built.network
    total = n.totals[built.cylinders[k]]
    intake = n.end_totals[2 * built.intake[k] + 1]
    exhaust = n.end_totals[2 * built.exhaust[k]]
    afr = built.gas.air_fuel_ratio
    fresh_in = intake[ma.END_FRESH_OUT]
    air = (fresh_in - intake[ma.END_FRESH_IN]) * afr / (1.0 + afr)
    swept = engine.mechanics.swept
    outside = engine.air.pressure / (_AIR * engine.air.temperature)
    back = intake[ma.END_MASS] + intake[ma.END_MASS_BACK]
    lost = exhaust[ma.END_FRESH_IN] - exhaust[ma.END_FRESH_OUT]
    return CylinderResult(
        air_mass=float(air),
        trapped_mass=float(total[ma.TRAPPED_MASS]),
        volumetric_efficiency=float(air / (outside * swept)),
        residual=float(total[ma.TRAPPED_BURNED] / max(total[ma.TRAPPED_MASS], 1e-30)),
        reversion=float(back / max(intake[ma.END_MASS_BACK], 1e-30)),
        lost_charge=float(lost / max(fresh_in, 1e-30)),
        indicated=float(total[ma.WORK] / swept),
        gas_exchange=float(total[ma.GAS_EXCHANGE_WORK] / swept),
        most_pressure=float(total[ma.MOST_PRESSURE]),
        most_pressure_angle=float(total[ma.ANGLE_OF_MOST]),
        opening_pressure=float(total[ma.OPENING_PRESSURE]),
        wall_heat=float(total[ma.HEAT_LOST]),
        released=float(total[ma.HEAT_RELEASED]),
    )


def _sum_up(
    engine: Engine,
    built: EngineNetwork,
    speed: float,
    cycles: int,
    change: float,
    missing: tuple[float, float],
    pictures: Pictures | None,
) -> OperatingPoint:
    m = engine.mechanics
    cylinders = tuple(_cylinder(engine, built, k) for k in range(m.cylinders))
    per_second = speed / 120.0
    indicated = float(np.mean([c.indicated for c in cylinders]))
    peak = float(np.mean([c.most_pressure for c in cylinders]))
    friction = engine.rubbing.mean_pressure(peak, 2.0 * m.stroke * speed / 60.0)
    brake = indicated - friction
    power = brake * m.swept * m.cylinders * per_second
    air_flow = sum(c.air_mass for c in cylinders) * per_second
    n = built.network
    most_mach = {}
    if pictures is not None:
        most_mach = {
            tube_label(built, t): n.part(r.MOST_MACH, t).copy() for t in range(len(n.tubes))
        }
    return OperatingPoint(
        speed=speed,
        torque=power / (speed * np.pi / 30.0),
        power=power,
        volumetric_efficiency=float(np.mean([c.volumetric_efficiency for c in cylinders])),
        indicated=indicated,
        friction=friction,
        brake=brake,
        air_flow=air_flow,
        fuel_flow=air_flow / built.gas.air_fuel_ratio,
        charge_temperature=built.charge_temperature,
        cylinders=cylinders,
        most_mach=most_mach,
        cycles=cycles,
        steps=int(n.clock[ma.STEPS]),
        cycle_change=change,
        mass_imbalance=missing[0],
        energy_imbalance=missing[1],
        pictures=pictures,
    )
