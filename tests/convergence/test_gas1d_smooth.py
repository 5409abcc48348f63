"""Smooth flow: order of accuracy, and the pieces the solver must keep exactly."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from portwright.core.gas1d import ends as en
from portwright.core.gas1d import rows as r
from portwright.core.gas1d.gas import perfect_gas
from portwright.core.gas1d.network import End, Network, Tube, build_network, fill_tube, march

Array = NDArray[np.float64]
GAMMA = 1.4


def _closed_tube(cells: int, area: Array, length: float = 1.0) -> Network:
    tube = Tube("tube", length, area, np.zeros(cells))
    wall = End(en.CLOSED)
    return build_network(perfect_gas(GAMMA), (tube,), ((wall, wall),))


def _simple_wave(cells: int, time: float) -> Array:
    """Density of a right-running simple wave, cell averages, still smooth at ``time``."""
    tube = Tube("tube", 1.0, np.ones(cells + 1), np.zeros(cells))
    passing = End(en.PASS)
    network = build_network(perfect_gas(GAMMA), (tube,), ((passing, passing),))
    inside = (np.arange(8) + 0.5) / 8 - 0.5
    x = tube.centres[:, None] + inside / cells
    # Compact and four times differentiable.
    hump = np.where(np.abs(x - 0.35) < 0.25, np.cos(2.0 * np.pi * (x - 0.35)) ** 6, 0.0)
    sound = np.sqrt(GAMMA) * (1.0 + 0.04 * hump)
    velocity = 2.0 / (GAMMA - 1.0) * (sound - np.sqrt(GAMMA))
    density = (sound / np.sqrt(GAMMA)) ** (2.0 / (GAMMA - 1.0))
    pressure = density**GAMMA
    momentum = (density * velocity).mean(axis=1)
    energy = (pressure / (GAMMA - 1.0) + 0.5 * density * velocity**2).mean(axis=1)
    rho = density.mean(axis=1)
    u = momentum / rho
    fill_tube(network, 0, rho, u, (GAMMA - 1.0) * (energy - 0.5 * rho * u * u), 0.0)
    march(network, time, 0.9)
    out: Array = network.part(r.DENSITY, 0).copy()
    return out


def test_smooth_wave_order() -> None:
    cells = (50, 100, 200, 400)
    finest = _simple_wave(3200, 0.2)
    errors = [
        float(np.mean(np.abs(_simple_wave(n, 0.2) - finest.reshape(n, -1).mean(axis=1))))
        for n in cells
    ]
    orders = np.log2(np.array(errors[:-1]) / np.array(errors[1:]))
    # Asked for: above 1.7. Limiting at the crest keeps it from third order.
    assert np.all(orders > 1.7), orders


def test_still_gas_stays_still_in_varying_area() -> None:
    cells = 80
    x = np.linspace(0.0, 1.0, cells + 1)
    area = 1e-3 * (1.0 - 0.6 * np.exp(-(((x - 0.5) / 0.05) ** 2)) + 0.5 * (x > 0.7))
    network = _closed_tube(cells, area, 0.4)
    temperature = np.where(np.arange(cells) < 40, 300.0, 450.0)
    fill_tube(network, 0, 101325.0 / (287.05 * temperature), np.zeros(1), np.full(1, 101325.0), 0.0)
    march(network, 0.02, 0.9)
    # Asked for: below 1e-10 m/s after many crossings of the tube.
    assert network.clock[1] > 1000
    assert np.max(np.abs(network.part(r.VELOCITY, 0))) < 1e-10


def test_closed_tube_keeps_mass_and_energy() -> None:
    cells = 100
    x = np.linspace(0.0, 1.0, cells + 1)
    network = _closed_tube(cells, 1e-3 * (1.0 + 0.5 * np.sin(7.0 * x)))
    pressure = np.where(np.arange(cells) < 30, 3e5, 1e5)
    fill_tube(network, 0, np.full(1, 1.2), np.zeros(1), pressure, 0.0)
    volume = network.tubes[0].volumes
    before = [float(np.sum(volume * network.part(q, 0))) for q in (r.DENSITY, r.ENERGY)]
    march(network, 0.01, 0.9)
    after = [float(np.sum(volume * network.part(q, 0))) for q in (r.DENSITY, r.ENERGY)]
    # Round-off of about two thousand steps.
    assert after == pytest.approx(before, rel=1e-12)


def test_discontinuity_of_composition_stays_between_its_values() -> None:
    cells = 60
    network = _closed_tube(cells, np.full(cells + 1, 1e-3))
    fill_tube(network, 0, np.full(1, 1.2), np.full(1, 60.0), np.full(1, 1e5), 0.0)
    first = r.BURNED + network.starts[0]
    network.work[first + 20 : first + 40] = 1.2
    march(network, 2e-3, 0.9)
    share = network.part(r.BURNED, 0) / network.part(r.DENSITY, 0)
    assert -1e-12 < share.min() < 0.01
    assert 0.9 < share.max() < 1.0 + 1e-12
