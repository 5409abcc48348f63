"""The engine a head goes on: what is known, what was assumed, and where each value is from."""

from __future__ import annotations

from dataclasses import dataclass, fields
from enum import StrEnum

from portwright.model.quantity import AsTyped


class Source(StrEnum):
    """Where a value of the engine comes from."""

    JOB_SHEET = "job sheet"
    MEASURED = "measured"
    CAM_CARD = "cam card"
    WORDS = "read from words"  # taken out of a sentence on the job sheet: look at it
    ASSUMED = "assumed"


class FuelName(StrEnum):
    """Fuels whose gas properties are known."""

    PETROL = "petrol"
    RACE_PETROL = "race-petrol"
    E85 = "e85"
    METHANOL = "methanol"


class Induction(StrEnum):
    """What the runners breathe from."""

    INDIVIDUAL = "individual runners"
    PLENUM = "plenum"
    RESTRICTOR = "restrictor"  # a plenum behind a restrictor instead of a throttle


class Grouping(StrEnum):
    """How the exhaust primaries end."""

    PER_HEAD = "one collector per head"
    ONE = "one collector"
    SEPARATE = "separate pipes"


class CamMethod(StrEnum):
    """How the lift curve is known; chosen, not inferred."""

    TABLE = "lift table"
    EVENTS = "events"


class CamPlace(StrEnum):
    """Where the lift of a table was taken."""

    VALVE = "valve"
    LOBE = "lobe"  # lifts are multiplied by the rocker ratio


@dataclass(frozen=True, slots=True)
class EngineValue:
    """One number of the engine.

    Parameters
    ----------
    value : AsTyped
        As typed, with its meaning in SI.
    source : Source
    note : str
        Why it is assumed, or which sheet it is from.
    """

    value: AsTyped
    source: Source
    note: str = ""

    @property
    def si(self) -> float:
        """The number. [SI unit of its kind]"""
        return self.value.si


@dataclass(frozen=True, slots=True)
class EngineChoice:
    """One choice among named ways, with its source."""

    value: str
    source: Source
    note: str = ""


@dataclass(frozen=True, slots=True)
class RunnerProfile:
    """Diameters measured along a runner.

    Parameters
    ----------
    text, unit : str
        As typed, and the unit of its numbers.
    position, diameter : tuple of float
        From the entry on. [m]
    """

    text: str
    unit: str
    position: tuple[float, ...]
    diameter: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class EngineTerm:
    """What a number of the engine means and what it is when nobody says.

    Parameters
    ----------
    name : str
        Field of :class:`EngineDescription`, and name on the job sheet.
    words : str
        For people.
    kind : str
        One of the kinds of ``portwright.units``.
    unit : str
        Unit of the default.
    default : str
        As text, "" where nothing sensible can be assumed or it follows from other values.
    why : str
        Label of the default.
    also : tuple of str
        Other names a job sheet may use.
    """

    name: str
    words: str
    kind: str
    unit: str
    default: str = ""
    why: str = ""
    also: tuple[str, ...] = ()


_FM = "from memory"
_OWN = "Portwright's own middle value; measure it"

