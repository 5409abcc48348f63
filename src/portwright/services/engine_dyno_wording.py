"""A dyno comparison as sentences."""

from __future__ import annotations

from portwright.core.engine.learning import Agreement
from portwright.services.engine_dyno import INVENTED, DynoComparison
from portwright.services.engine_factors import HitRate


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
    return lines


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
