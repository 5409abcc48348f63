"""What the checks look at: one sweep with the conditions it was made under."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal, TypeAlias

import numpy as np

from portwright.core.curve import Array, FlowCurve, make_curve
from portwright.core.repeatability import known_reading_variance
from portwright.errors import ShapeError, Where

Side: TypeAlias = Literal["intake", "exhaust", ""]


def _unknown() -> Array:
    return np.array(np.nan)


@dataclass(frozen=True, slots=True, eq=False)
class SweepRecord:
    """One sweep of one port, with what was noted beside it.

    Single numbers in the array fields stand for all lifts; NaN means "not recorded".

    Parameters
    ----------
    curve : FlowCurve
        Lift and effective area.
    where : Where
        Names used in findings; run and repeat tell siblings apart.
    side : {"intake", "exhaust", ""}
        Side of the head, empty if not noted.
    port, stage, bench, configuration : str
        Sweeps that agree in all of these (and in side) are repeats of each other. Put everything
        that changes the flow on purpose (adapter, inlet aid, stub) into the configuration.
    air_temperature : ndarray, shape () or (n,)
        Air at the head. [K]
    test_pressure : ndarray, shape () or (n,)
        Test pressure. [Pa]
    day : str
        Session of the bench; sweeps of one day and bench are one session.
    order : float
        Place of the sweep in its session, NaN if not known. [-]
    valve_diameter : float
        Valve head diameter, NaN if not known. [m]
    curtain_area, net_throat_area, minimum_area : ndarray, shape () or (n,)
        Reference areas at the lifts of the sweep, summed over the valves of the port. [m2]
    missing : tuple of str
        Names of the conditions that were not recorded.

    Raises
    ------
    ShapeError
        An array is neither a single value nor as long as the sweep.
    """

    curve: FlowCurve
    where: Where
    side: Side = ""
    port: str = ""
    stage: str = ""
    bench: str = ""
    configuration: str = ""
    air_temperature: Array = field(default_factory=_unknown)
    test_pressure: Array = field(default_factory=_unknown)
    day: str = ""
    order: float = float("nan")
    valve_diameter: float = float("nan")
    curtain_area: Array = field(default_factory=_unknown)
    net_throat_area: Array = field(default_factory=_unknown)
    minimum_area: Array = field(default_factory=_unknown)
    missing: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        shapes = ((), self.curve.lift.shape)
        for name in (
            "air_temperature",
            "test_pressure",
            "curtain_area",
            "net_throat_area",
            "minimum_area",
        ):
            if np.shape(getattr(self, name)) not in shapes:
                raise ShapeError(f"'{name}' of {label(self)} does not fit the lifts of the sweep.")

    @property
    def key(self) -> tuple[str, str, str, str, str]:
        """What siblings share."""
        return (self.bench, self.side, self.configuration, self.stage, self.port)


@dataclass(frozen=True, slots=True, eq=False)
class Group:
    """Repeats of one port in one state on one bench.

    Parameters
    ----------
    sweeps : tuple of SweepRecord
        One or more, in the order given.
    slopes : tuple of ndarray
        d(ln A)/dL of the port at the lifts of each sweep: of the median curve where the siblings
        share their lifts, so that one odd reading does not bend it. [1/m]
    noise : tuple of ndarray
        Relative variance of the readings of each sweep that the sheets tell: last digit and
        scatter. Where no scatter was noted, that of its siblings, else what is usual on the
        bench. [-]
    """

    sweeps: tuple[SweepRecord, ...]
    slopes: tuple[Array, ...]
    noise: tuple[Array, ...]

    @property
    def first(self) -> SweepRecord:
        """Any sweep of the group: all share the key."""
        return self.sweeps[0]

    @property
    def where(self) -> Where:
        """Place of a finding about all repeats; names the run if there is only one."""
        place = self.first.where
        if len(self.sweeps) == 1:
            return place
        return Where(job=place.job, port=self.first.port or place.port, stage=self.first.stage)


def label(sweep: SweepRecord) -> str:
    """Name of a sweep as a person would say it."""
    where = sweep.where
    if where.run:
        return f"run {where.run}"
    parts = [p for p in (sweep.port or where.port, sweep.stage or where.stage) if p]
    if where.repeat is not None:
        parts.append(f"repeat {where.repeat}")
    return " ".join(parts) or "this sweep"


def grouped(sweeps: Iterable[SweepRecord]) -> list[Group]:
    """Put repeats together, keeping the order of first appearance."""
    found: dict[tuple[str, str, str, str, str], list[SweepRecord]] = {}
    scatter: dict[str, list[Array]] = {}
    for sweep in sweeps:
        found.setdefault(sweep.key, []).append(sweep)
        scatter.setdefault(sweep.bench, []).append(sweep.curve.scatter)
    usual = {bench: _median(np.concatenate(noted)) for bench, noted in scatter.items()}
    return [
        Group(
            sweeps=tuple(members),
            slopes=_slopes(members),
            noise=tuple(_noise(s, members, usual[s.bench]) for s in members),
        )
        for members in found.values()
    ]


def scatter_noted(sweep: SweepRecord) -> bool:
    """Whether the scatter was noted at every lift."""
    return bool(np.all(np.isfinite(sweep.curve.scatter)))


def _noise(sweep: SweepRecord, siblings: Sequence[SweepRecord], usual: float) -> Array:
    if scatter_noted(sweep):
        return known_reading_variance(sweep.curve)
    lift = sweep.curve.lift
    noted = [np.interp(lift, s.curve.lift, s.curve.scatter) for s in siblings if scatter_noted(s)]
    assumed = np.median(noted, axis=0) if noted else np.full(lift.size, usual)
    scatter = np.where(np.isfinite(sweep.curve.scatter), sweep.curve.scatter, assumed)
    return known_reading_variance(replace(sweep.curve, scatter=scatter))


def _median(values: Array) -> float:
    known = values[np.isfinite(values)]
    return float(np.median(known)) if known.size else 0.0


def _slopes(members: Sequence[SweepRecord]) -> tuple[Array, ...]:
    curves = [sweep.curve for sweep in members]
    lift = curves[0].lift
    if all(c.lift.size == lift.size and np.array_equal(c.lift, lift) for c in curves):
        middle = np.exp(np.median([np.log(c.area) for c in curves], axis=0))
        slope = make_curve(lift, middle).log_slope()
        return tuple(slope for _ in curves)
    return tuple(c.log_slope() for c in curves)


def first_of_session(sweeps: Sequence[SweepRecord]) -> frozenset[int]:
    """Places in ``sweeps`` of the first sweep of each bench and day."""
    first: dict[tuple[str, str], int] = {}
    for index, sweep in enumerate(sweeps):
        if not sweep.day or np.isnan(sweep.order):
            continue
        session = (sweep.bench, sweep.day)
        if session not in first or sweep.order < sweeps[first[session]].order:
            first[session] = index
    return frozenset(first.values())
