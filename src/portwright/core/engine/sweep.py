"""Runs of an engine over crank speed, cut into pieces that other processes can do."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from portwright.core.engine.case import Doubt, EngineCase, Head
from portwright.core.engine.change import Change, build_changed
from portwright.core.gas1d.simulate import OperatingPoint, Settings, simulate
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


@dataclass(frozen=True, slots=True, eq=False)
class PieceDone:
    """What came of a piece.

    Parameters
    ----------
    key : tuple
    points : tuple of OperatingPoint or str
        One for each speed; the reason in words where no answer was found. Torque, power and
        flows are those of the whole engine.
    """

    key: tuple[str, int]
    points: tuple[OperatingPoint | str, ...]


def run_piece(piece: Piece) -> PieceDone:
    """Run one piece; what cannot be solved comes back as words, so that the rest is not lost."""
    try:
        engine = build_changed(piece.case, piece.head, piece.change, piece.doubt)
    except PortwrightError as error:
        return PieceDone(piece.key, tuple(str(error) for _ in piece.speeds))
    points: list[OperatingPoint | str] = []
    for speed in piece.speeds:
        try:
            point = simulate(engine, speed, piece.settings)
        except PortwrightError as error:
            points.append(str(error))
            continue
        points.append(_whole_engine(point, piece.case.scale, pictures=piece.keep_pictures))
    return PieceDone(piece.key, tuple(points))


def _whole_engine(point: OperatingPoint, scale: float, *, pictures: bool) -> OperatingPoint:
    return replace(
        point,
        torque=point.torque * scale,
        power=point.power * scale,
        air_flow=point.air_flow * scale,
        fuel_flow=point.fuel_flow * scale,
        pictures=point.pictures if pictures else None,
    )
