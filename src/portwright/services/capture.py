"""Entering a sweep at the bench: begin or continue, one reading after the other, take back.

A reading is on disk when :meth:`OpenSweep.commit` returns; nothing is acknowledged before.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Self

from portwright import units
from portwright.archive import live
from portwright.errors import ConflictError, InputError, PortwrightError
from portwright.model.bench import Bench, Calibration, Metering
from portwright.model.contents import JobContents
from portwright.model.quantity import AsTyped
from portwright.model.run import Reading, Run
from portwright.services.carried import SetUp, keep_plan, kept_plan
from portwright.services.jobs import today
from portwright.services.lift_lists import LiftList
from portwright.services.shop_file import ShopFile
from portwright.units import Kind

StoredReading = live.StoredReading
Contested = live.Contested

_PREFIX = "R"
_ATTEMPTS = 8
_AGAIN = "read again at the bench"
_NEAR = 1e-6  # lifts closer than this are one setting [m]
FIELD = {
    Metering.DIRECT: ("flow", Kind.FLOW),
    Metering.PERCENT_OF_RANGE: ("percent", Kind.RATIO),
    Metering.ORIFICE_PLATE: ("meter_pressure", Kind.PRESSURE),
    Metering.ORIFICE_ISO: ("meter_pressure", Kind.PRESSURE),
    Metering.FLOW_ELEMENT: ("meter_pressure", Kind.PRESSURE),
}


def begin(shop: ShopFile, job: str, port: str, stage: str, set_up: SetUp, lifts: LiftList) -> Run:
    """Start a sweep and give it the next free run code.

    Raises
    ------
    InputError
        The port is not in the job, or the list is empty.
    """
    if not lifts.lifts:
        raise InputError("The sweep has no lifts.", "Choose a lift list.")
    earlier = [
        r
        for r in shop.job(job).runs
        if (r.port, r.stage, r.bench) == (port, stage, set_up.bench.code)
    ]
    now = datetime.now().astimezone()
    run = Run(
        code="",
        job=job,
        port=port,
        stage=stage,
        bench=set_up.bench.code,
        calibration=set_up.calibration.version,
        repeat=1 + max((r.repeat for r in earlier), default=0),
        date=today(),
        time=now.strftime("%H:%M"),
        conditions=set_up.conditions,
    )
    for attempt in range(_ATTEMPTS):
        coded = replace(run, code=shop.next_run_code(_PREFIX))
        try:
            shop.add_run(coded)
        except ConflictError:  # another tablet began a sweep in the same moment
            if attempt == _ATTEMPTS - 1:
                raise
        else:
            break
    keep_plan(shop, coded.code, lifts, set_up.air)
    return coded


def under_way(contents: JobContents, port: str, stage: str) -> list[Run]:
    """Sweeps of a port at a stage that were begun today, newest first."""
    found = [r for r in contents.runs if (r.port, r.stage, r.date) == (port, stage, today())]
    return sorted(found, key=lambda r: (r.time, r.code), reverse=True)


@dataclass(frozen=True, slots=True)
class Entry:
    """What a person typed for one reading.

    Parameters
    ----------
    text, unit : str
        The number and the unit shown beside it.
    lift : AsTyped
        [m]
    range_number : int or None
        Range in use, for a bench that reads percent.
    """

    text: str
    unit: str
    lift: AsTyped
    range_number: int | None = None


@dataclass(slots=True, eq=False)
class OpenSweep:
    """A sweep while it is being taken, as the shop file has it.

    Parameters
    ----------
    shop : ShopFile
    run : Run
        With the readings that count now.
    contents : JobContents
        The job as it was when the sweep was opened.
    bench : Bench or None
    calibration : Calibration
    lifts : LiftList
    air : Reading
        Test pressure, air and leak that the next reading is stored with.
    stored : list of StoredReading
    contested : list of Contested
    """

    shop: ShopFile
    run: Run
    contents: JobContents
    bench: Bench | None
    calibration: Calibration
    lifts: LiftList
    air: Reading
    stored: list[StoredReading]
    contested: list[Contested]

    @classmethod
    def open(cls, shop: ShopFile, code: str) -> Self:
        """Open a sweep by run code from the shop file alone.

        Raises
        ------
        UnknownNameError
            No such run.
        InputError
            Its calibration is not in the shop file.
        """
        run = shop.run(code)
        known = [
            c for c in shop.calibrations() if (c.bench, c.version) == (run.bench, run.calibration)
        ]
        if not known:
            raise InputError(
                f"Run {code} has no calibration of bench {run.bench}.",
                "Give the bench one on the Bench health screen, or with 'portwright calibrate'.",
            )
        lifts, air = kept_plan(shop, run)
        sweep = cls(
            shop,
            run,
            shop.job(run.job),
            next((b for b in shop.benches() if b.code == run.bench), None),
            known[0],
            lifts,
            air,
            [],
            [],
        )
        sweep.refresh()
        return sweep

    def refresh(self) -> None:
        """Read again what counts now: another tablet may have written."""
        self._count(self.shop.readings(self.run.job, self.run.code))
        self.contested = self.shop.set_aside(self.run.job, self.run.code)

    def _count(self, stored: list[StoredReading]) -> None:
        self.stored = sorted(stored, key=lambda s: (s.position, s.id))
        self.run = replace(self.run, readings=tuple(s.reading for s in self.stored))

    @property
    def field(self) -> str:
        """Field of a reading that this bench fills."""
        return FIELD[self.calibration.metering][0]

    @property
    def kind(self) -> Kind:
        """What the bench shows."""
        return FIELD[self.calibration.metering][1]

    @property
    def ranges(self) -> tuple[int, ...]:
        """Numbers of the bench's ranges, empty where it has none."""
        if self.calibration.metering is not Metering.PERCENT_OF_RANGE:
            return ()
        return tuple(r.number for r in self.calibration.ranges)

    def at(self, lift: float) -> StoredReading | None:
        """Reading that counts at a lift."""
        near = (s for s in self.stored if abs(s.reading.lift.si - lift) < _NEAR)
        return next(near, None)

    def shown(self, reading: Reading) -> AsTyped | None:
        """What the bench showed, as typed."""
        found: AsTyped | None = getattr(reading, self.field)
        return found

    def next_lift(self, after: float = 0.0) -> AsTyped | None:
        """First planned lift above ``after`` without a reading, else any; None when done."""
        left = [t for t in self.lifts.lifts if self.at(t.si) is None]
        return next((t for t in left if t.si > after + _NEAR), left[0] if left else None)

    def reading(self, entry: Entry) -> Reading:
        """Understand what was typed.

        Raises
        ------
        NumberError, UnitError
        InputError
            Nothing flows, or a range is missing.
        """
        value = units.read(entry.text, self.kind, entry.unit)
        if value.si <= 0.0:
            raise InputError(
                f"{value} is no reading of an open valve.", "Type what the bench shows."
            )
        if self.ranges and entry.range_number not in self.ranges:
            raise InputError("The range is missing.", "Choose the range the bench stands on.")
        reading = replace(
            self.air,
            lift=entry.lift,
            range_number=entry.range_number if self.ranges else None,
        )
        if self.field == "flow":
            return replace(reading, flow=value)
        if self.field == "percent":
            return replace(reading, percent=value)
        return replace(reading, meter_pressure=value)

    def commit(self, reading: Reading, replaces: int | None = None) -> StoredReading:
        """Store one reading; it is on disk when this returns.

        Sending the same number for the same lift again stores nothing new.

        Parameters
        ----------
        reading : Reading
        replaces : int, optional
            Row id of the reading that a person chose to read again; the old row stays.

        Raises
        ------
        ConflictError
            The lift has another reading already; both are kept, see :attr:`contested`.
        ArchiveError
            It could not be written; nothing was stored.
        """
        there = self.at(reading.lift.si)
        if there is not None and self._same_number(there.reading, reading):
            return there
        try:
            stored = self.shop.add_reading(
                self.run.job, self.run.code, reading, replaces, _AGAIN if replaces else ""
            )
        except PortwrightError:
            self.refresh()
            raise
        kept = [s for s in self.stored if s.id not in {stored.id, replaces}]
        self._count([*kept, stored])
        return stored

    def _same_number(self, one: Reading, other: Reading) -> bool:
        first, second = self.shown(one), self.shown(other)
        return first == second and one.range_number == other.range_number

    def withdraw(self, stored: int, reason: str) -> None:
        """Take a reading back; the old row stays in the shop file.

        Raises
        ------
        ConflictError
        """
        try:
            self.shop.withdraw_reading(self.run.job, self.run.code, stored, reason)
        finally:
            self.refresh()

    @property
    def last(self) -> StoredReading | None:
        """The reading entered last, which undo takes back."""
        return max(self.stored, key=lambda s: s.id, default=None)

    def settle(self, aside: int, *, keep: bool) -> None:
        """Decide which of two readings of one lift counts.

        Raises
        ------
        ConflictError
            Another tablet decided first.
        """
        words = "chosen at the bench" if keep else "the other reading was kept"
        try:
            self.shop.settle(self.run.job, self.run.code, aside, words, keep=keep)
        finally:
            self.refresh()

    def note_air(self, air: Reading) -> None:
        """Change the test pressure, air and leak that the next readings are stored with."""
        self.air = air
        keep_plan(self.shop, self.run.code, self.lifts, air)