ENGINE_TERMS = (
    EngineTerm("bore", "bore", "length", "mm"),
    EngineTerm("stroke", "stroke", "length", "mm"),
    EngineTerm("rod", "rod length", "length", "mm", also=("rod_length",)),
    EngineTerm("cylinders", "cylinders", "ratio", "-"),
    EngineTerm(
        "compression",
        "compression ratio",
        "ratio",
        "-",
        "10.5",
        _OWN,
        ("compression_ratio", "target_compression"),
    ),
    EngineTerm("rocker_ratio", "rocker ratio", "ratio", "-", "1.0", "direct"),
    EngineTerm("lash", "valve lash, hot", "length", "mm", "0", "lift table taken as net"),
    EngineTerm("intake_centre", "intake centre after top dead centre", "angle", "deg"),
    EngineTerm("exhaust_centre", "exhaust centre before top dead centre", "angle", "deg"),
    EngineTerm("runner_length", "runner length", "length", "mm", "220", _OWN),
    EngineTerm("runner_diameter", "runner diameter at its entry", "length", "mm"),
    EngineTerm("plenum_volume", "plenum volume", "volume", "L", "3.0", _OWN),
    EngineTerm("throttle_diameter", "throttle or restrictor bore", "length", "mm", "60", _OWN),
    EngineTerm("primary_diameter", "primary bore", "length", "mm"),
    EngineTerm("primary_length", "primary length", "length", "mm", "750", _OWN),
    EngineTerm("collector_volume", "collector volume", "volume", "L", "0.5", _OWN),
    EngineTerm("tail_length", "tail pipe length", "length", "mm", "1000", _OWN),
    EngineTerm("tail_diameter", "tail pipe bore", "length", "mm"),
    EngineTerm("air_ratio", "lambda at full load", "ratio", "-", "0.88", "common practice"),
    EngineTerm(
        "evaporated", "fuel evaporated before the runner", "ratio", "-", "0.3", "set to calibrate"
    ),
    EngineTerm("boost", "boost above ambient", "pressure", "kPa", "0", "naturally aspirated"),
    EngineTerm("ambient_pressure", "ambient pressure", "pressure", "kPa", "101.325", "standard"),
    EngineTerm("ambient_temperature", "intake air", "temperature", "degC", "25", "standard"),
    EngineTerm(
        "volumetric_efficiency", "volumetric efficiency for quick answers", "ratio", "-", "1.0", _FM
    ),
    EngineTerm(
        "velocity_limit",
        "mean velocity not to exceed",
        "speed",
        "m/s",
        "120",
        "90 to 120 m/s are usual at peak power, " + _FM,
    ),
    EngineTerm("mach_limit", "mean inlet Mach number at peak power", "ratio", "-", "0.5", _FM),
    EngineTerm("ram_constant_low", "ram constant, from", "ratio", "-", "2.0", "2.0 to 2.5, " + _FM),
    EngineTerm("ram_constant_high", "ram constant, to", "ratio", "-", "2.5", "2.0 to 2.5, " + _FM),
    EngineTerm("target_speed", "speed aimed at for peak power", "turning speed", "rpm"),
    EngineTerm("lowest_speed", "lowest speed used", "turning speed", "rpm", "3000", _OWN),
    EngineTerm("highest_speed", "highest speed used", "turning speed", "rpm", "7500", _OWN),
    EngineTerm("checking_lift", "checking lift at the valve", "length", "mm", "1.27", "0.050 in"),
    EngineTerm("intake_lift", "full intake lift", "length", "mm"),
    EngineTerm("exhaust_lift", "full exhaust lift", "length", "mm"),
    EngineTerm("intake_opens", "intake opens before top dead centre", "angle", "deg"),
    EngineTerm("intake_closes", "intake closes after bottom dead centre", "angle", "deg"),
    EngineTerm("exhaust_opens", "exhaust opens before bottom dead centre", "angle", "deg"),
    EngineTerm("exhaust_closes", "exhaust closes after top dead centre", "angle", "deg"),
)

CHOICES: dict[str, tuple[str, ...]] = {
    "fuel": tuple(FuelName),
    "induction": tuple(Induction),
    "grouping": tuple(Grouping),
    "cam_method": tuple(CamMethod),
    "cam_place": tuple(CamPlace),
}
"""Choices of the engine and what they offer."""


@dataclass(frozen=True, slots=True)
class EngineDescription:
    """What is known and assumed of one engine.

    Numbers are listed with their meaning in ``ENGINE_TERMS``; None where a number is neither
    known nor needed.

    Parameters
    ----------
    job : str
    cam : str
        Card of the cam whose table is used, "" for none.
    fuel, induction, grouping, cam_method, cam_place : EngineChoice
        See ``CHOICES``.
    runner_profile : RunnerProfile or None
        Stands above ``runner_diameter``, and gives the length.
    """

    job: str
    cam: str
    fuel: EngineChoice
    induction: EngineChoice
    grouping: EngineChoice
    cam_method: EngineChoice
    cam_place: EngineChoice
    bore: EngineValue
    stroke: EngineValue
    rod: EngineValue
    cylinders: EngineValue
    compression: EngineValue
    rocker_ratio: EngineValue
    lash: EngineValue
    runner_length: EngineValue
    runner_diameter: EngineValue
    plenum_volume: EngineValue
    throttle_diameter: EngineValue
    primary_diameter: EngineValue
    primary_length: EngineValue
    collector_volume: EngineValue
    tail_length: EngineValue
    tail_diameter: EngineValue
    air_ratio: EngineValue
    evaporated: EngineValue
    boost: EngineValue
    ambient_pressure: EngineValue
    ambient_temperature: EngineValue
    volumetric_efficiency: EngineValue
    velocity_limit: EngineValue
    mach_limit: EngineValue
    ram_constant_low: EngineValue
    ram_constant_high: EngineValue
    target_speed: EngineValue
    lowest_speed: EngineValue
    highest_speed: EngineValue
    checking_lift: EngineValue
    intake_centre: EngineValue | None = None
    exhaust_centre: EngineValue | None = None
    intake_lift: EngineValue | None = None
    exhaust_lift: EngineValue | None = None
    intake_opens: EngineValue | None = None
    intake_closes: EngineValue | None = None
    exhaust_opens: EngineValue | None = None
    exhaust_closes: EngineValue | None = None
    runner_profile: RunnerProfile | None = None

    def values(self) -> dict[str, EngineValue]:
        """Every number that is set, by name."""
        found = ((f.name, getattr(self, f.name)) for f in fields(self))
        return {name: item for name, item in found if isinstance(item, EngineValue)}

    def choices(self) -> dict[str, EngineChoice]:
        """Every choice, by name."""
        return {name: getattr(self, name) for name in CHOICES}

    def assumed(self) -> tuple[str, ...]:
        """Names of numbers and choices nobody gave."""
        both: dict[str, EngineChoice | EngineValue] = {**self.choices(), **self.values()}
        return tuple(name for name, item in both.items() if item.source is Source.ASSUMED)
