"""Fill the vessels of a network: surroundings, plenum, collector."""

from __future__ import annotations

from portwright.core.gas1d import ends as en
from portwright.core.gas1d import march as ma
from portwright.core.gas1d.network import Network
from portwright.errors import RangeError


def surroundings(
    network: Network, vessel: int, *, pressure: float, temperature: float, fraction: float = 0.0
) -> None:
    """Make a vessel so large that its state never changes.

    Parameters
    ----------
    network : Network
        Changed in place.
    vessel : int
        Number of the vessel.
    pressure, temperature : float
        State at rest. [Pa, K]
    fraction : float
        Burned mass fraction. [-]

    Raises
    ------
    RangeError
        Pressure or temperature not above zero.
    """
    if not (pressure > 0.0 and temperature > 0.0):
        raise RangeError("Pressure and temperature of a vessel must be above zero.")
    gas = network.gas
    ratio = gas.gas_constant(fraction) * temperature
    energy = gas.energy_from_ratio(ratio, fraction)
    network.kinds[vessel] = ma.FIXED
    network.states[vessel, en.V_PRESSURE] = pressure
    network.states[vessel, en.V_DENSITY] = pressure / ratio
    network.states[vessel, en.V_ENTHALPY] = energy + ratio
    network.states[vessel, en.V_GAMMA] = gas.gamma(energy, fraction)
    network.states[vessel, en.V_FRACTION] = fraction


def volume(
    network: Network,
    vessel: int,
    *,
    size: float,
    pressure: float,
    temperature: float,
    fraction: float = 0.0,
) -> None:
    """Make a vessel a volume with one pressure: plenum or collector junction.

    Gas entering from a tube loses its motion in it, gas leaving starts from rest. That is the
    constant-pressure junction; it has no directed momentum, so a collector that aims one pipe at
    the tail loses more here than in metal.

    Parameters
    ----------
    network : Network
        Changed in place.
    vessel : int
        Number of the vessel.
    size : float
        Volume. [m3]
    pressure, temperature, fraction : float
        State to start from. [Pa, K, -]

    Raises
    ------
    RangeError
        A size not above zero.
    """
    if not size > 0.0:
        raise RangeError("A plenum or collector needs a volume above zero.")
    surroundings(network, vessel, pressure=pressure, temperature=temperature, fraction=fraction)
    state = network.states[vessel]
    mass = size * state[en.V_DENSITY]
    energy = state[en.V_ENTHALPY] - state[en.V_PRESSURE] / state[en.V_DENSITY]
    network.kinds[vessel] = ma.VOLUME
    network.content[vessel, : ma.TEMPERATURE + 1] = (
        mass,
        mass * energy,
        mass * fraction,
        size,
        temperature,
    )
    network.content[vessel, ma.LAST_PRESSURE] = pressure
