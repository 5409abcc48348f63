"""March all tubes, vessels and cylinders of a network through time: the compiled main loop.

Every step computes one flux per face.  What leaves a tube through an end enters the vessel
behind it with the same numbers, so mass and energy balance to rounding.  Vessels are taken half
a step forward with their last rates before the ends are solved, which keeps second order.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from portwright.core.curve import Array
from portwright.core.gas1d import cylinder as cy
from portwright.core.gas1d import ends as en
from portwright.core.gas1d import rows as r
from portwright.core.gas1d import scheme
from portwright.core.gas1d.compiled import exact
from portwright.core.gas1d.ends import Ints
from portwright.core.gas1d.friction import refresh_friction

Singles = NDArray[np.float32]

# Kinds of vessel
FIXED: Final = 0
VOLUME: Final = 1
CYLINDER: Final = 2

# Columns of the vessel content table
MASS: Final = 0
ENERGY: Final = 1
BURNED: Final = 2
SPACE: Final = 3  # volume [m3]
TEMPERATURE: Final = 4
FRESH_AT_START: Final = 5  # fresh mass when burning starts
LAST_PRESSURE: Final = 6
CLOSED_PRESSURE: Final = 7
CLOSED_SPACE: Final = 8
CLOSED_TEMPERATURE: Final = 9
RATE_MASS: Final = 10
RATE_ENERGY: Final = 11
RATE_BURNED: Final = 12
CONTENT_COLUMNS: Final = 13

# Columns of the vessel totals
WORK: Final = 0
HEAT_LOST: Final = 1
HEAT_RELEASED: Final = 2
GAS_EXCHANGE_WORK: Final = 3
TRAPPED_MASS: Final = 4
TRAPPED_BURNED: Final = 5
MOST_PRESSURE: Final = 6
ANGLE_OF_MOST: Final = 7
OPENING_PRESSURE: Final = 8  # cylinder pressure when the exhaust valve opens
MASS_IN: Final = 9
ENERGY_IN: Final = 10
TOTAL_COLUMNS: Final = 11

# Columns of the end totals, positive into the tube
END_MASS: Final = 0
END_ENERGY: Final = 1
END_BURNED: Final = 2
END_MASS_BACK: Final = 3  # mass that flowed out of the tube only
END_FRESH_OUT: Final = 4  # fresh mass that flowed out of the tube
END_FRESH_IN: Final = 5  # fresh mass that flowed into the tube
END_TOTALS: Final = 6

# Columns of the clock
TIME: Final = 0
STEPS: Final = 1
CRANK: Final = 2
SINCE_FRICTION: Final = 3
PLANNED: Final = 4  # time steps kept from the call before, 0: none
CLOCK_COLUMNS: Final = 5

# Status codes
DONE: Final = 0
BAD_CELL: Final = 1
BAD_CYLINDER: Final = 2
TOO_MANY_STEPS: Final = 3

TABLE_STEP: Final = 0.25  # crank degrees between entries of the valve area tables
_FRICTION_EVERY: Final = 32
# Steps of the cycle before are taken again as long as they stay below this Courant number.
_REPEAT_COURANT: Final = 0.98
_GENTLE_STEPS: Final = 5
_GENTLE_SHARE: Final = 0.2


@exact
def _table(curves: Array, row: int, angle: float) -> float:
    x = angle / TABLE_STEP
    j = min(int(x), curves.shape[1] - 2)
    return float(curves[row, j] + (curves[row, j + 1] - curves[row, j]) * (x - j))


@exact
def _gas_of_energy(e: float, y: float, gas: Array) -> tuple[float, float]:
    """Pressure over density and its slope against internal energy."""
    c0, c1, c2 = gas[0] + gas[5] * y, gas[1] + gas[6] * y, gas[2] + gas[7] * y
    c3, c4 = gas[3] + gas[8] * y, gas[4] + gas[9] * y
    g = c0 + e * (c1 + e * (c2 + e * (c3 + e * c4)))
    return g, c1 + e * (2.0 * c2 + e * (3.0 * c3 + e * 4.0 * c4))


@exact
def first_bad_cell(w: Array, ends: Ints) -> int:
    """First cell whose density, pressure or velocity makes no sense, -1 if none."""
    for k in range(ends.shape[0] // 2):
        for i in range(ends[2 * k, en.FACE], ends[2 * k + 1, en.FACE]):
            rho = w[r.DENSITY + i]
            p = w[r.PRESSURE + i]
            u = w[r.VELOCITY + i]
            if not (rho > 0.0 and p > 0.0 and np.isfinite(rho + p + u)):
                return i
    return -1


@exact
def _half_volume(content: Array, half: float, gas: Array, state: Array) -> None:
    mass = content[MASS] + half * content[RATE_MASS]
    energy = content[ENERGY] + half * content[RATE_ENERGY]
    y = (content[BURNED] + half * content[RATE_BURNED]) / mass
    e = energy / mass
    g, slope = _gas_of_energy(e, y, gas)
    density = mass / content[SPACE]
    state[en.V_PRESSURE] = density * g
    state[en.V_DENSITY] = density
    state[en.V_ENTHALPY] = e + g
    state[en.V_GAMMA] = 1.0 + slope
    state[en.V_FRACTION] = y


@exact
def _after_firing(angle: float) -> float:
    return angle if angle < 360.0 else angle - 720.0


@exact
def _half_cylinder(
    content: Array,
    angle: float,
    half: float,
    turn: float,
    offset: float,
    c: Array,
    fresh: Array,
    burned: Array,
    grid: Array,
    state: Array,
) -> bool:
    """Take a cylinder half a step forward; false when no state exists."""
    phi = _after_firing(angle)
    share = cy.burned_share(
        phi + 0.5 * turn, c[cy.BURN_START], c[cy.BURN_LENGTH], c[cy.WIEBE_A], c[cy.WIEBE_M]
    ) - cy.burned_share(phi, c[cy.BURN_START], c[cy.BURN_LENGTH], c[cy.WIEBE_A], c[cy.WIEBE_M])
    change = content[FRESH_AT_START] * share
    space = cy.cylinder_volume(angle + 0.5 * turn, c)
    mass = content[MASS] + half * content[RATE_MASS]
    y = (content[BURNED] + half * content[RATE_BURNED] + change) / mass
    energy = (
        content[ENERGY]
        + half * content[RATE_ENERGY]
        + c[cy.HEAT_RELEASE] * change
        - content[LAST_PRESSURE] * (space - content[SPACE])
    )
    pressure, temperature, constant, gamma = cy.gas_state(
        mass, energy - offset * mass, y, space, content[TEMPERATURE], fresh, burned, grid
    )
    if pressure <= 0.0:
        return False
    content[TEMPERATURE] = temperature
    content[LAST_PRESSURE] = pressure
    state[en.V_PRESSURE] = pressure
    state[en.V_DENSITY] = mass / space
    state[en.V_ENTHALPY] = energy / mass + constant * temperature
    state[en.V_GAMMA] = gamma
    state[en.V_FRACTION] = y
    return True


@exact
def _finish_cylinder(
    content: Array,
    total: Array,
    angle: float,
    dt: float,
    turn: float,
    c: Array,
    state: Array,
    piston_speed: float,
) -> float:
    """Work, burning and wall heat of one step; returns the wall heat flow."""
    phi = _after_firing(angle)
    start, length, a, m = c[cy.BURN_START], c[cy.BURN_LENGTH], c[cy.WIEBE_A], c[cy.WIEBE_M]
    share = cy.burned_share(phi + turn, start, length, a, m) - cy.burned_share(
        phi, start, length, a, m
    )
    change = content[FRESH_AT_START] * share
    space = cy.cylinder_volume(angle + turn, c)
    pressure = state[en.V_PRESSURE]
    work = pressure * (space - content[SPACE])
    middle = cy.within_cycle(angle + 0.5 * turn)
    closed = content[CLOSED_PRESSURE:RATE_MASS]
    heat = cy.wall_heat(
        middle,
        c,
        pressure,
        content[TEMPERATURE],
        0.5 * (space + content[SPACE]),
        piston_speed,
        closed,
    )
    released = c[cy.HEAT_RELEASE] * change
    content[BURNED] += change
    content[ENERGY] += released - heat * dt - work
    content[SPACE] = space
    total[WORK] += work
    total[HEAT_LOST] += heat * dt
    total[HEAT_RELEASED] += released
    if 180.0 <= middle < 540.0:
        total[GAS_EXCHANGE_WORK] += work
    if pressure > total[MOST_PRESSURE]:
        total[MOST_PRESSURE] = pressure
        total[ANGLE_OF_MOST] = _after_firing(middle)
    if _after_firing(cy.within_cycle(angle + turn)) < start:
        content[FRESH_AT_START] = max(content[MASS] - content[BURNED], 0.0)
    if angle < c[cy.INTAKE_CLOSES] <= angle + turn:
        content[CLOSED_PRESSURE] = pressure
        content[CLOSED_SPACE] = space
        content[CLOSED_TEMPERATURE] = content[TEMPERATURE]
        total[TRAPPED_MASS] = content[MASS]
        total[TRAPPED_BURNED] = content[BURNED]
    if angle < c[cy.EXHAUST_OPENS] <= angle + turn:
        total[OPENING_PRESSURE] = pressure
    return heat


@exact
def _links(links: Ints, areas: Array, states: Array, dt: float, gain: Array) -> None:
    """Flow from vessel to vessel through orifices (restrictor)."""
    for k in range(links.shape[0]):
        a, b = links[k, 0], links[k, 1]
        sign = 1.0
        if states[a, en.V_PRESSURE] < states[b, en.V_PRESSURE]:
            a, b = b, a
            sign = -1.0
        s = states[a]
        flow = (
            areas[k]
            * dt
            * en.orifice_flow(
                s[en.V_PRESSURE], s[en.V_DENSITY], 0.0, s[en.V_GAMMA], states[b, en.V_PRESSURE]
            )
        )
        gain[a, 0] -= flow
        gain[b, 0] += flow
        gain[a, 1] -= flow * s[en.V_ENTHALPY]
        gain[b, 1] += flow * s[en.V_ENTHALPY]
        gain[a, 2] -= flow * s[en.V_FRACTION]
        gain[b, 2] += flow * s[en.V_FRACTION]
        areas[links.shape[0] + k] += sign * flow


@exact
def _half_step_vessels(
    kinds: Ints,
    content: Array,
    states: Array,
    phases: Array,
    crank: float,
    half: float,
    turn: float,
    gas: Array,
    c: Array,
    fresh: Array,
    burned: Array,
    grid: Array,
) -> int:
    """States the ends see; number of a vessel that has none, else -1."""
    for v in range(kinds.size):
        if kinds[v] == VOLUME:
            _half_volume(content[v], half, gas, states[v])
            if not states[v, en.V_PRESSURE] > 0.0:
                return v
        elif kinds[v] == CYLINDER:
            angle = cy.within_cycle(crank + phases[v])
            if not _half_cylinder(
                content[v], angle, half, turn, gas[12], c, fresh, burned, grid, states[v]
            ):
                return v
    return -1


@exact
def _solve_ends(
    w: Array,
    ends: Ints,
    openings: Array,
    curves: Array,
    phases: Array,
    crank: float,
    dt: float,
    states: Array,
    faces: Array,
    end_totals: Array,
    gain: Array,
) -> None:
    """Fluxes at all tube ends and what they bring to the vessels."""
    gain[:] = 0.0
    for k in range(ends.shape[0]):
        area = w[r.AREA + ends[k, en.FACE]]
        opening = openings[k]
        if ends[k, en.CURVE] >= 0:
            angle = cy.within_cycle(crank + phases[ends[k, en.CYLINDER]])
            opening = _table(curves, ends[k, en.CURVE], angle)
        en.solve_end(w, ends, k, opening / area, states, faces)
        amount = area * dt
        mass, energy, spent = faces[k, 0], faces[k, 2], faces[k, 3]
        end_totals[k, END_MASS] += mass * amount
        end_totals[k, END_ENERGY] += energy * amount
        end_totals[k, END_BURNED] += spent * amount
        if mass < 0.0:
            end_totals[k, END_MASS_BACK] -= mass * amount
            end_totals[k, END_FRESH_OUT] -= (mass - spent) * amount
        else:
            end_totals[k, END_FRESH_IN] += (mass - spent) * amount
        vessel = ends[k, en.VESSEL]
        if vessel >= 0:
            gain[vessel, 0] -= mass * amount
            gain[vessel, 1] -= energy * amount
            gain[vessel, 2] -= spent * amount


@exact
def _settle_vessels(
    kinds: Ints,
    content: Array,
    states: Array,
    phases: Array,
    totals: Array,
    crank: float,
    dt: float,
    turn: float,
    c: Array,
    piston_speed: float,
    gain: Array,
) -> None:
    """Give vessels what flowed, burned and was lost in the step."""
    for v in range(kinds.size):
        if kinds[v] == FIXED:
            totals[v, MASS_IN] += gain[v, 0]
            totals[v, ENERGY_IN] += gain[v, 1]
            continue
        heat = 0.0
        if kinds[v] == CYLINDER:
            angle = cy.within_cycle(crank + phases[v])
            heat = _finish_cylinder(
                content[v], totals[v], angle, dt, turn, c, states[v], piston_speed
            )
        content[v, MASS] += gain[v, 0]
        content[v, ENERGY] += gain[v, 1]
        content[v, BURNED] += gain[v, 2]
        content[v, RATE_MASS] = gain[v, 0] / dt
        content[v, RATE_ENERGY] = gain[v, 1] / dt - heat
        content[v, RATE_BURNED] = gain[v, 2] / dt


@exact
def _refresh_all(w: Array, ends: Ints, clock: Array, gas: Array) -> None:
    """Refresh friction when its time has come."""
    if clock[SINCE_FRICTION] <= 0.0:
        for k in range(ends.shape[0] // 2):
            refresh_friction(w, ends[2 * k, en.FACE], ends[2 * k + 1, en.FACE], gas[10], gas[11])
        clock[SINCE_FRICTION] = _FRICTION_EVERY
    clock[SINCE_FRICTION] -= 1.0


@exact
def _record(
    w: Array,
    n: int,
    sample: int,
    kinds: Ints,
    content: Array,
    states: Array,
    ends: Ints,
    faces: Array,
    vessel_trace: Array,
    end_trace: Array,
    wave_trace: Singles,
) -> None:
    """Keep what a picture of this crank angle needs."""
    for v in range(kinds.size):
        vessel_trace[sample, v, 0] = states[v, en.V_PRESSURE]
        vessel_trace[sample, v, 1] = content[v, TEMPERATURE]
        vessel_trace[sample, v, 2] = content[v, MASS]
        vessel_trace[sample, v, 3] = content[v, BURNED]
    for k in range(ends.shape[0]):
        end_trace[sample, k, 0] = faces[k, 0] * w[r.AREA + ends[k, en.FACE]]
        end_trace[sample, k, 1] = faces[k, 6]
        end_trace[sample, k, 2] = faces[k, 5]
        end_trace[sample, k, 3] = faces[k, 4]
    for i in range(n):
        wave_trace[sample, i, 0] = w[r.PRESSURE + i]
        wave_trace[sample, i, 1] = w[r.VELOCITY + i]
        wave_trace[sample, i, 2] = w[r.SOUND + i]
        wave_trace[sample, i, 3] = w[r.FRACTION + i]


@exact
def _time_step(
    plan: Array, number: int, planned: int, courant: float, rate: float, step: int
) -> tuple[float, int]:
    """Time step, that of the call before where it still holds; steps still planned."""
    if number < planned and plan[number] * rate <= _REPEAT_COURANT:
        return plan[number], planned
    dt = courant / rate
    return (dt * _GENTLE_SHARE if step < _GENTLE_STEPS else dt), 0


@exact
def advance(
    w: Array,
    n: int,
    gas: Array,
    clock: Array,
    plan: Array,
    until: float,
    courant: float,
    most_steps: int,
    ends: Ints,
    openings: Array,
    curves: Array,
    faces: Array,
    end_totals: Array,
    kinds: Ints,
    content: Array,
    states: Array,
    phases: Array,
    totals: Array,
    links: Ints,
    link_areas: Array,
    degrees: float,
    c: Array,
    fresh: Array,
    burned: Array,
    grid: Array,
    samples: Array,
    vessel_trace: Array,
    end_trace: Array,
    wave_trace: Singles,
    gain: Array,
) -> tuple[int, int, int, float]:
    """March to the time ``until``.

    Parameters
    ----------
    w : ndarray
        Work array of the cells.
    n : int
        Cells in use, ghosts included.
    gas : ndarray, shape (13,)
        Tube gas: five coefficients of pressure over density for fresh gas, five for the
        difference burned minus fresh, the two gas constants, offset of the energy datum.
    clock : ndarray, shape (5,)
        Time, steps, crank angle, steps since friction was refreshed, steps planned; kept
        between calls.
    plan : ndarray
        Time steps of this call; those of the call before are taken again where possible, so that
        equal cycles are cut into equal steps. Empty: none are kept. [s]
    until : float
        Time to stop at. [s]
    courant : float
        Courant number. [-]
    most_steps : int
        Give up after this many steps.
    ends, openings, curves, faces, end_totals : ndarray
        End table, constant effective areas [m2], effective areas against crank angle [m2], last
        face states, sums over time.
    kinds, content, states, phases, totals : ndarray
        Vessels: kind, content, state at half step, crank offset [deg], sums over time.
    links, link_areas : ndarray
        Orifices between vessels, their effective areas [m2] followed by mass passed [kg].
    degrees : float
        Crank speed, 0 without an engine. [deg/s]
    c, fresh, burned, grid : ndarray
        Cylinder parameters and gas tables.
    samples : ndarray
        Crank angles to record at, empty for none. [deg]
    vessel_trace, end_trace, wave_trace : ndarray
        Records: pressure, temperature, mass, burned mass per vessel; mass flow, pressure,
        velocity, density per end; pressure, velocity, sound speed, burned share per cell.
    gain : ndarray, shape (m, 3)
        Room for what the vessels gain in a step.

    Returns
    -------
    tuple
        Status, cell or vessel, step, time.
    """
    piston_speed = c[cy.STROKE] * degrees / 180.0
    next_sample = 0
    number = 0
    planned = min(int(clock[PLANNED]), plan.size)
    clock[SINCE_FRICTION] = 0.0
    noting = samples.size > 0
    while clock[TIME] < until:
        step = int(clock[STEPS])
        if step >= most_steps:
            return TOO_MANY_STEPS, -1, step, clock[TIME]
        scheme.primitives(w, n, gas)
        rate, least = scheme.extremes(w, n)
        if not (least > 0.0 and rate > 0.0 and rate < 1e300):
            return BAD_CELL, first_bad_cell(w, ends), step, clock[TIME]
        dt, planned = _time_step(plan, number, planned, courant, rate, step)
        left = until - clock[TIME]
        last = dt >= left * (1.0 - 1e-9)
        if last:
            dt = left
        if number < plan.size:
            plan[number] = dt
        number += 1
        half = 0.5 * dt
        turn = degrees * dt
        _refresh_all(w, ends, clock, gas)
        en.fill_ghosts(w, ends, faces)
        scheme.edges(w, n)
        scheme.trace(w, n, dt)
        scheme.fluxes(w, n)
        failed = _half_step_vessels(
            kinds, content, states, phases, clock[CRANK], half, turn, gas, c, fresh, burned, grid
        )
        if failed >= 0:
            return BAD_CYLINDER, failed, step, clock[TIME]
        _solve_ends(
            w,
            ends,
            openings,
            curves,
            phases,
            clock[CRANK] + 0.5 * turn,
            dt,
            states,
            faces,
            end_totals,
            gain,
        )
        scheme.update(w, n, dt, gas[10], gas[11])
        _links(links, link_areas, states, dt, gain)
        _settle_vessels(
            kinds, content, states, phases, totals, clock[CRANK], dt, turn, c, piston_speed, gain
        )
        clock[CRANK] += turn
        clock[STEPS] += 1.0
        clock[TIME] = until if last else clock[TIME] + dt
        if noting:
            scheme.note_mach(w, n)
            while next_sample < samples.size and clock[CRANK] >= samples[next_sample] - 1e-9:
                _record(
                    w,
                    n,
                    next_sample,
                    kinds,
                    content,
                    states,
                    ends,
                    faces,
                    vessel_trace,
                    end_trace,
                    wave_trace,
                )
                next_sample += 1
    clock[PLANNED] = number
    scheme.primitives(w, n, gas)
    bad = first_bad_cell(w, ends)
    if bad >= 0:
        return BAD_CELL, bad, int(clock[STEPS]), clock[TIME]
    return DONE, -1, int(clock[STEPS]), clock[TIME]
