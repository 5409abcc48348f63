"""Tubes, vessels and their connections as arrays for the compiled main loop."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from portwright.core.curve import Array
from portwright.core.gas1d import cylinder as cy
from portwright.core.gas1d import ends as en
from portwright.core.gas1d import march as ma
from portwright.core.gas1d import rows as r
from portwright.core.gas1d.friction import roughness_term
from portwright.core.gas1d.gas import Gas
from portwright.errors import NonPhysicalStateError, NotConvergedError, RangeError, ShapeError

MOST_STEPS = 5_000_000


@dataclass(frozen=True, slots=True, eq=False)
class Tube:
    """A tube as the solver sees it: equal cells and the area at their faces.

    Parameters
    ----------
    name : str
        Shown in messages ("intake 1").
    length : float
        Length. [m]
    area : ndarray, shape (cells + 1,)
        Area at the faces. [m2]
    diameter : ndarray, shape (cells,)
        Hydraulic diameter of the cells; zero for a tube without friction. [m]
    roughness : float
        Wall roughness. [m]
    wall_temperature : float
        Wall temperature. [K]
    heat_factor : float
        Wall heat relative to the Reynolds analogy; 0 for an adiabatic wall. [-]
    """

    name: str
    length: float
    area: Array
    diameter: Array
    roughness: float = 0.0
    wall_temperature: float = 300.0
    heat_factor: float = 0.0

    def __post_init__(self) -> None:
        if self.area.ndim != 1 or self.area.size < 5:
            raise ShapeError(f"Tube '{self.name}' needs at least four cells.")
        if self.diameter.shape != (self.area.size - 1,):
            raise ShapeError(f"Tube '{self.name}': one diameter per cell is needed.")
        if not (self.length > 0.0 and np.all(self.area > 0.0) and np.all(np.isfinite(self.area))):
            raise RangeError(f"Tube '{self.name}': length and areas must be above zero.")

    @property
    def cells(self) -> int:
        """Number of cells."""
        return int(self.area.size - 1)

    @property
    def centres(self) -> Array:
        """Distance of the cell centres from the left end. [m]"""
        half = 0.5 * self.length / self.cells
        return np.linspace(half, self.length - half, self.cells)

    @property
    def volumes(self) -> Array:
        """Volume of the cells. [m3]"""
        volume: Array = 0.5 * (self.area[1:] + self.area[:-1]) * (self.length / self.cells)
        return volume


@dataclass(frozen=True, slots=True)
class End:
    """How one end of a tube is connected.

    Parameters
    ----------
    kind : int
        ``ends.PASS``, ``CLOSED``, ``OPEN`` or ``VALVE``.
    vessel : int
        Vessel behind it, -1 for none.
    opening : float
        Constant effective area of a valve. [m2]
    curve : int
        Row of the table of effective area against crank angle, -1 for none.
    """

    kind: int
    vessel: int = -1
    opening: float = 0.0
    curve: int = -1


@dataclass(slots=True, eq=False)
class Network:
    """Everything the main loop works on; mutable, one per run.

    Built by :func:`build_network`.
    """

    gas: Gas
    tubes: tuple[Tube, ...]
    work: Array
    cells: int
    starts: tuple[int, ...]
    ends: en.Ints
    openings: Array
    curves: Array
    faces: Array
    end_totals: Array
    kinds: en.Ints
    content: Array
    states: Array
    phases: Array
    totals: Array
    links: en.Ints
    link_areas: Array
    clock: Array = field(default_factory=lambda: np.zeros(ma.CLOCK_COLUMNS))
    cylinder: Array = field(default_factory=lambda: np.ones(cy.CYLINDER_PARAMETERS))
    degrees: float = 0.0
    plan: Array = field(default_factory=lambda: np.zeros(0))

    def part(self, row: int, tube: int) -> Array:
        """View of one quantity in one tube."""
        first = row + self.starts[tube]
        return self.work[first : first + self.tubes[tube].cells]

    def locate(self, cell: int) -> tuple[str, float]:
        """Name of the tube a cell belongs to and its distance from the left end. [m]"""
        for tube, start in zip(self.tubes, self.starts, strict=True):
            if start - r.GHOSTS <= cell < start + tube.cells + r.GHOSTS:
                x = (cell - start + 0.5) * tube.length / tube.cells
                return tube.name, min(max(x, 0.0), tube.length)
        return "no tube", float("nan")


def build_network(
    gas: Gas,
    tubes: tuple[Tube, ...],
    connections: tuple[tuple[End, End], ...],
    *,
    vessels: int = 0,
    curves: Array | None = None,
    links: tuple[tuple[int, int, float], ...] = (),
) -> Network:
    """Lay tubes out in the work array.

    Parameters
    ----------
    gas : Gas
        Tube gas.
    tubes : tuple of Tube
        Tubes.
    connections : tuple of (End, End)
        Left and right end of each tube.
    vessels : int
        Number of vessels, filled in later.
    curves : ndarray, shape (n, 2881), optional
        Effective area against crank angle, every quarter degree. [m2]
    links : tuple of (from, to, area)
        Orifices between vessels with their effective areas [m2].

    Returns
    -------
    Network

    Raises
    ------
    RangeError
        More cells than the work array holds.
    ShapeError
        Not one pair of ends per tube.
    """
    if len(tubes) != len(connections):
        raise ShapeError("Each tube needs exactly two ends.")
    cells = sum(tube.cells + 2 * r.GHOSTS for tube in tubes)
    if cells > r.MOST_CELLS:
        raise RangeError(
            f"{cells} cells are more than the {r.MOST_CELLS} one run can hold.",
            "Use longer cells.",
        )
    work = np.zeros(r.ROWS * r.ROW)
    starts = []
    ends = np.full((2 * len(tubes), en.END_COLUMNS), -1, dtype=np.int64)
    openings = np.zeros(2 * len(tubes))
    position = 0
    for k, (tube, pair) in enumerate(zip(tubes, connections, strict=True)):
        start = position + r.GHOSTS
        starts.append(start)
        _lay_out(work, start, tube)
        for side, end in enumerate(pair):
            row = 2 * k + side
            face = start + side * tube.cells
            ends[row] = face, 1 - 2 * side, end.kind, end.vessel, end.curve, end.vessel
            openings[row] = end.opening
        position += tube.cells + 2 * r.GHOSTS
    # Whole vectors only: the rest is gas nobody looks at.
    padded = -(-position // r.LANES) * r.LANES
    for number, value in ((r.DENSITY, 1.0), (r.ENERGY, 1e5)):
        work[number + position : number + padded + r.LANES] = value
    return Network(
        gas=gas,
        tubes=tubes,
        work=work,
        cells=padded,
        starts=tuple(starts),
        ends=ends,
        openings=openings,
        curves=np.zeros((1, 2)) if curves is None else np.ascontiguousarray(curves),
        faces=np.zeros((2 * len(tubes), 8)),
        end_totals=np.zeros((2 * len(tubes), ma.END_TOTALS)),
        kinds=np.zeros(vessels, dtype=np.int64),
        content=np.zeros((vessels, ma.CONTENT_COLUMNS)),
        states=np.zeros((max(vessels, 1), en.VESSEL_COLUMNS)),
        phases=np.zeros(max(vessels, 1)),
        totals=np.zeros((vessels, ma.TOTAL_COLUMNS)),
        links=np.array([link[:2] for link in links], dtype=np.int64).reshape(-1, 2),
        link_areas=np.array([link[2] for link in links] + [0.0] * len(links)),
    )


def _lay_out(work: Array, start: int, tube: Tube) -> None:
    n = tube.cells
    dx = tube.length / n
    inside = slice(start, start + n)

    def row(number: int, where: slice) -> Array:
        return work[number + where.start : number + where.stop]

    row(r.AREA, slice(start, start + n + 1))[:] = tube.area
    row(r.INV_VOLUME, inside)[:] = 1.0 / tube.volumes
    row(r.INV_LENGTH, inside)[:] = 1.0 / dx
    row(r.AREA_SLOPE, inside)[:] = np.diff(tube.area) / tube.volumes
    row(r.HEAT_RATIO, inside)[:] = tube.heat_factor
    row(r.WALL_TEMPERATURE, inside)[:] = tube.wall_temperature
    row(r.DIAMETER, inside)[:] = tube.diameter
    wide = np.where(tube.diameter > 0.0, tube.diameter, 1.0)
    row(r.ROUGHNESS, inside)[:] = [roughness_term(tube.roughness / d) for d in wide]


def fill_tube(
    network: Network, tube: int, density: Array, velocity: Array, pressure: Array, fraction: float
) -> None:
    """Set the gas of a tube.

    Parameters
    ----------
    network : Network
        Network to change.
    tube : int
        Number of the tube.
    density, velocity, pressure : ndarray, shape (cells,)
        Gas state. [kg/m3, m/s, Pa]
    fraction : float
        Burned mass fraction. [-]
    """
    n = network.tubes[tube].cells
    start = network.starts[tube]
    shape = (n,)
    density = np.broadcast_to(np.asarray(density, dtype=np.float64), shape)
    velocity = np.broadcast_to(np.asarray(velocity, dtype=np.float64), shape)
    pressure = np.broadcast_to(np.asarray(pressure, dtype=np.float64), shape)
    ratio = pressure / density
    known, back = np.unique(ratio, return_inverse=True)
    energy = np.array([network.gas.energy_from_ratio(float(g), fraction) for g in known])[back]
    padded = {
        r.DENSITY: density,
        r.MOMENTUM: density * velocity,
        r.ENERGY: density * (energy + 0.5 * velocity**2),
        r.BURNED: density * fraction,
    }
    for number, values in padded.items():
        first = number + start - r.GHOSTS
        network.work[first : first + n + 2 * r.GHOSTS] = np.pad(values, r.GHOSTS, mode="edge")
    for side, cell in ((0, 0), (1, n - 1)):
        network.faces[2 * tube + side, 4:] = (
            density[cell],
            velocity[cell] if network.ends[2 * tube + side, en.KIND] == en.PASS else 0.0,
            pressure[cell],
            fraction,
        )


_NOTHING = np.zeros(0)
_NO_TRACE = np.zeros((0, 0, 0))
_NO_WAVE = np.zeros((0, 0, 0), dtype=np.float32)


@dataclass(frozen=True, slots=True, eq=False)
class Records:
    """Where the main loop writes what happens at chosen crank angles."""

    samples: Array
    vessels: Array
    ends: Array
    waves: ma.Singles


def march(
    network: Network,
    until: float,
    courant: float,
    records: Records | None = None,
    most_steps: int = MOST_STEPS,
) -> None:
    """March a network to a time and raise what the compiled loop reports.

    Parameters
    ----------
    network : Network
        Changed in place.
    until : float
        Time to stop at. [s]
    courant : float
        Courant number, above 0 and at most 1. [-]
    records : Records, optional
        What to write down on the way.
    most_steps : int
        Most steps since the network was built.

    Raises
    ------
    RangeError
        Courant number outside its range.
    NonPhysicalStateError
        Density, pressure or temperature lost their sense.
    NotConvergedError
        Too many steps.
    """
    if not 0.0 < courant <= 1.0:
        raise RangeError(f"Courant number {courant:g} is not between 0 and 1.", "Use 0.9.")
    gas = network.gas
    status, where, step, time = ma.advance(
        network.work,
        network.cells,
        gas.tube,
        network.clock,
        network.plan,
        until,
        courant,
        most_steps,
        network.ends,
        network.openings,
        network.curves,
        network.faces,
        network.end_totals,
        network.kinds,
        network.content,
        network.states,
        network.phases,
        network.totals,
        network.links,
        network.link_areas,
        network.degrees,
        network.cylinder,
        gas.fresh,
        gas.burned,
        gas.grid,
        _NOTHING if records is None else records.samples,
        _NO_TRACE if records is None else records.vessels,
        _NO_TRACE if records is None else records.ends,
        _NO_WAVE if records is None else records.waves,
        np.zeros((network.kinds.size, 3)),
    )
    if status == ma.DONE:
        return
    at = f"at {time * 1e3:.4g} ms (step {step})"
    if status == ma.BAD_CELL:
        name, x = network.locate(where)
        raise NonPhysicalStateError(
            f"The gas in tube '{name}', {x * 1e3:.1f} mm from its left end, lost a sensible "
            f"pressure or density {at}.",
            "Check areas and starting state there; a sudden step in area needs shorter cells.",
        )
    if status == ma.BAD_CYLINDER:
        raise NonPhysicalStateError(
            f"The gas in vessel {where} lost a sensible temperature {at}.",
            "Check compression ratio, valve timing and combustion settings.",
        )
    raise NotConvergedError(
        f"The run was stopped {at}: more than {most_steps} steps.",
        "Use fewer cells or a shorter time.",
    )
