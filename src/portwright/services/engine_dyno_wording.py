"""A dyno comparison as sentences."""

from __future__ import annotations

from portwright.core.engine.learning import Agreement
from portwright.services.engine_dyno import INVENTED, DynoComparison
from portwright.services.engine_factors import HitRate

# Neighbouring speeds are wrong together: a few less than 19 of 20 inside is nothing to remark on.
_EXPECTED = 0.8
_MISSES = (
    "A 95 % range should hold about 19 of 20 speeds. Fewer means that the sheet, its correction, a "
    "sweep or a number of the engine is off, or that the range is too narrow. Set first what is "
    "still assumed of the engine."
)


def dyno_lines(found: DynoComparison) -> list[str]:
    """Dyno sheet against forecast in a few sentences."""
    lines = [INVENTED] if found.invented else []
    lines.append(
        f"Corrected to the reference air of {found.standard.name} ({found.standard.label}): sheet "
        f"times {found.sheet_factor:.3f}, forecast times {found.forecast_factor:.3f}."
    )
    for what, one in (
        (f"{found.run.before.stage} torque", found.before),
        (f"{found.run.after.stage} torque", found.after),
        ("Torque after over before", found.gain),
    ):
        if one is not None:
            lines.append(_agreement(what, one))
    return [*lines, *_misses(found)]


def _misses(found: DynoComparison) -> list[str]:
    """What to make of a real sheet that lies outside a range more often than the range says."""
    known = [a for a in (found.before, found.after, found.gain) if a is not None]
    if found.invented or all(a.hits >= _EXPECTED * a.points for a in known):
        return []
    return [_MISSES]


def _agreement(what: str, one: Agreement) -> str:
    return (
        f"{what}: measured is {one.factor:.3f} times the forecast (±{200.0 * one.scatter:.0f} % "
        f"over speed); {one.hits} of {one.points} speeds lie in the forecast's range."
    )


def hit_rate_line(rate: HitRate) -> str:
    """How often the shop's forecasts were right so far."""
    if rate.engines == 0:
        return "No dyno result counts yet, so forecasts have no hit rate."
    engines = "1 engine" if rate.engines == 1 else f"{rate.engines} engines"
    return (
        f"Over {engines}: {rate.hits} of {rate.points} dyno points inside the level's range, "
        f"{rate.gain_hits} of {rate.gain_points} inside the difference's range."
    )
