"""Tones of pipes with end correction.

End correction 0.6133 a unflanged, 0.8216 a infinite flange: Dalmont, Nederveen, Joly, J. Sound Vib.
2001 (SEEN, abstract). Frequencies COMPUTED from c / (4 (L + correction)) and odd multiples, and
c / (2 (L + 2 corrections)), with c = 343.344 m/s.
"""

from __future__ import annotations

import numpy as np
import pytest

from portwright.core.gas1d import ends as en
from portwright.core.gas1d import rows as r
from portwright.core.gas1d.ducts import end_correction
from portwright.core.gas1d.gas import perfect_gas
from portwright.core.gas1d.network import End, Tube, build_network, fill_tube, march
from portwright.core.gas1d.vessels import surroundings

SOUND = 343.344
PRESSURE = 101325.0
DENSITY = 1.4 * PRESSURE / SOUND**2
# length, radius, flanged, number of quarter waves, frequency
CLOSED_OPEN = [
    (0.5, 0.02, False, 1, 167.561384),
    (0.5, 0.02, False, 3, 502.684152),
    (0.5, 0.02, False, 5, 837.806921),
    (0.3, 0.0225, False, 1, 273.537939),
    (0.3, 0.0225, True, 1, 269.511632),
]


def _frequency(length: float, ends: tuple[int, int], quarters: int, cells: int) -> float:
    """Frequency of a small standing wave, from when the pressure at the left changes sign."""
    gas = perfect_gas(1.4, 287.05)
    tube = Tube("pipe", length, np.full(cells + 1, 1e-3), np.zeros(cells))
    network = build_network(gas, (tube,), ((End(ends[0], 0), End(ends[1], 0)),), vessels=1)
    surroundings(network, 0, pressure=PRESSURE, temperature=PRESSURE / DENSITY / 287.05)
    phase = 0.5 * np.pi * quarters * tube.centres / length
    shape = np.cos(phase) if ends[0] == en.CLOSED else np.sin(phase)
    p = PRESSURE + 10.0 * shape
    fill_tube(network, 0, DENSITY * (p / PRESSURE) ** (1 / 1.4), np.zeros(1), p, 0.0)
    expected = SOUND * quarters / (4.0 * length)
    probe = 0 if ends[0] == en.CLOSED else cells // (2 * quarters // 2)
    times = np.arange(1, 700) * (6.0 / expected / 700)
    signal = np.empty(times.size)
    for k, time in enumerate(times):
        march(network, float(time), 0.9)
        signal[k] = network.part(r.PRESSURE, 0)[probe] - PRESSURE
    sign = np.nonzero(signal[1:] * signal[:-1] < 0.0)[0]
    crossing = times[sign] - signal[sign] * (times[sign + 1] - times[sign]) / (
        signal[sign + 1] - signal[sign]
    )
    return float((crossing.size - 1) / 2.0 / (crossing[-1] - crossing[0]))


@pytest.mark.published
@pytest.mark.parametrize(("length", "radius", "flanged", "quarters", "frequency"), CLOSED_OPEN)
def test_closed_open_pipe(
    length: float, radius: float, flanged: bool, quarters: int, frequency: float
) -> None:
    effective = length + end_correction(radius, flanged=flanged)
    got = _frequency(effective, (en.CLOSED, en.OPEN), quarters, 20 * quarters)
    # 20 cells per quarter wave: phase error of the scheme and of finding the crossings.
    assert got == pytest.approx(frequency, rel=5e-4)


@pytest.mark.published
def test_open_open_pipe() -> None:
    effective = 0.5 + 2.0 * end_correction(0.02, flanged=False)
    got = _frequency(effective, (en.OPEN, en.OPEN), 2, 40)
    assert got == pytest.approx(327.286038, rel=5e-4)
