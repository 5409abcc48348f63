"""The engine of a job, gathered from job sheet, cam card and measurements; the rest assumed."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping

from portwright.errors import InputError
from portwright.model.contents import JobContents
from portwright.model.engine import (
    ENGINE_TERMS,
    CamMethod,
    CamPlace,
    EngineChoice,
    EngineDescription,
    EngineValue,
    FuelName,
    Grouping,
    Induction,
    RunnerProfile,
    Source,
)
from portwright.model.head import Cam, Side
from portwright.model.quantity import AsTyped
from portwright.services.engine_facts import TERMS, fact_choice, fact_value, middle_of_range
from portwright.services.engine_runner import profile_of
from portwright.units import Kind, from_si, read, typed

_ROD_OVER_STROKE = 1.8  # from memory
_SAME_LENGTH = 1e-4  # [m], below what a rule reads
_NEEDED = ("bore", "stroke")

# Words on a job sheet and the choice they mean; the first that is found counts.
_FUEL_WORDS = (
    (FuelName.METHANOL, r"methanol"),
    (FuelName.E85, r"\be85\b|ethanol"),
    (FuelName.RACE_PETROL, r"race (petrol|fuel|gas)"),
    (FuelName.PETROL, r"petrol|gasoline|unleaded|\bron\b"),
)
_INDUCTION_WORDS = (
    (Induction.INDIVIDUAL, r"individual"),
    (Induction.RESTRICTOR, r"restrictor"),
    (Induction.PLENUM, r"plenum|single.plane|dual.plane|throttle body"),
)
_GROUPING_WORDS = (
    (Grouping.PER_HEAD, r"each (bank|head|side)|per (bank|head|side)"),
    (Grouping.ONE, r"\d.into.1|collector"),
)


def describe_engine(contents: JobContents) -> EngineDescription:
    """Gather the engine of a job.

    Every number is kept as typed with its source; what nobody gave is assumed and says so.

    Raises
    ------
    InputError
        Bore or stroke is missing, or a number stands twice on the sheet.
    """
    facts = contents.job.facts
    cam = next((c for c in contents.cams if c.points), None)
    known: dict[str, EngineValue] = {}
    for term in ENGINE_TERMS:
        value = fact_value(facts, term.name)
        if value is not None:
            known[term.name] = EngineValue(value, Source.JOB_SHEET)
    _from_cam(known, cam)
    _from_measurements(known, contents)
    _from_words(known, facts)
    profile = _runner(known, facts)
    missing = [name for name in _NEEDED if name not in known]
    if missing:
        raise InputError(
            f"Job {contents.job.number} does not say the engine's {' and '.join(missing)}.",
            "Set it: portwright engine set JOB bore '90 mm'.",
        )
    for term in ENGINE_TERMS:
        if term.default and term.name not in known:
            value = read(term.default, Kind(term.kind), term.unit)
            known[term.name] = EngineValue(value, Source.ASSUMED, term.why)
    _from_other_numbers(known, contents)
    return EngineDescription(
        job=contents.job.number,
        cam=cam.card if cam else "",
        fuel=_choice(facts, "fuel", "fuel", _FUEL_WORDS, FuelName.PETROL),
        induction=_choice(facts, "induction", "induction", _INDUCTION_WORDS, Induction.INDIVIDUAL),
        grouping=_choice(facts, "grouping", "exhaust", _GROUPING_WORDS, Grouping.SEPARATE),
        cam_method=_cam_method(facts, cam),
        cam_place=_choice(facts, "cam_place", "", (), CamPlace.VALVE),
        runner_profile=profile,
        **known,
    )


def _runner(known: dict[str, EngineValue], facts: Mapping[str, str]) -> RunnerProfile | None:
    """Length and entry of a runner follow from its profile."""
    profile = profile_of(facts)
    if profile is None:
        return None
    for name, value in (
        ("runner_length", profile.position[-1]),
        ("runner_diameter", profile.diameter[0]),
    ):
        if name in known and abs(known[name].si - value) > _SAME_LENGTH:
            raise InputError(
                f"The runner profile and {TERMS[name].words} contradict each other.",
                f"Take one off: portwright engine set JOB {name} ''.",
            )
        number = typed(from_si(value, profile.unit, Kind.LENGTH), profile.unit, Kind.LENGTH)
        known[name] = EngineValue(number, Source.JOB_SHEET, "runner profile")
    return profile


def _choice(
    facts: Mapping[str, str],
    name: str,
    sheet: str,
    words: tuple[tuple[str, str], ...],
    default: str,
) -> EngineChoice:
    chosen = fact_choice(facts, name)
    if chosen:
        return EngineChoice(chosen, Source.JOB_SHEET)
    text = facts.get(sheet, "")
    for value, pattern in words:
        if re.search(pattern, text, re.IGNORECASE):
            return EngineChoice(value, Source.WORDS, text)
    return EngineChoice(default, Source.ASSUMED, text)


def _cam_method(facts: Mapping[str, str], cam: Cam | None) -> EngineChoice:
    chosen = fact_choice(facts, "cam_method")
    if chosen:
        return EngineChoice(chosen, Source.JOB_SHEET)
    if cam is not None:
        return EngineChoice(CamMethod.TABLE, Source.CAM_CARD, cam.card)
    return EngineChoice(CamMethod.EVENTS, Source.ASSUMED, "the job has no lift table")


def _from_cam(known: dict[str, EngineValue], cam: Cam | None) -> None:
    if cam is None:
        return
    for name in ("intake_centre", "exhaust_centre", "lash"):
        value = getattr(cam, name)
        if value is not None:
            known.setdefault(name, EngineValue(value, Source.CAM_CARD, cam.card))
    if cam.rocker_ratio is not None:
        ratio = typed(cam.rocker_ratio, "-", Kind.RATIO)
        known.setdefault("rocker_ratio", EngineValue(ratio, Source.CAM_CARD, cam.card))


def _from_measurements(known: dict[str, EngineValue], contents: JobContents) -> None:
    """Measured numbers stand above what the sheet only aims at."""
    for item in contents.measurements:
        if item.quantity == "compression ratio":
            known["compression"] = EngineValue(item.value, Source.MEASURED, item.note)
    numbers = {p.cylinder for p in contents.ports if p.side is Side.INTAKE and p.cylinder}
    if numbers:
        count = typed(len(numbers), "-", Kind.RATIO)
        known.setdefault("cylinders", EngineValue(count, Source.MEASURED, "intake ports"))
    for item in contents.measurements:
        for name, quantity in (("checking_lift", "checking lift"),):
            if item.quantity == quantity:
                known.setdefault(name, EngineValue(item.value, Source.CAM_CARD, item.subject))


def _from_words(known: dict[str, EngineValue], facts: Mapping[str, str]) -> None:
    exhaust = facts.get("exhaust", "")
    match = re.search(
        r"(\d+ \d+/\d+|\d+/\d+|\d[\d.]*)\s*(mm|in)\b[^,;]*primar", exhaust, re.IGNORECASE
    )
    if match and "primary_diameter" not in known:
        value = read(f"{match[1].strip()} {match[2].lower()}", Kind.LENGTH)
        known["primary_diameter"] = EngineValue(value, Source.WORDS, exhaust)
    goal = middle_of_range(facts.get("goal_peak_power_rpm", ""))
    if goal and "target_speed" not in known:
        known["target_speed"] = _speed(sum(goal) / 2.0, "middle of the goal")
    band = middle_of_range(facts.get("goal_band_rpm", ""))
    if band:
        known.setdefault("lowest_speed", _speed(band[0], "goal band"))
        known.setdefault("highest_speed", _speed(band[1], "goal band"))


def _speed(value: float, why: str) -> EngineValue:
    return EngineValue(typed(value, "rpm", Kind.TURNING_SPEED), Source.JOB_SHEET, why)


def _from_other_numbers(known: dict[str, EngineValue], contents: JobContents) -> None:
    """Assume what usually follows from other numbers."""

    def assume(name: str, value: float, unit: str, why: str) -> None:
        if name not in known:
            text = typed(float(f"{value:.3g}"), unit, Kind(TERMS[name].kind))
            known[name] = EngineValue(text, Source.ASSUMED, why)

    stroke, bore = known["stroke"].si, known["bore"].si
    assume("rod", 1e3 * _ROD_OVER_STROKE * stroke, "mm", "1.8 strokes, from memory")
    assume("cylinders", 4, "-", "no intake ports on the job")
    exit_size = _section_size(contents, Side.EXHAUST, 0.42 * bore)
    assume("primary_diameter", 1e3 * exit_size, "mm", "size of the exhaust port opening")
    entry = _section_size(contents, Side.INTAKE, 0.45 * bore)
    assume("runner_diameter", 1e3 * 1.08 * entry, "mm", "8 % above the port opening, from memory")
    assume(
        "tail_diameter",
        1.5e3 * known["primary_diameter"].si,
        "mm",
        "1.5 primaries, from memory",
    )
    assume("target_speed", known["highest_speed"].value.si * 30.0 / math.pi, "rpm", "highest speed")


def _section_size(contents: JobContents, side: Side, default: float) -> float:
    """Diameter of a circle as large as the last measured opening of a side. [m]"""
    ports = {p.code for p in contents.ports if p.side is side}
    sizes: dict[str, AsTyped] = {}
    for item in contents.measurements:
        if item.subject in ports and item.quantity.startswith("opening "):
            sizes[item.quantity] = item.value
    try:
        width, height = sizes["opening width"].si, sizes["opening height"].si
    except KeyError:
        return default
    radius = sizes["opening corner radius"].si if "opening corner radius" in sizes else 0.0
    area = width * height - (4.0 - math.pi) * radius**2
    return math.sqrt(4.0 * area / math.pi)
