"""Where each quantity of the cells lives in the one flat work array.

All tubes of a network share one array.  Quantity ``Q`` of cell ``i`` is ``work[Q + i]``; rows are
a fixed distance apart, known while compiling, so that the compiler can see that rows never
overlap and turns the loops into vector instructions.  The distance is not a multiple of a
memory page: neighbouring rows do not push each other out of the cache.

Face ``i`` lies between cells ``i - 1`` and ``i``.  Each tube has ``GHOSTS`` extra cells at each
end.
"""

from __future__ import annotations

from typing import Final

ROW: Final = 20040
MOST_CELLS: Final = 20000
GHOSTS: Final = 3
LANES: Final = 16  # cells are counted in whole multiples of this: no rest that is not vectors

# Conserved, per volume
DENSITY: Final = 0 * ROW
MOMENTUM: Final = 1 * ROW
ENERGY: Final = 2 * ROW
BURNED: Final = 3 * ROW
# From the conserved ones
VELOCITY: Final = 4 * ROW
PRESSURE: Final = 5 * ROW
SOUND: Final = 6 * ROW
INV_DENSITY: Final = 7 * ROW
INV_SOUND2: Final = 8 * ROW
INV_SLOPE: Final = 9 * ROW  # 1 / (d(p/rho) / d(internal energy))
INTERNAL: Final = 10 * ROW
FRACTION: Final = 11 * ROW
# Values at faces before limiting
EDGE_DENSITY: Final = 12 * ROW
EDGE_VELOCITY: Final = 13 * ROW
EDGE_PRESSURE: Final = 14 * ROW
# States on both sides of a face, half a step later
L_DENSITY: Final = 15 * ROW
L_VELOCITY: Final = 16 * ROW
L_PRESSURE: Final = 17 * ROW
L_INTERNAL: Final = 18 * ROW  # per volume
L_FRACTION: Final = 19 * ROW
R_DENSITY: Final = 20 * ROW
R_VELOCITY: Final = 21 * ROW
R_PRESSURE: Final = 22 * ROW
R_INTERNAL: Final = 23 * ROW
R_FRACTION: Final = 24 * ROW
# Fluxes per area
FLUX_MASS: Final = 25 * ROW
FLUX_MOMENTUM: Final = 26 * ROW
FLUX_ENERGY: Final = 27 * ROW
FLUX_BURNED: Final = 28 * ROW
# Geometry and wall
AREA: Final = 29 * ROW  # of faces
INV_VOLUME: Final = 30 * ROW
INV_LENGTH: Final = 31 * ROW
AREA_SLOPE: Final = 32 * ROW  # (dA/dx) / A of a cell
FRICTION: Final = 33 * ROW  # Darcy friction factor / (2 hydraulic diameter)
HEAT_RATIO: Final = 34 * ROW  # wall heat relative to the Reynolds analogy, 0 for an adiabatic wall
WALL_TEMPERATURE: Final = 35 * ROW
DIAMETER: Final = 36 * ROW
ROUGHNESS: Final = 37 * ROW  # roughness term of the friction correlation
MOST_MACH: Final = 38 * ROW
WALL_HEAT: Final = 39 * ROW  # heat taken up from the wall, per volume
FACE_PRESSURE: Final = 40 * ROW
ROWS: Final = 41
