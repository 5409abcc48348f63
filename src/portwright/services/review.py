"""Old sheets confirmed row by row: what was read, what it means, and who looked."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from portwright.archive.archive import Archive
from portwright.core.bench import PressureLaw
from portwright.core.gasflow import jet_velocity
from portwright.core.metering import REFERENCE_DENSITY
from portwright.errors import InputError
from portwright.model.run import Run
from portwright.services.compare import archive_pressure, at_pressure
from portwright.services.jobs import today
from portwright.services.reduce import reduce_runs

# Carrying a flow to another test pressure by the square root: 95 % (common practice).
SQUARE_ROOT_ERROR = 0.015


@dataclass(frozen=True, slots=True)
class ReviewRow:
    """One row of an old sheet.

    Parameters
    ----------
    position : int
        Place in the sweep, from 0.
    lift, shown : str
        As typed: the lift, and the percent of a range or the flow.
    range_number : int or None
    full_scale : str
        Flow at 100 percent of that range by the calibration of the sweep, "" without ranges.
    flow : float
        At the pressure the shop shows, NaN where it cannot be worked out. [m3/s]
    square_root : float
        The same by the plain square root, as most sheets have it. [m3/s]
    half : float
        95 % of what moving to that pressure adds, 0 where nothing was moved. [-]
    confirmed : str
        Who and when, "" while nobody looked.
    """

    position: int
    lift: str
    shown: str
    range_number: int | None
    full_scale: str
    flow: float
    square_root: float
    half: float
    confirmed: str


@dataclass(frozen=True, slots=True)
class Review:
    """One old sheet under review.

    Parameters
    ----------
    run : Run
    calibration : str
        Version whose constants were used, with its reason.
    pressure : float
        Test pressure shown. [Pa]
    rows : tuple of ReviewRow
    """

    run: Run
    calibration: str
    pressure: float
    rows: tuple[ReviewRow, ...]

    @property
    def open(self) -> int:
        """Rows nobody confirmed yet."""
        return sum(not r.confirmed for r in self.rows)


def _setting(run: Run) -> str:
    return f"reviewed {run.job}/{run.code}"[:80]


def review(archive: Archive, name: str) -> Review:
    """An old sheet row by row, with its conversion and its error.

    Parameters
    ----------
    name : str
        Run code, or "JOB/RUN".

    Raises
    ------
    UnknownNameError
        No such run.
    """
    run = archive.run(name)
    (item,) = reduce_runs([run], archive.calibrations())
    pressure = archive_pressure(archive)
    velocity = float(jet_velocity(REFERENCE_DENSITY, pressure))
    flow = np.full(len(run.readings), np.nan)
    root, half = flow.copy(), np.zeros(len(run.readings))
    if item.curve is not None:
        for law, out in ((PressureLaw.COMPRESSIBLE, flow), (PressureLaw.SQUARE_ROOT, root)):
            curve, moved = at_pressure(item, item.curve, pressure, law)
            out[item.order] = curve.area * velocity
            half[item.order] = SQUARE_ROOT_ERROR if moved else 0.0
    done: dict[str, str] = archive.setting(_setting(run)) or {}
    scales = {r.number: str(r.full_scale) for r in item.calibration.ranges}
    rows = []
    for place, reading in enumerate(run.readings):
        shown = reading.percent or reading.flow or reading.meter_pressure
        rows.append(
            ReviewRow(
                place,
                str(reading.lift),
                str(shown or ""),
                reading.range_number,
                scales.get(reading.range_number or 0, ""),
                float(flow[place]),
                float(root[place]),
                float(half[place]),
                done.get(str(place), ""),
            )
        )
    reason = f"{item.calibration.key}: {item.calibration.reason}".rstrip(": ")
    return Review(run, reason, pressure, tuple(rows))


def chosen_rows(open_: list[int], text: str) -> list[int]:
    """Places from 0 of the rows "1-4, 6"; all open ones for nothing.

    Raises
    ------
    InputError
        Not numbers of rows.
    """
    if not text.strip():
        return open_
    found: list[int] = []
    for part in text.replace(";", ",").split(","):
        first, _, last = (p.strip() for p in part.partition("-"))
        if not first.isdigit() or not (not last or last.isdigit()):
            raise InputError(f"'{part.strip()}' is no row.", "Type rows like 1-4, 6.")
        found += range(int(first) - 1, int(last or first))
    return found


def confirm(archive: Archive, name: str, positions: list[int], by: str) -> Review:
    """Note who compared rows with the paper; readings stay as they are.

    Raises
    ------
    InputError
        No name, or a row that is not there.
    """
    run = archive.run(name)
    if not by.strip():
        raise InputError("Who confirms these rows?", "Type a name or initials.")
    if not positions or not set(positions) <= set(range(len(run.readings))):
        raise InputError("There is no such row.", "Choose rows of this sheet.")
    done: dict[str, str] = dict(archive.setting(_setting(run)) or {})
    done |= {str(p): f"{by.strip()} {today()}" for p in positions}
    archive.save_setting(_setting(run), done)
    return review(archive, name)
