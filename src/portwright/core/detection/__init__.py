"""Bad-run detection: what in a set of sweeps a person should look at, and why.

:func:`find` takes the sweeps of a job with their conditions and returns findings.  See
``docs/theory/bad-runs.md`` for the method and for how often it is right.
"""

from portwright.core.detection.finder import find
from portwright.core.detection.limits import (
    CFM28_PER_AREA,
    DEFAULT_LIMITS,
    Limits,
    from_cfm28,
    to_cfm28,
)
from portwright.core.detection.sweeps import Side, SweepRecord

__all__ = [
    "CFM28_PER_AREA",
    "DEFAULT_LIMITS",
    "Limits",
    "Side",
    "SweepRecord",
    "find",
    "from_cfm28",
    "to_cfm28",
]
