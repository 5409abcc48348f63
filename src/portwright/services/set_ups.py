"""What was mounted on a bench, and what it costs when it differs from what it should be."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from portwright.model.bench import Conditions
from portwright.model.head import Side

# Standard uncertainties, common practice (from memory): no inlet radius costs 3-10 %, a stub is
# worth 3-10 % at high lift, two radii differ by about 1 %, a wrong bore hides shrouding.
_ADDED = {
    "bore adapter": 0.010,
    "inlet aid": 0.010,
    "no inlet aid": 0.030,
    "exhaust stub": 0.015,
    "no exhaust stub": 0.030,
    "configuration": 0.030,
    "test pressure": 0.0075,
}
_SAME_BORE = 2.0  # mm, common practice: an adapter within 1-2 mm of the bore
_SAME_PRESSURE = 0.02


@dataclass(frozen=True, slots=True)
class SetUp:
    """What matters of a set-up when benches are compared.

    Parameters
    ----------
    bore_adapter, inlet_aid, exhaust_stub : str
        As recorded; "" where not.
    configuration : str
        "bare port" or what was bolted on.
    pressure : float
        Test pressure, 0 where not recorded. [Pa]
    """

    bore_adapter: str = ""
    inlet_aid: str = ""
    exhaust_stub: str = ""
    configuration: str = "bare port"
    pressure: float = 0.0

    @classmethod
    def of(cls, conditions: Conditions, pressure: float) -> SetUp:
        """Set-up of a run."""
        c = conditions
        bare = "bare port" if c.configuration.startswith("bare port") else c.configuration
        return cls(c.bore_adapter, c.inlet_aid, c.exhaust_stub, bare, pressure)


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that differs, with the uncertainty it adds.

    Parameters
    ----------
    text : str
        In words.
    added : float
        Relative standard uncertainty. [-]
    """

    text: str
    added: float


def usual_set_up(found: Iterable[SetUp]) -> SetUp | None:
    """The set-up most sweeps share, None without any."""
    counted = Counter(found)
    return max(counted, key=lambda s: (counted[s], str(s))) if counted else None


def differences(one: SetUp, usual: SetUp, side: Side) -> tuple[Difference, ...]:
    """Where a set-up is not the usual one of its bench, or not known.

    Parameters
    ----------
    one, usual : SetUp
    side : Side
        The exhaust stub matters for exhaust ports, the inlet aid for intake ports.
    """
    found = [
        _differs("bore adapter", one.bore_adapter, usual.bore_adapter),
        _differs("inlet aid", one.inlet_aid, usual.inlet_aid)
        if side is Side.INTAKE
        else _differs("exhaust stub", one.exhaust_stub, usual.exhaust_stub),
    ]
    if one.configuration != usual.configuration:
        found.append(
            Difference(
                f"'{one.configuration}' against '{usual.configuration}'", _ADDED["configuration"]
            )
        )
    if one.pressure and usual.pressure and abs(one.pressure / usual.pressure - 1) > _SAME_PRESSURE:
        found.append(Difference("another test pressure", _ADDED["test pressure"]))
    return tuple(f for f in found if f is not None)


def across(here: SetUp, there: SetUp, side: Side) -> tuple[Difference, ...]:
    """Kinds of set-up that differ between two benches, so that no port tells all of it."""
    name = "inlet aid" if side is Side.INTAKE else "exhaust stub"
    field = name.replace(" ", "_")
    a, b = getattr(here, field), getattr(there, field)
    if _is_none(a) != _is_none(b):
        text = f"{name} '{a or 'not recorded'}' on one bench, '{b or 'not recorded'}' on the other"
        return (Difference(text, _ADDED[f"no {name}"]),)
    return ()


def _is_none(text: str) -> bool:
    return text.strip().casefold() in {"", "none", "no"}


def _differs(name: str, one: str, usual: str) -> Difference | None:
    if one == usual or not usual:
        return None
    a, b = _millimetres(one), _millimetres(usual)
    if name == "bore adapter" and a and b and abs(a - b) <= _SAME_BORE:
        return None
    kind = f"no {name}" if name != "bore adapter" and _is_none(one) != _is_none(usual) else name
    return Difference(f"{name} '{one or 'not recorded'}' against '{usual}'", _ADDED[kind])


def _millimetres(text: str) -> float | None:
    found = re.match(r"\s*(\d+(?:[.,]\d+)?)\s*(mm|in)", text)
    if not found:
        return None
    return float(found[1].replace(",", ".")) * (25.4 if found[2] == "in" else 1.0)


def total(found: Sequence[Difference]) -> float:
    """Differences together, as one relative standard uncertainty. [-]"""
    return math.sqrt(sum(d.added**2 for d in found))
