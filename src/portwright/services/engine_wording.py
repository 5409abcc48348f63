"""Engine answers as sentences, with ranges and no more digits than are known."""

from __future__ import annotations

from portwright import units
from portwright.services.display import Display
from portwright.services.engine_quick import QuickAnswers, Range
from portwright.units import Kind


def rpm(value: float) -> str:
    """A crank speed to the nearest 50, as forecasts deserve."""
    return f"{50.0 * round(value / 50.0):.0f} rpm"


def rpm_range(found: Range) -> str:
    """A crank speed with its range."""
    low, high = (50.0 * round(v / 50.0) for v in (found.low, found.high))
    return f"{rpm(found.value)} ({low:.0f} to {high:.0f})"


def _velocity(value: float, display: Display) -> str:
    unit = "ft/s" if display.length in {"in", "thou"} else "m/s"
    return f"{units.show(value, unit, Kind.SPEED, 0)} {unit}"


def quick_facts(q: QuickAnswers, display: Display) -> list[tuple[str, str]]:
    """Quick answers as short pairs of what and how much."""
    small, lift = q.smallest, q.lift
    full = f"{display.lift_text(lift.most_lift)} {display.length}"
    enough = f"{display.lift_text(lift.enough)} {display.length}"
    return [
        ("Peak power to be expected near", rpm_range(q.peak_power)),
        ("Smallest section", f"{small.name}, {display.area_text(small.area)}"),
        (
            f"It reaches {_velocity(q.velocity_limit, display)} mean air speed at",
            rpm(small.limit_speed),
        ),
        (
            f"Section needed for {rpm(q.target_speed)} at that speed",
            display.area_text(q.needed_section),
        ),
        ("Runner and port ram near", rpm_range(q.ram)),
        ("Lift the cam makes use of", f"{enough} of {full}"),
        (
            f"{display.length_text(lift.step)} more lift opens",
            f"{100.0 * lift.gain_of_more:.1f} % more valve area",
        ),
    ]


def quick_lines(q: QuickAnswers, display: Display) -> list[str]:
    """Quick answers as a few sentences."""
    small = q.smallest
    lift, target = q.lift, rpm(q.target_speed)
    enough = f"{display.lift_text(lift.enough)} {display.length}"
    full = f"{display.lift_text(lift.most_lift)} {display.length}"
    step = display.length_text(lift.step)
    low, high = q.ram_constants
    lines = [
        f"{q.port} at {q.stage}, from {', '.join(q.runs)}; sections from {q.section_source}.",
        (
            f"Peak power is to be expected near {rpm_range(q.peak_power)}: there the mean "
            f"inlet Mach number over the open period reaches {q.engine.mach_limit.si:g}."
        ),
        (
            f"The smallest section is {small.name} with {display.area_text(small.area)}; its "
            f"mean air speed reaches the limit of {_velocity(q.velocity_limit, display)} at "
            f"{rpm(small.limit_speed)}."
        ),
        (
            f"For {target} at that limit the smallest section should have "
            f"{display.area_text(q.needed_section)}."
        ),
        (
            f"Runner and port ram near {rpm_range(q.ram)}, with the ram constant K from {low:g} to "
            f"{high:g} and a tone of {q.ram_frequency:.0f} Hz."
        ),
        (
            f"The cam opens to {full}; its mean area is {100.0 * lift.share_of_peak:.0f} % of the "
            f"largest it reaches, and everything above {enough} adds less than 1 %."
        ),
        (
            f"{step} more lift on a lobe of this length adds {100.0 * lift.gain_of_more:.1f} % of "
            "area over the open period."
        ),
    ]
    if lift.pays_up_to is not None:
        where = f"{display.lift_text(lift.pays_up_to)} {display.length}"
        lines.append(f"From {where} full lift another {step} adds less than 1 %.")
    else:
        lines.append(
            f"Up to the highest tested lift, {display.lift_text(lift.tested_to)} {display.length}, "
            f"another {step} always adds 1 % or more."
        )
    return lines
