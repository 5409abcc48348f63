"""The intake runner: a taper from entry to port opening, or measured diameters along it."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from itertools import pairwise

import numpy as np

from portwright import units
from portwright.core.gas1d.ducts import Duct, plain_pipe
from portwright.errors import InputError
from portwright.model.engine import EngineDescription, RunnerProfile
from portwright.units import Kind

RUNNER_PROFILE = "runner_profile"
_WRITE = "Write it from entry to flange like 0=41.5; 110=40.2; 220=38.6 mm."
_FEWEST = 2


def read_profile(text: str) -> RunnerProfile:
    """Read "0=41.5; 110=40.2; 220=38.6 mm": distance from the entry = diameter there.

    Raises
    ------
    InputError, NumberError, UnitError
        Not of this form, or distances that do not increase from zero.
    """
    match = re.fullmatch(r"(.*?\d)\s*([A-Za-z\"]+)\s*", text.strip(), re.DOTALL)
    if match is None:
        raise InputError(f"The runner profile '{text}' has no unit.", _WRITE)
    pairs = [part.partition("=") for part in match[1].split(";") if part.strip()]
    if len(pairs) < _FEWEST or not all(sign for _, sign, _ in pairs):
        raise InputError(f"'{text}' is no runner profile.", _WRITE)
    x, diameter = (
        tuple(units.to_si(units.parse_number(p[k]), match[2], Kind.LENGTH) for p in pairs)
        for k in (0, 2)
    )
    if x[0] != 0.0 or any(b <= a for a, b in pairwise(x)) or min(diameter) <= 0.0:
        raise InputError(
            "Distances of a runner profile start at zero and increase; diameters are above zero.",
            _WRITE,
        )
    return RunnerProfile(text.strip(), match[2], x, diameter)


def profile_of(facts: Mapping[str, str]) -> RunnerProfile | None:
    """Profile on a job sheet, None where there is none."""
    text = facts.get(RUNNER_PROFILE, "").strip()
    return read_profile(text) if text else None


def runner_duct(engine: EngineDescription, opening: float) -> Duct:
    """Runner up to the port.

    Parameters
    ----------
    engine : EngineDescription
    opening : float
        Area of the port opening, where the taper of a runner without profile ends. [m2]
    """
    profile = engine.runner_profile
    if profile is None:
        return plain_pipe(
            "runner",
            engine.runner_length.si,
            engine.runner_diameter.si,
            end_diameter=math.sqrt(4.0 / math.pi * opening),
        )
    diameter = np.array(profile.diameter)
    return Duct("runner", np.array(profile.position), 0.25 * math.pi * diameter**2)
