"""What was measured differently on one port than on its sisters."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from portwright.model.contents import JobContents
from portwright.model.job import Measurement
from portwright.services.valves import latest

_MOST = 3  # named at most
_STANDS_OUT = 3.0  # spreads of the sisters
_LEAST = 0.004  # relative; below this a rule or caliper cannot tell (from memory) [-]
_SISTERS = 2  # needed to say what is usual


@dataclass(frozen=True, slots=True)
class Oddity:
    """One quantity that stands out.

    Parameters
    ----------
    quantity : str
    here : Measurement
    others : tuple of Measurement
        Smallest and largest of the sisters.
    difference : float
        Relative to their mean. [-]
    """

    quantity: str
    here: Measurement
    others: tuple[Measurement, Measurement]
    difference: float


def measured_differently(
    contents: JobContents, port: str, ports: Sequence[str], stage: str
) -> tuple[Oddity, ...]:
    """Quantities of a port that lie outside those of its sisters, the largest difference first."""
    quantities = dict.fromkeys(
        m.quantity for m in contents.measurements if m.subject == port and not m.place
    )
    found = [_oddity(contents, port, ports, stage, quantity) for quantity in quantities]
    odd = [o for o in found if o is not None]
    return tuple(sorted(odd, key=lambda o: -abs(o.difference))[:_MOST])


def _oddity(
    contents: JobContents, port: str, ports: Sequence[str], stage: str, quantity: str
) -> Oddity | None:
    here = latest(contents, port, quantity, stage)
    known = [latest(contents, other, quantity, stage) for other in ports if other != port]
    others = [m for m in known if m is not None]
    if here is None or len(others) < _SISTERS:
        return None
    values = np.array([m.value.si for m in others])
    mean = float(values.mean())
    if mean == 0.0:
        return None
    difference = here.value.si / mean - 1.0
    usual = max(float(values.std(ddof=1)) / abs(mean), _LEAST / _STANDS_OUT)
    if abs(difference) < _STANDS_OUT * usual:
        return None
    ordered = sorted(others, key=lambda m: m.value.si)
    return Oddity(quantity, here, (ordered[0], ordered[-1]), difference)
