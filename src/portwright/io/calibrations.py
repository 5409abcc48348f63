"""Which calibration of a bench turns a sweep's readings into flow."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from portwright.model.bench import BenchWithCalibrations, Calibration, Metering, MeterRange
from portwright.model.quantity import AsTyped


class Calibrations:
    """Calibrations known to the shop and those that a sheet states.

    Parameters
    ----------
    benches : iterable of BenchWithCalibrations
    """

    def __init__(self, benches: Iterable[BenchWithCalibrations]) -> None:
        self._known = [c for bench in benches for c in bench.calibrations]
        self.stated: list[Calibration] = []

    def in_force(self, bench: str, date: str, metering: Metering) -> Calibration | None:
        """Newest calibration of that metering valid on a date, else the oldest one."""
        fits = [
            c for c in (*self._known, *self.stated) if c.bench == bench and c.metering is metering
        ]
        fits.sort(key=lambda c: (c.valid_from, c.version))
        before = [c for c in fits if not date or c.valid_from <= date]
        return before[-1] if before else (fits[0] if fits else None)

    def state(self, wanted: Calibration) -> Calibration:
        """Same calibration if one is known, otherwise ``wanted`` as the next version."""
        own = [c for c in (*self._known, *self.stated) if c.bench == wanted.bench]
        for calibration in own:
            if same_constants(calibration, wanted):
                return calibration
        version = max((c.version for c in own), default=0) + 1
        made = replace(wanted, version=version)
        self.stated.append(made)
        return made


def same_constants(one: Calibration, other: Calibration) -> bool:
    """Whether two calibrations turn readings into flow in the same way."""
    return _constants(one) == _constants(other)


def _constants(calibration: Calibration) -> tuple[object, ...]:
    reads_at = calibration.reads_at.si if calibration.reads_at else None
    return (
        calibration.bench,
        calibration.metering,
        reads_at,
        calibration.flow_air,
        calibration.relative_uncertainty,
        sorted((r.number, r.full_scale.si) for r in calibration.ranges),
        [(p.indicated.si, p.flow.si) for p in calibration.table],
        calibration.orifice,
    )


def direct_at(bench: str, date: str, reads_at: AsTyped | None, source: str) -> Calibration:
    """Calibration of a sheet that states flow at a named pressure, or as shown."""
    if reads_at is None:
        reason = f"flow as shown at the test pressure on {source}"
    else:
        reason = f"flow stated at {reads_at} on {source}"
    return Calibration(bench, 1, date, Metering.DIRECT, reads_at, reason=reason)


def percent_of_range(
    bench: str, date: str, reads_at: AsTyped, constants: Sequence[MeterRange], source: str
) -> Calibration:
    """Calibration of a sheet that states the full scale of its ranges."""
    return Calibration(
        bench,
        1,
        date,
        Metering.PERCENT_OF_RANGE,
        reads_at,
        ranges=tuple(sorted(constants, key=lambda r: r.number)),
        reason=f"range constants stated on {source}",
    )
