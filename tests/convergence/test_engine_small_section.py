"""*Common practice*: a 7.1 litre eight with a 2.33 in2 smallest section chokes earlier than with
2.62 in2, gains low down and loses on top.

The engine is invented; only the sentence is the trade's.  Valve, cam, runner length and exhaust are
the same in both, so that nothing but the section differs.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from portwright.core.engine.case import BenchedPort, EngineCase, Head, build
from portwright.core.gas1d.ducts import Duct, join, plain_pipe
from portwright.core.gas1d.engine import Collector, Engine, Fuel, Mechanics
from portwright.core.gas1d.operating import OperatingPoint
from portwright.core.gas1d.simulate import Settings, simulate
from portwright.core.gas1d.valves import lift_from_events

INCH = 0.0254
SPEEDS = (4500.0, 5000.0, 5500.0, 7500.0, 8000.0, 8500.0)
IDEAL = 147.1  # cfm per square inch at 28 inH2O


def _port(square_inches: float) -> Duct:
    profile = np.array([1.17, 1.08, 1.0, 1.05, 1.12, 1.1])
    x = np.array([0.0, 0.06, 0.10, 0.13, 0.16, 0.18])
    return Duct("port", x, profile * square_inches * INCH**2)


def _intake(square_inches: float) -> Duct:
    entry = float(np.sqrt(4.0 / np.pi * 1.17 * square_inches)) * INCH
    runner = plain_pipe("runner", 0.17, 0.058, end_diameter=entry)
    return join("intake", runner, _port(square_inches))


def _flow(cfm: float) -> tuple[np.ndarray, np.ndarray]:
    lift = np.linspace(1e-3, 19e-3, 19)
    return lift, cfm / IDEAL * INCH**2 * np.tanh(lift / 8.5e-3) / np.tanh(19.0 / 8.5)


def _engine() -> Engine:
    hot = 650.0
    case = EngineCase(
        Mechanics(0.108, 0.097, 0.156, 13.0, (0.0, 180.0, 360.0, 540.0)),
        8,
        lift_from_events(322.0, 614.0, 1.27e-3, 18.5e-3),
        lift_from_events(100.0, 404.0, 1.27e-3, 18.0e-3),
        plain_pipe("runner", 0.17, 0.058),
        plain_pipe("primary", 0.8, 0.0508, wall_temperature=hot),
        collectors=(
            Collector((0, 1, 2, 3), 2e-3, plain_pipe("tail", 0.6, 0.089, wall_temperature=hot)),
        ),
        fuel=Fuel("race-petrol", 0.88, 0.3),
    )
    out = plain_pipe("exhaust port", 0.09, 0.046, wall_temperature=550.0)
    head = Head(BenchedPort(_port(2.62), *_flow(360.0)), BenchedPort(out, *_flow(250.0)))
    return build(case, head)


@pytest.fixture(scope="module")
def runs() -> dict[float, list[OperatingPoint]]:
    engine = _engine()
    assert engine.mechanics.swept * 8 == pytest.approx(7.1e-3, rel=0.01)
    settings = Settings(cell=1e-2, tolerance=1e-3, record_step=6.0)
    return {
        section: [
            simulate(replace(engine, intake=(_intake(section),)), n, settings) for n in SPEEDS
        ]
        for section in (2.33, 2.62)
    }


def test_the_small_section_chokes_earlier(runs: dict[float, list[OperatingPoint]]) -> None:
    mach = {s: [float(p.most_mach["intake 1"].max()) for p in found] for s, found in runs.items()}
    assert all(small > large for small, large in zip(mach[2.33], mach[2.62], strict=True))
    # local Mach number 0.9 is passed at 7500 rev/min by the small section, not by the large one
    assert mach[2.33][3] > 0.85 > mach[2.62][3]


def test_it_gains_low_down_and_loses_on_top(runs: dict[float, list[OperatingPoint]]) -> None:
    small, large = (np.array([p.torque for p in runs[s]]) for s in (2.33, 2.62))
    gain = small / large - 1.0
    # tuning makes single speeds jump; means over the lower and upper three must be clear of the
    # 0.1 point that the grid leaves open
    assert gain[:3].mean() > 0.01
    assert gain[3:].mean() < -0.01
    assert np.all(gain[-2:] < 0.0)


def test_its_power_peaks_no_later(runs: dict[float, list[OperatingPoint]]) -> None:
    power = {s: [p.power for p in found] for s, found in runs.items()}
    assert SPEEDS[int(np.argmax(power[2.33]))] <= SPEEDS[int(np.argmax(power[2.62]))]
