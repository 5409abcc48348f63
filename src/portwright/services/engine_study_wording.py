"""What came of varying an engine, in sentences."""

from __future__ import annotations

import math

from portwright.services.engine_knobs import KNOBS
from portwright.services.engine_study import Combination, Goal, Study

NOTE = (
    "Change from the engine as it is. No range is given; what lies closer together than 0.1 % "
    "cannot be told apart. Clearance, springs, wall thickness and class rules are not in it: "
    "check them before metal is cut."
)


def values_text(study: Study, combination: Combination) -> str:
    """Like "full intake lift +1.0 mm, runner length −20 mm"; what stays is not named."""
    parts = [
        f"{KNOBS[r.name].words} {KNOBS[r.name].text(v)}"
        for r, v in zip(study.ranges, combination.values, strict=True)
        if abs(v) > 1e-9
    ]
    return ", ".join(parts) or "as it is"


def study_lines(study: Study) -> list[str]:
    """The best combination, what does as well, and how much was tried."""
    band = f"{study.speed[0]:.0f} to {study.speed[-1]:.0f} rpm"
    said = "mean torque" if study.goal is Goal.TORQUE else "peak power"
    tried = f"{len(study.tried)} combinations, {study.known} of them known from before."
    best = study.tried[0]
    if not math.isfinite(best.gain):
        return ["No combination could be solved.", tried]
    if best.gain < 0.001:
        return [f"Nothing within these limits raises {said} from {band}.", tried]
    what = f"{values_text(study, best)} ({100.0 * best.gain:+z.1f} %)"
    lines = [f"Most {said} from {band}, of what was tried: {what}."]
    alike = []
    for name, (low, high) in study.as_good.items():
        if high > low:
            knob = KNOBS[name]
            alike.append(f"{knob.words} from {knob.text(low)} to {knob.text(high)}")
    if alike:
        lines.append(f"Some others cannot be told from it, with {'; '.join(alike)}.")
    return [*lines, tried]
