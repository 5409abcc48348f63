"""A flow bench that exists only in numbers: motor, air and instruments, for practice and tests.

It is meant to behave as benches do, not to be any one of them.  Every figure is our choice within
what is common practice.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from portwright.core.constants import Array
from portwright.core.gasflow import jet_velocity
from portwright.core.metering import REFERENCE_DENSITY
from portwright.errors import RangeError

_LONGEST_STEP = 0.02  # the motor is stepped no more coarsely than this [s]
_METER_DROP = 2500.0  # drop across the meter at the largest flow [Pa]
_METER_FLOW = 0.12  # that flow [m3/s]


@dataclass(frozen=True, slots=True)
class Habits:
    """How one practice bench behaves.

    Parameters
    ----------
    test_pressure : float
        What the motor is set to. [Pa]
    motor_speed : float
        Natural frequency of motor and control. [rad/s]
    damping : float
        Below 1 it overshoots. [-]
    droop : float
        Share of a change of area that shows in the pressure before the motor follows. [-]
    meter_lag, gauge_lag : float
        Time constants of the meter's and of the test-pressure gauge. [s]
    hunting : float
        Amplitude of the motor's hunting, relative to the test pressure. [-]
    hunting_period : float
        [s]
    hunting_fades : float
        Time in which hunting dies away after a change of lift; inf for never. [s]
    noise : float
        Standard deviation of the flow's own unrest, relative. [-]
    noise_time : float
        Its correlation time. [s]
    gauge_noise : float
        Standard deviation of the instruments, relative. [-]
    drift : float
        Zero drift of the meter. [Pa/s]
    cold : float
        Zero shift of a cold meter at the start. [Pa]
    warm_up : float
        Time constant in which it goes. [s]
    leak : float
        Effective area of a leak. [m2]
    flutter : float
        Size of the jump of a flow that separates and comes back, relative. [-]
    flutter_from : float
        Lift from which it does so. [m]
    flutter_time : float
        Mean time in one of the two states. [s]
    """

    test_pressure: float = 28.0 * 249.08891
    motor_speed: float = 1.6
    damping: float = 0.6
    droop: float = 0.6
    meter_lag: float = 0.4
    gauge_lag: float = 0.15
    hunting: float = 0.0
    hunting_period: float = 3.0
    hunting_fades: float = math.inf
    noise: float = 0.006
    noise_time: float = 0.15
    gauge_noise: float = 0.001
    drift: float = 0.0
    cold: float = 0.0
    warm_up: float = 300.0
    leak: float = 0.0
    flutter: float = 0.0
    flutter_from: float = math.inf
    flutter_time: float = 1.0

    def __post_init__(self) -> None:
        above = (self.test_pressure, self.motor_speed, self.damping, self.hunting_period)
        times = (self.hunting_fades, self.warm_up, self.noise_time, self.flutter_time)
        if min(*above, *times) <= 0.0 or min(self.meter_lag, self.gauge_lag) < 0.0:
            raise RangeError("A figure of the practice bench is not above zero.", "Change it.")


STEADY_BENCH = Habits()
HUNTING_BENCH = replace(STEADY_BENCH, damping=0.25, hunting=0.03)
SLOW_BENCH = replace(STEADY_BENCH, motor_speed=0.6, damping=1.1, meter_lag=1.2)
COLD_BENCH = replace(STEADY_BENCH, cold=12.0, warm_up=240.0, drift=0.004)


@dataclass(frozen=True, slots=True)
class Seen:
    """What the instruments say, and what is true.

    Parameters
    ----------
    time : float
        Since the bench was switched on. [s]
    lift : float
        [m]
    pressure, meter : float
        Test pressure and meter drop as shown. [Pa]
    flow : float
        Flow in reference air the bench works out of the meter drop. [m3/s]
    true_area : float
        Effective area of port and leak, without unrest. [m2]
    """

    time: float
    lift: float
    pressure: float
    meter: float
    flow: float
    true_area: float


def practice_area(lift: float, size: float = 1.15e-3) -> float:
    """Effective area of an invented port. [m2]

    Parameters
    ----------
    lift : float
        [m]
    size : float
        What it tends to at high lift. [m2]
    """
    return size * math.tanh(max(lift, 0.0) / 7.0e-3)


class PracticeBench:
    """The bench, stepped through time.

    Parameters
    ----------
    habits : Habits
    dice : numpy Generator
    size : float
        Effective area the port tends to. [m2]

    Notes
    -----
    Motor: ``x'' = w**2 (target - x) - 2 z w x'`` for the test pressure over its set value; a
    change of area throws it off by ``droop`` of that change.  Meter drop goes with the square of
    the flow and follows with a first-order lag, as does the gauge.  Unrest is a first-order
    autoregressive process.  Definition.
    """

    def __init__(self, habits: Habits, dice: np.random.Generator, size: float = 1.15e-3) -> None:
        self.habits, self.size = habits, size
        self._dice = dice
        self.time = self.lift = self._lift_wanted = 0.0
        self._changed = 0.0
        self.running = False
        self._ratio = self._speed = 0.0
        self._unrest = np.zeros(2)
        self._meter = self._gauge = 0.0
        self._low = False
        self._phase = float(dice.uniform(0.0, 2.0 * math.pi))
        self._area = self.area()

    def area(self) -> float:
        """Effective area of port and leak now. [m2]"""
        return practice_area(self.lift, self.size) + self.habits.leak

    def switch(self, *, on: bool) -> None:
        """Motor on or off."""
        self.running = on

    def set_lift(self, lift: float) -> None:
        """Turn the valve to a lift. [m]"""
        self._lift_wanted = lift
        self._changed = self.time

    def put_lift(self, lift: float) -> None:
        """As :meth:`set_lift`, but it is there at once. [m]"""
        self.set_lift(lift)
        self.lift = lift

    def step(self, span: float) -> Seen:
        """Let time pass and read the instruments.

        Parameters
        ----------
        span : float
            [s]
        """
        parts = max(1, math.ceil(span / _LONGEST_STEP))
        for _ in range(parts):
            self._step(span / parts)
        h = self.habits
        noise = h.gauge_noise * self._dice.standard_normal(2)
        since = self.time
        zero = h.cold * math.exp(-since / h.warm_up) + h.drift * since
        pressure = self._gauge * (1.0 + noise[0])
        meter = self._meter * (1.0 + noise[1]) + zero
        flow = _METER_FLOW * math.sqrt(max(meter, 0.0) / _METER_DROP)
        return Seen(self.time, self.lift, pressure, meter, flow, self.area())

    def _step(self, dt: float) -> None:
        h = self.habits
        self.time += dt
        travel = 2.0e-3 * dt  # the screw moves two millimetres in a second
        self.lift += min(max(self._lift_wanted - self.lift, -travel), travel)
        area = max(self.area(), 1e-6)
        before, self._area = max(self._area, 1e-6), area
        if self.running and self._ratio > 0.2:
            change = (before / area) ** h.droop
            self._ratio *= change
        target = 0.0
        if self.running:
            fade = math.exp(-(self.time - self._changed) / h.hunting_fades)
            turn = 2.0 * math.pi * self.time / h.hunting_period + self._phase
            target = 1.0
            hunting = h.hunting * fade * math.sin(turn)
        else:
            hunting = 0.0
        pull = h.motor_speed**2 * (target - self._ratio)
        self._speed += dt * (pull - 2.0 * h.damping * h.motor_speed * self._speed)
        self._ratio = max(0.0, self._ratio + dt * self._speed)
        keep = math.exp(-dt / h.noise_time)
        new = h.noise * math.sqrt(1.0 - keep**2) * self._dice.standard_normal(2)
        self._unrest = keep * self._unrest + new
        self._flip(dt)
        pressure = h.test_pressure * max(0.0, self._ratio + hunting) * (1.0 + self._unrest[0])
        flow = area * float(np.sqrt(2.0 * max(pressure, 0.0) / REFERENCE_DENSITY))
        flow *= 1.0 + self._unrest[1] - (h.flutter if self._low else 0.0)
        meter = _METER_DROP * (flow / _METER_FLOW) ** 2
        self._meter += (meter - self._meter) * _share(dt, h.meter_lag)
        self._gauge += (pressure - self._gauge) * _share(dt, h.gauge_lag)

    def _flip(self, dt: float) -> None:
        h = self.habits
        if h.flutter <= 0.0 or self.lift < h.flutter_from:
            self._low = False
        elif self._dice.random() < dt / h.flutter_time:
            self._low = not self._low


def _share(dt: float, lag: float) -> float:
    return 1.0 if lag <= 0.0 else 1.0 - math.exp(-dt / lag)


def drawn_habits(dice: np.random.Generator) -> Habits:
    """Draw how a bench behaves at one lift, as wide as benches differ. (from memory)"""
    hunts = dice.random() < 0.2
    flutters = dice.random() < 0.12
    return Habits(
        test_pressure=float(dice.uniform(0.85, 1.15)) * 28.0 * 249.08891,
        motor_speed=float(np.exp(dice.uniform(math.log(0.5), math.log(3.0)))),
        damping=float(dice.uniform(0.25, 1.2)),
        droop=float(dice.uniform(0.2, 0.9)),
        meter_lag=float(np.exp(dice.uniform(math.log(0.1), math.log(1.5)))),
        gauge_lag=float(np.exp(dice.uniform(math.log(0.05), math.log(0.6)))),
        hunting=float(dice.uniform(0.02, 0.06)) if hunts else 0.0,
        hunting_period=float(dice.uniform(1.5, 6.0)),
        hunting_fades=float(dice.choice([4.0, math.inf])) if hunts else math.inf,
        noise=float(np.exp(dice.uniform(math.log(0.001), math.log(0.010)))),
        noise_time=float(np.exp(dice.uniform(math.log(0.05), math.log(0.4)))),
        gauge_noise=float(dice.uniform(0.0002, 0.002)),
        drift=float(dice.normal(0.0, 0.005)),
        cold=float(dice.uniform(-15.0, 15.0)) if dice.random() < 0.25 else 0.0,
        warm_up=float(dice.uniform(120.0, 600.0)),
        leak=float(dice.uniform(0.0, 3.0e-6)),
        flutter=float(dice.uniform(0.02, 0.05)) if flutters else 0.0,
        flutter_from=0.0 if flutters else math.inf,
        flutter_time=float(dice.uniform(0.3, 1.5)),
    )


def record(bench: PracticeBench, seconds: float, rate: float) -> Array:
    """Step a bench and keep time, test pressure and flow.

    Parameters
    ----------
    bench : PracticeBench
    seconds : float
        [s]
    rate : float
        Readings each second. [1/s]

    Returns
    -------
    ndarray, shape (n, 3)
        Time [s], test pressure [Pa], flow [m3/s].
    """
    seen = [bench.step(1.0 / rate) for _ in range(round(seconds * rate))]
    return np.array([(s.time, s.pressure, s.flow) for s in seen])


def settled_area(bench: PracticeBench) -> float:
    """What the instruments would read for ever at this lift if nothing drifted on. [m2]

    The flutter of a flow that separates counts with its mean, and the zero as it is now.
    """
    h = bench.habits
    velocity = float(jet_velocity(REFERENCE_DENSITY, h.test_pressure))
    low = h.flutter if bench.lift >= h.flutter_from else 0.0
    # the mean of the meter drop over both states, as the lag averages it
    flow = bench.area() * velocity * math.sqrt(0.5 * (1.0 + (1.0 - low) ** 2))
    zero = h.cold * math.exp(-bench.time / h.warm_up) + h.drift * bench.time
    meter = _METER_DROP * (flow / _METER_FLOW) ** 2 + zero
    return _METER_FLOW * math.sqrt(max(meter, 0.0) / _METER_DROP) / velocity
