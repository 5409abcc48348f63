"""A before/after on the engine as sentences, with ranges and no more digits than are known."""

from __future__ import annotations

import math

import numpy as np

from portwright import units
from portwright.core.curve import Array
from portwright.core.engine.peaks import Peak
from portwright.services.engine_run import (
    DIFFERENCE_FLOOR,
    GUESSED_LENGTH,
    LEVEL_FLOOR,
    WHY_DIFFERENCE,
    EngineRun,
    guessed_lengths,
)
from portwright.services.engine_wording import rpm
from portwright.units import Kind

NOT_IN_IT = (
    "Not in the model: knock, mixture distribution, valve float, mechanical limits. The result "
    "certifies nothing."
)


def gain_text(run: EngineRun, k: int) -> str:
    """Change of torque at one speed with its range: "+22 (+18 to +25) %"."""
    d = run.difference
    if not math.isfinite(d.gain[k]):
        return "no answer"
    low, middle, high = (100.0 * float(v[k]) for v in (d.low, d.gain, d.high))
    return f"{middle:+z.0f} ({low:+z.0f} to {high:+z.0f}) %"


def band(run: EngineRun) -> tuple[Array, Array]:
    """Speeds at which torque is told to rise, and to fall. [rev/min]"""
    d = run.difference
    return run.speed[d.low > 0.0], run.speed[d.high < 0.0]


def headlines(run: EngineRun) -> list[str]:
    """What the porter asked: where torque changes and by how much, what peak power does."""
    lines = []
    rises, falls = band(run)
    for speeds, word in ((rises, "gains"), (falls, "loses")):
        if speeds.size:
            told = np.isin(run.speed, speeds)
            at = int(np.nanargmax(np.where(told, np.abs(run.difference.gain), 0.0)))
            lines.append(
                f"Torque {word} between {speeds[0]:.0f} and {speeds[-1]:.0f} rpm, most at "
                f"{run.speed[at]:.0f} rpm: {gain_text(run, at)}."
            )
    if rises.size + falls.size < run.speed.size:
        lines.append(f"{'Elsewhere t' if lines else 'T'}he difference can't be told from none.")
    return [*lines, _peaks(run)]


def details(run: EngineRun) -> list[str]:
    """Where each head chokes, and what the exhaust valve opens against."""
    force = _force(run)
    return [
        *(_section(run, head.stage) for head in (run.before, run.after)),
        *([force] if force else []),
    ]


def trust(run: EngineRun) -> list[str]:
    """How far to believe it."""
    return [_level(run), _made_of(run), NOT_IN_IT]


def run_lines(run: EngineRun) -> list[str]:
    """Before and after in a few sentences."""
    port, job = run.heads.before.intake_port, run.heads.description.job
    first = f"{port}, {run.before.stage} to {run.after.stage}, on the engine of job {job}."
    return [first, *headlines(run), *details(run), *trust(run)]


def _force(run: EngineRun) -> str:
    """Gas force on the exhaust valve where it is largest."""
    both = np.stack((run.before.valve_force, run.after.valve_force))
    if not np.any(np.isfinite(both)):
        return ""
    at = int(np.nanargmax(np.nanmax(both, axis=0)))
    values = [
        f"{units.show(float(v), 'N', Kind.FORCE, 0)} N" if math.isfinite(v) else "an unknown force"
        for v in (50.0 * np.round(both[:, at] / 50.0))
    ]
    return (
        f"The exhaust valve opens against most gas force at {run.speed[at]:.0f} rpm: about "
        f"{values[0]} before, {values[1]} after."
    )


def _power(found: Peak | None) -> str:
    if found is None:
        return "unknown"
    edge = "" if found.inside else " or beyond the speeds run"
    return f"{units.show(found.value, 'kW', Kind.POWER, 0)} kW at {rpm(found.speed)}{edge}"


def _peaks(run: EngineRun) -> str:
    text = f"Peak power: {_power(run.peak_before)} before, {_power(run.peak_after)} after."
    middle, low, high = run.shift
    if math.isfinite(middle):
        text += f" It moves by {50.0 * round(middle / 50.0):+z.0f} rpm"
        if math.isfinite(low):
            ends = (50.0 * math.floor(low / 50.0), 50.0 * math.ceil(high / 50.0))
            text += f" ({ends[0]:+z.0f} to {ends[1]:+z.0f} by the sampled uncertainties)"
        text += "."
    return text


def _section(run: EngineRun, stage: str) -> str:
    head = run.before if stage == run.before.stage else run.after
    from_speed = head.chokes_from(run.speed)
    most = float(np.nanmax(head.mach))
    if math.isfinite(from_speed):
        text = f"{stage}: {head.choking} chokes from {from_speed:.0f} rpm."
    else:
        text = (
            f"{stage}: no section of the port chokes; {head.choking} comes nearest with local Mach "
            f"{most:.2f}."
        )
    last = head.valve_mach[-1]
    if math.isfinite(last):
        text += (
            f" At {run.speed[-1]:.0f} rpm the charge passes the valve at a mean Mach number of "
            f"{last:.2f}."
        )
    return text


def _made_of(run: EngineRun) -> str:
    floor = (
        f"{100.0 * DIFFERENCE_FLOOR:.0f} % in the difference and {100.0 * LEVEL_FLOOR:.0f} % in "
        "the level, which is what such calculations reach at best (from memory)"
    )
    if run.samples == 0:
        return f"Nothing was sampled; the ranges are {floor}."
    return (
        f"Ranges at 95 % from {run.samples} pairs of guesses at flow, friction, combustion, heat, "
        f"{_lengths(run)}how much of the smallest section is filled, the same luck for both heads; "
        f"never narrower than {floor}."
    )


def _lengths(run: EngineRun) -> str:
    """Pipes nobody measured: their lengths are guessed at as well."""
    names = {"runner": "runner", "primary": "primary", "tail": "tail pipe"}
    guessed = [names[name] for name in guessed_lengths(run.heads)]
    if not guessed:
        return ""
    return f"the lengths nobody gave ({', '.join(guessed)}: ±{200.0 * GUESSED_LENGTH:.0f} %) and "


def _level(run: EngineRun) -> str:
    both = np.concatenate([run.before.level, run.after.level])
    low, high = (round(100.0 * float(v)) for v in (np.nanmin(both), np.nanmax(both)))
    size = f"{low} %" if low == high else f"{low} to {high} %"
    if run.factor is None:
        return f"The level is uncalibrated, ±{size}. {WHY_DIFFERENCE}"
    count = run.factor.engines
    engines = "1 engine" if count == 1 else f"{count} engines"
    return (
        f"The level holds the shop's own factor {run.factor.factor:.3f}, learned from {engines} on "
        f"the dyno, ±{size}. {WHY_DIFFERENCE}"
    )
