"""An engine with the head left open, so that two heads can be tried on the same one."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from portwright.core.curve import Array
from portwright.core.gas1d.bench import BenchCondition, valve_only_area
from portwright.core.gas1d.ducts import Duct, join
from portwright.core.gas1d.engine import (
    Air,
    Burning,
    Collector,
    Engine,
    Fuel,
    Mechanics,
    Plenum,
    Rubbing,
    Walls,
)
from portwright.core.gas1d.valves import area_against_crank

_SAME_PLACE = 1e-6  # [m]
_SAMPLES = 41  # sections along a port; enough to draw what a profile of 8 mm steps says


@dataclass(frozen=True, slots=True, eq=False)
class BenchedPort:
    """A port by its sections and its bench curve.

    Parameters
    ----------
    duct : Duct
        The port, in flow direction of a running engine.
    lift, area : ndarray, shape (n,)
        Bench curve: lift and effective area of duct and valve together. [m, m2]
    least_share : float
        Smallest share of the smallest section the flow may fill. [-]
    stub : Duct or None
        What was mounted behind an exhaust port on the bench.
    """

    duct: Duct
    lift: Array
    area: Array
    least_share: float = 1.0
    stub: Duct | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Head:
    """One state of the head: an intake and an exhaust port that stand for all cylinders."""

    intake: BenchedPort
    exhaust: BenchedPort


@dataclass(frozen=True, slots=True, eq=False)
class EngineCase:
    """Everything of the engine but its head.

    Parameters
    ----------
    mechanics : Mechanics
        With the cylinders that are simulated.
    cylinders : int
        Cylinders the engine really has; the simulated ones stand for them.
    intake_lift, exhaust_lift : ndarray, shape (2881,)
        Valve lift against crank angle. [m]
    runner, primary : Duct
        Intake runner up to the port, exhaust primary behind it.
    plenum : Plenum or None
    collectors : tuple of Collector
    condition : BenchCondition
        Test condition of the bench curves.
    air, fuel, burning, walls, rubbing
        See :mod:`portwright.core.gas1d.engine`.
    """

    mechanics: Mechanics
    cylinders: int
    intake_lift: Array
    exhaust_lift: Array
    runner: Duct
    primary: Duct
    plenum: Plenum | None = None
    collectors: tuple[Collector, ...] = ()
    condition: BenchCondition = field(default_factory=BenchCondition)
    air: Air = field(default_factory=Air)
    fuel: Fuel = field(default_factory=Fuel)
    burning: Burning = field(default_factory=Burning)
    walls: Walls = field(default_factory=Walls)
    rubbing: Rubbing = field(default_factory=Rubbing)

    @property
    def scale(self) -> float:
        """Cylinders each simulated one stands for. [-]"""
        return self.cylinders / self.mechanics.cylinders


@dataclass(frozen=True, slots=True)
class Doubt:
    """One guess at everything that is not known well; the default is the best guess.

    Parameters
    ----------
    flow : float
        True over shown flow of the bench, both sides of the port. [-]
    own_intake, own_exhaust : float
        The same for what belongs to one head's sweeps alone. [-]
    filled : float
        Where between the least share (0) and all of it (1) the flow fills the smallest section.
        [-]
    roughness, heat, rubbing : float
        Factors on wall roughness, on heat to the cylinder walls, on mechanical friction. [-]
    half_burned, burn_length : float
        Added to the combustion. [deg]
    burn_efficiency : float
        Factor on the share of fuel energy released. [-]
    evaporated : float
        Added to the share of fuel evaporated before the runner. [-]
    runner, primary, tail : float
        Factors on the lengths of runner, exhaust primary and pipe behind the collector. [-]
    """

    flow: float = 1.0
    own_intake: float = 1.0
    own_exhaust: float = 1.0
    filled: float = 0.5
    roughness: float = 1.0
    heat: float = 1.0
    rubbing: float = 1.0
    half_burned: float = 0.0
    burn_length: float = 0.0
    burn_efficiency: float = 1.0
    evaporated: float = 0.0
    runner: float = 1.0
    primary: float = 1.0
    tail: float = 1.0


def filled_duct(port: BenchedPort, doubt: Doubt) -> Duct:
    """Port as far as the flow fills it, walls as rough as doubted."""
    share = port.least_share + (1.0 - port.least_share) * doubt.filled
    duct = replace(port.duct, area_factor=share)
    x = _stations(duct)
    perimeter = None
    if duct.perimeter is not None:
        perimeter = np.interp(x, duct.position, duct.perimeter)
    return replace(
        duct,
        position=x,
        area=duct.area_at(x),
        perimeter=perimeter,
        area_factor=1.0,
        roughness=duct.roughness * doubt.roughness,
    )


def _stations(duct: Duct) -> Array:
    """Even stations and the measured ones; the last bit of a distance must not make two of one."""
    x = np.union1d(np.linspace(0.0, duct.length, _SAMPLES), duct.position)
    apart = np.append(np.diff(x) > _SAME_PLACE, True)
    x = x[apart]
    # joining ducts adds even stations of its own: meet those exactly
    even = np.linspace(0.0, duct.length, 3 * x.size)
    nearest = even[np.argmin(np.abs(x[:, None] - even), axis=1)]
    met: Array = np.where(np.abs(x - nearest) < _SAME_PLACE, nearest, x)
    met[0] = 0.0
    return met


def _doubted(duct: Duct, doubt: Doubt, longer: float) -> Duct:
    """A pipe as rough as doubted, its length and places along it times ``longer``."""
    return replace(
        duct, position=duct.position * longer, roughness=duct.roughness * doubt.roughness
    )


def valve_area(
    port: BenchedPort, duct: Duct, flow: float, condition: BenchCondition, *, outward: bool
) -> Array:
    """Effective area of the valve alone at the lifts of the bench curve. [m2]

    Parameters
    ----------
    port : BenchedPort
    duct : Duct
        From :func:`filled_duct`.
    flow : float
        Factor on the bench curve. [-]
    condition : BenchCondition
    outward : bool
        True for the exhaust.

    Notes
    -----
    Solved at the smallest and the largest flow.  Losses in series make ``(A/A_valve)^2`` fall
    straight with ``A^2``, so the lifts between follow; the full solution differs by less than
    0.1 % (a test says so), the bench itself by a percent.
    """
    tested = duct if port.stub is None else join("port and stub", duct, port.stub)
    shown = port.area * flow
    ends = [int(np.argmin(shown)), int(np.argmax(shown))]
    solved = valve_only_area(tested, shown[ends], condition, outward=outward)
    lost = (shown[ends] / solved) ** 2
    found: Array = shown / np.sqrt(np.interp(shown**2, shown[ends] ** 2, lost))
    return found


def build(case: EngineCase, head: Head, doubt: Doubt | None = None) -> Engine:
    """Put a head on the engine.

    The port loss is in the bench curve and in the duct, so the valve gets the area that behind
    its duct passes the measured flow; the same sections are used for both.

    Parameters
    ----------
    case : EngineCase
    head : Head
    doubt : Doubt, optional
        One guess at what is uncertain; the best guess without it.

    Returns
    -------
    Engine

    Raises
    ------
    GeometryError
        Sections and bench curve contradict each other.
    """
    doubt = doubt or Doubt()
    intake, exhaust = filled_duct(head.intake, doubt), filled_duct(head.exhaust, doubt)
    flow_in = doubt.flow * doubt.own_intake
    flow_out = doubt.flow * doubt.own_exhaust
    area_in = valve_area(head.intake, intake, flow_in, case.condition, outward=False)
    area_out = valve_area(head.exhaust, exhaust, flow_out, case.condition, outward=True)
    b, w, r = case.burning, case.walls, case.rubbing
    return Engine(
        mechanics=case.mechanics,
        intake=(join("intake", _doubted(case.runner, doubt, doubt.runner), intake),),
        exhaust=(_exhaust(exhaust, _doubted(case.primary, doubt, doubt.primary)),),
        intake_area=area_against_crank(case.intake_lift, head.intake.lift, area_in),
        exhaust_area=area_against_crank(case.exhaust_lift, head.exhaust.lift, area_out),
        plenum=case.plenum,
        collectors=tuple(
            replace(c, tail=_doubted(c.tail, doubt, doubt.tail)) for c in case.collectors
        ),
        burning=replace(
            b,
            half_burned=b.half_burned + doubt.half_burned,
            length=b.length + doubt.burn_length,
            efficiency=min(1.0, b.efficiency * doubt.burn_efficiency),
        ),
        walls=replace(w, heat_factor=w.heat_factor * doubt.heat),
        fuel=replace(
            case.fuel, evaporated=float(np.clip(case.fuel.evaporated + doubt.evaporated, 0.0, 1.0))
        ),
        rubbing=replace(
            r,
            constant=r.constant * doubt.rubbing,
            pressure_share=r.pressure_share * doubt.rubbing,
            speed=r.speed * doubt.rubbing,
            speed_square=r.speed_square * doubt.rubbing,
        ),
        air=case.air,
    )


def _exhaust(port: Duct, primary: Duct) -> Duct:
    """Port and primary; the wall of the pipe rules, as most of the length is pipe."""
    return join("exhaust", port, primary)
