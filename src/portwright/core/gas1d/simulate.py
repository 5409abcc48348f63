"""Run an engine at one speed until its cycles repeat."""

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
from portwright.core.gas1d.operating import OperatingPoint, Pictures, sum_up, tube_label
from portwright.errors import NotConvergedError, RangeError, SolveCancelledError

# Name and version of the calculation, kept with results; a change that moves numbers counts up.
METHOD = "gas-exchange-2"
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
    return sum_up(engine, built, speed, cycle, change, (mass, energy), pictures)


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
