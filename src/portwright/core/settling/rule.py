"""What counts as settled: the figures a shop may change, and the rules that come with the tool."""

from __future__ import annotations

from dataclasses import dataclass

from portwright.errors import RangeError


@dataclass(frozen=True, slots=True)
class SettleRule:
    """When a reading may be taken.  All figures are our choice, to be changed by the shop.

    Parameters
    ----------
    name : str
    shortest, longest : float
        Length of the stretch that must be settled, and that is averaged. [s]
    dead : float
        Nothing is looked at for so long after a change of lift. [s]
    pressure_drift, flow_drift : float
        Largest change of the test pressure and of the flow over the stretch, surely not
        exceeded. [-]
    swing : float
        A test pressure that goes up and down by more than this is hunting. [-]
    unsteady : float
        Half the swing of the effective area above which a lift is called unsteady. [-]
    precision : float
        Standard error of the mean effective area that is waited for. [-]
    patience : float
        After so long an unsteady lift is taken with the scatter it has. [s]
    confidence : float
        Standard errors added before a change counts as small. [-]
    fixed_wait : float
        Above zero: no judgement at all, the mean of the last ``shortest`` seconds after this
        wait. [s]
    """

    name: str = "standard-1"
    shortest: float = 3.0
    longest: float = 10.0
    dead: float = 0.5
    pressure_drift: float = 0.010
    flow_drift: float = 0.006
    swing: float = 0.015
    unsteady: float = 0.015
    precision: float = 0.0015
    patience: float = 20.0
    confidence: float = 1.64
    fixed_wait: float = 0.0

    def __post_init__(self) -> None:
        above = (
            self.shortest,
            self.pressure_drift,
            self.flow_drift,
            self.swing,
            self.unsteady,
            self.precision,
        )
        if min(above) <= 0.0 or min(self.dead, self.confidence, self.fixed_wait) < 0.0:
            raise RangeError(
                f"A figure of the settle rule {self.name} is below zero.", "Use figures above 0."
            )
        if not self.shortest <= self.longest <= self.patience:
            raise RangeError(
                f"The settle rule {self.name} needs shortest <= longest <= patience.",
                "Change one of them.",
            )


STANDARD = SettleRule()
STRICT = SettleRule(
    "strict-1",
    shortest=5.0,
    longest=15.0,
    pressure_drift=0.006,
    flow_drift=0.003,
    swing=0.010,
    precision=0.0008,
    patience=30.0,
)
FIXED_TEN = SettleRule("fixed-10s", shortest=1.0, fixed_wait=10.0)
FIXED_THREE = SettleRule("fixed-3s", shortest=1.0, fixed_wait=3.0)
RULES = (STANDARD, STRICT, FIXED_TEN, FIXED_THREE)
