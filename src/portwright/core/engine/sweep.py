"""Runs of an engine over crank speed, cut into pieces that other processes can do."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from portwright.core.engine.case import Doubt, EngineCase, Head
from portwright.core.engine.change import Change, build_changed
from portwright.core.gas1d.engine import Engine
from portwright.core.gas1d.operating import OperatingPoint
from portwright.core.gas1d.simulate import Settings, simulate
from portwright.core.gas1d.valves import ANGLES
from portwright.errors import PortwrightError


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """Some speeds of one head with one guess at what is uncertain.

    Parameters
    ----------
    key : tuple
        By which the asker knows it again.
    case : EngineCase
    head : Head
    speeds : tuple of float
        [rev/min]
    settings : Settings
    doubt : Doubt
    change : Change
    keep_pictures : bool
        Send recorded pictures back, which are large.
    """

    key: tuple[str, int]
    case: EngineCase
    head: Head
    speeds: tuple[float, ...]
    settings: Settings
    doubt: Doubt = field(default_factory=Doubt)
    change: Change = field(default_factory=Change)
    keep_pictures: bool = False


@dataclass(frozen=True, slots=True)
class Seen:
    """What recorded pictures of a cycle show; NaN unless they were recorded.

    Parameters
    ----------
    valve_mach : float
        See :func:`valve_mach`. [-]
    overlap_back : float
        See :func:`overlap_back`. [-]
    """

    valve_mach: float = float("nan")
    overlap_back: float = float("nan")


@dataclass(frozen=True, slots=True, eq=False)
class PieceDone:
    """What came of a piece.

    Parameters
    ----------
    key : tuple
    points : tuple of OperatingPoint or str
        One for each speed; the reason in words where no answer was found. Torque, power and
        flows are those of the whole engine.
    seen : tuple of Seen
        One for each speed.
    """

    key: tuple[str, int]
    points: tuple[OperatingPoint | str, ...]
    seen: tuple[Seen, ...] = ()


def run_piece(piece: Piece) -> PieceDone:
    """Run one piece; what cannot be solved comes back as words, so that the rest is not lost."""
    try:
        engine = build_changed(piece.case, piece.head, piece.change, piece.doubt)
    except PortwrightError as error:
        count = len(piece.speeds)
        return PieceDone(piece.key, (str(error),) * count, (Seen(),) * count)
    points: list[OperatingPoint | str] = []
    seen: list[Seen] = []
    for speed in piece.speeds:
        try:
            point = simulate(engine, speed, piece.settings)
        except PortwrightError as error:
            points.append(str(error))
            seen.append(Seen())
            continue
        seen.append(Seen(valve_mach(point), overlap_back(point, engine)))
        points.append(_whole_engine(point, piece.case.scale, pictures=piece.keep_pictures))
    return PieceDone(piece.key, tuple(points), tuple(seen))


def valve_mach(point: OperatingPoint) -> float:
    """Mean Mach number at which the charge passes the intake valve.

    Parameters
    ----------
    point : OperatingPoint
        With recorded pictures.

    Returns
    -------
    float
        Mean over the mass that enters, 1 where the valve is choked; NaN without pictures. [-]

    Notes
    -----
    Isentropic Mach number from total pressure in front of the valve to cylinder pressure, ratio
    of specific heats 1.38 (fuel and air, from memory).
    """
    if point.pictures is None:
        return float("nan")
    gamma = 1.38
    flow, pressure, velocity, density = np.moveaxis(point.pictures.intake_valve, -1, 0)
    into = np.maximum(-flow, 0.0)
    if not float(into.sum()) > 0.0:
        return float("nan")
    square = velocity**2 * density / (gamma * pressure)
    total = pressure * (1.0 + 0.5 * (gamma - 1.0) * square) ** (gamma / (gamma - 1.0))
    ratio = np.minimum(point.pictures.cylinders[:, :, 0] / total, 1.0)
    mach = np.sqrt(2.0 / (gamma - 1.0) * (ratio ** ((1.0 - gamma) / gamma) - 1.0))
    return float(np.average(np.minimum(mach, 1.0), weights=into))


def overlap_back(point: OperatingPoint, engine: Engine) -> float:
    """Mass blown back into the intake port while both valves are open, over mass that comes in.

    Parameters
    ----------
    point : OperatingPoint
        With recorded pictures; the first cylinder counts.
    engine : Engine
        That was run.

    Returns
    -------
    float
        0 where nothing blows back or the valves never overlap; NaN without pictures. [-]
    """
    if point.pictures is None:
        return float("nan")
    flow = point.pictures.intake_valve[:, 0, 0]
    into = float(np.maximum(-flow, 0.0).sum())
    if not into > 0.0:
        return float("nan")
    both = np.minimum(engine.intake_area, engine.exhaust_area)
    open_ = np.interp(point.pictures.angle, ANGLES, both) > 0.0
    return float(np.maximum(flow[open_], 0.0).sum()) / into


def _whole_engine(point: OperatingPoint, scale: float, *, pictures: bool) -> OperatingPoint:
    return replace(
        point,
        torque=point.torque * scale,
        power=point.power * scale,
        air_flow=point.air_flow * scale,
        fuel_flow=point.fuel_flow * scale,
        pictures=point.pictures if pictures else None,
    )
