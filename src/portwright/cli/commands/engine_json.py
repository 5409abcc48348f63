"""Engine answers as JSON values."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from portwright import units
from portwright.cli.output import finding_json
from portwright.units import Kind

if TYPE_CHECKING:
    from portwright.model.engine import EngineDescription
    from portwright.services.engine_head import HeadCurve
    from portwright.services.engine_quick import QuickAnswers
    from portwright.services.engine_run import EngineRun


def numbers(values: Any, digits: int, factor: float = 1.0) -> list[float | None]:
    """Rounded numbers; what is no number becomes null."""
    return [round(factor * float(v), digits) if math.isfinite(float(v)) else None for v in values]


def description_json(engine: EngineDescription) -> dict[str, Any]:
    """Every number and choice of an engine with its source."""
    return {
        "job": engine.job,
        "cam": engine.cam,
        "choices": {
            n: {"value": c.value, "source": c.source.value, "note": c.note}
            for n, c in engine.choices().items()
        },
        "values": {
            n: {
                "text": v.value.text,
                "unit": v.value.unit,
                "si": v.si,
                "source": v.source.value,
                "note": v.note,
            }
            for n, v in engine.values().items()
        },
        "runner_profile": engine.runner_profile.text if engine.runner_profile else None,
        "assumed": engine.assumed(),
    }


def quick_json(q: QuickAnswers) -> dict[str, Any]:
    """Quick answers with their definitions and ranges."""

    def rounded(values: Any, digits: int) -> list[float]:
        return [round(float(v), digits) for v in values]

    return {
        "job": q.engine.job,
        "port": q.port,
        "stage": q.stage,
        "runs": q.runs,
        "sections_from": q.section_source,
        "rpm": rounded(q.speed, 1),
        "mean_inlet_mach": {
            "definition": "eta_v V_s / (a integral of effective area over the open time)",
            "value": rounded(q.mach, 4),
            "volumetric_efficiency": q.engine.volumetric_efficiency.si,
            "limit": q.engine.mach_limit.si,
        },
        "mach_index": {
            "definition": "A_p S_p / (A_mean a), A_mean the mean effective area seat to seat",
            "value": rounded(q.index, 4),
        },
        "mean_open_area_mm2": round(q.mean_area * 1e6, 2),
        "open_angle_deg": round(units.from_si(q.open_angle, "deg", Kind.ANGLE), 2),
        "peak_power_rpm": {
            "value": round(q.peak_power.value),
            "range": [round(q.peak_power.low), round(q.peak_power.high)],
        },
        "sections": [
            {
                "name": s.name,
                "area_mm2": round(s.area * 1e6, 1),
                "mean_velocity_m_s": rounded(s.velocity, 1),
                "peak_mach": rounded(s.peak_mach, 3),
                "limit_reached_rpm": round(s.limit_speed),
            }
            for s in q.sections
        ],
        "smallest_section": q.smallest.name,
        "velocity_limit_m_s": round(q.velocity_limit, 1),
        "target_rpm": round(q.target_speed),
        "section_needed_mm2": round(q.needed_section * 1e6, 1),
        "ram": {
            "frequency_hz": round(q.ram_frequency, 1),
            "constant": q.ram_constants,
            "rpm": round(q.ram.value),
            "range": [round(q.ram.low), round(q.ram.high)],
            "even_length_mm": round(q.ram_length * 1e3, 1),
        },
        "lift": {
            "full_lift_mm": round(q.lift.most_lift * 1e3, 3),
            "tested_to_mm": round(q.lift.tested_to * 1e3, 3),
            "mean_over_peak_area": round(q.lift.share_of_peak, 4),
            "enough_mm": round(q.lift.enough * 1e3, 2),
            "one_mm_more_pct": round(100.0 * q.lift.gain_of_more, 2),
            "stops_paying_mm": None
            if q.lift.pays_up_to is None
            else round(q.lift.pays_up_to * 1e3, 2),
        },
        "series_fit": None
        if q.fit is None
        else {
            "valve_coefficient": round(q.fit.valve, 3),
            "port_coefficient": round(q.fit.port, 3),
            "misfit": round(q.fit.misfit, 4),
        },
        "assumed": q.engine.assumed(),
        "findings": [finding_json(f) for f in q.findings],
    }


def _head_json(head: HeadCurve, speed: Any) -> dict[str, Any]:
    level = head.level
    choked = head.chokes_from(speed)
    return {
        "stage": head.stage,
        "torque_nm": numbers(head.torque, 1),
        "torque_range_nm": [
            numbers(head.torque * (1.0 - level), 1),
            numbers(head.torque * (1.0 + level), 1),
        ],
        "power_kw": numbers(head.power, 1, 1e-3),
        "power_range_kw": [
            numbers(head.power * (1.0 - level), 1, 1e-3),
            numbers(head.power * (1.0 + level), 1, 1e-3),
        ],
        "volumetric_efficiency": numbers(head.volumetric_efficiency, 4),
        "residual": numbers(head.residual, 4),
        "reversion": numbers(head.reversion, 4),
        "reversion_in_overlap": numbers(head.overlap_back, 4),
        "exhaust_valve_force_at_opening_n": numbers(head.valve_force, 0),
        "peak_pressure_bar": numbers(head.most_pressure, 1, 1e-5),
        "port_mach": numbers(head.mach, 3),
        "port_mach_section": head.section,
        "valve_mach_mean": numbers(head.valve_mach, 3),
        "choking_section": head.choking,
        "chokes_from_rpm": choked if math.isfinite(choked) else None,
    }


def _peak_json(peak: Any) -> dict[str, Any] | None:
    if peak is None:
        return None
    return {"rpm": round(peak.speed), "kw": round(1e-3 * peak.value, 1), "inside": peak.inside}


def run_json(run: EngineRun) -> dict[str, Any]:
    """Both heads, the difference with its range, and what was assumed."""
    from portwright.services.engine_run import DIFFERENCE_FLOOR, LEVEL_FLOOR
    from portwright.services.engine_run_wording import run_lines

    d = run.difference
    return {
        "job": run.heads.description.job,
        "port": run.heads.before.intake_port,
        "exhaust_port": run.heads.before.exhaust_port,
        "said": run_lines(run),
        "rpm": numbers(run.speed, 1),
        "before": _head_json(run.before, run.speed),
        "after": _head_json(run.after, run.speed),
        "difference": {
            "torque_pct": numbers(d.gain, 2, 100.0),
            "range_pct": [numbers(d.low, 2, 100.0), numbers(d.high, 2, 100.0)],
            "sampled_half_width_pct": numbers(d.sampled, 2, 100.0),
        },
        "never_narrower_than_pct": {
            "level": 100.0 * LEVEL_FLOOR,
            "difference": 100.0 * DIFFERENCE_FLOOR,
        },
        "peak_power": {
            "before": _peak_json(run.peak_before),
            "after": _peak_json(run.peak_after),
            "shift_rpm": numbers(run.shift, 0),
        },
        "samples": run.samples,
        "assumed": run.heads.description.assumed(),
        "findings": [finding_json(f) for f in run.findings],
    }


def agreement_json(one: Any) -> dict[str, Any] | None:
    """Measured against forecast."""
    if one is None:
        return None
    return {
        "factor": round(one.factor, 4),
        "scatter": round(one.scatter, 4) if math.isfinite(one.scatter) else None,
        "points": one.points,
        "inside_range": one.hits,
    }
