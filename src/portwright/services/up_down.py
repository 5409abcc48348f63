"""A sweep going up against one coming down: slack in the lift and flow that remembers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from portwright.model.run import Reading, Run
from portwright.services.compare import archive_pressure
from portwright.services.earlier import flows_of
from portwright.services.replay import calibration_of
from portwright.services.shop_file import ShopFile

_USUAL = 0.006  # two sweeps of one port differ by so much, one standard deviation (from memory)
_NEAR = 1e-6  # lifts closer than this are one setting [m]


@dataclass(frozen=True, slots=True)
class Gap:
    """One lift both ways.

    Parameters
    ----------
    lift : float
        [m]
    up, down : float
        Flow at the shop's pressure. [m3/s]
    wide : float
        Difference that scatter explains, 95 %, relative. [-]
    """

    lift: float
    up: float
    down: float
    wide: float

    @property
    def change(self) -> float:
        """Down over up, minus one. [-]"""
        return self.down / self.up - 1.0

    @property
    def differs(self) -> bool:
        """More than scatter explains."""
        return abs(self.change) > self.wide


def going_down(readings: Sequence[Reading]) -> bool:
    """Whether a sweep was read from the highest lift to the lowest."""
    lifts = [r.lift.si for r in readings]
    falls = sum(b < a for a, b in pairwise(lifts))
    return falls > 0.5 * (len(lifts) - 1)


def partner(shop: ShopFile, run: Run) -> Run | None:
    """Newest sweep of the same port, stage and bench on that day that went the other way."""
    if len(run.readings) < 2:
        return None
    down = going_down(run.readings)
    others = [
        r
        for r in shop.job(run.job).runs
        if (r.port, r.stage, r.bench, r.date) == (run.port, run.stage, run.bench, run.date)
        and r.code != run.code
        and len(r.readings) >= 2
        and going_down(r.readings) is not down
    ]
    return max(others, key=lambda r: (r.time, r.code), default=None)


def gaps(shop: ShopFile, run: Run, other: Run) -> list[Gap]:
    """Both ways at each lift they have in common, by rising lift."""
    up, down = (other, run) if going_down(run.readings) else (run, other)
    pressure = archive_pressure(shop)
    flows = [
        dict(
            zip(
                r.readings,
                flows_of(r, calibration_of(shop, r), pressure),
                strict=True,
            )
        )
        for r in (up, down)
    ]
    found = []
    for first, flow in flows[0].items():
        for second, back in flows[1].items():
            if abs(first.lift.si - second.lift.si) < _NEAR and flow > 0.0 and back > 0.0:
                unrest = [r.scatter.si / 2.0 if r.scatter else 0.0 for r in (first, second)]
                wide = 2.0 * math.hypot(math.sqrt(2.0) * _USUAL, *unrest)
                found.append(Gap(first.lift.si, flow, back, wide))
    return sorted(found, key=lambda g: g.lift)


def sentence(found: Sequence[Gap], lift_unit_text: Sequence[str]) -> str:
    """What it comes to."""
    apart = [text for g, text in zip(found, lift_unit_text, strict=True) if g.differs]
    if not found:
        return "The two sweeps have no lift in common."
    if not apart:
        return "Up and down agree at every lift."
    return (
        f"Up and down differ at {', '.join(apart)}: near the seat look for slack in the lift, "
        "higher up for a flow that separates."
    )
