"""The closed list of column headings Portwright knows, without their units."""

from __future__ import annotations

from dataclasses import dataclass

from portwright.units import Kind


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a heading stands for.

    Parameters
    ----------
    field : str
        Portwright's name of it.
    kind : Kind or None
        None for text and counts.
    implied_unit : str
        Unit that the heading's own words state ("percent_of_range").
    derived : bool
        Worked out from other columns: recognised, compared where possible, never stored.
    """

    field: str
    kind: Kind | None = None
    implied_unit: str = ""
    derived: bool = False


_NUMBERS: tuple[tuple[str, Kind, str], ...] = (
    ("lift", Kind.LENGTH, "lift valve_lift lift_at_valve"),
    ("flow", Kind.FLOW, "flow flow_rate airflow air_flow volume_flow"),
    ("claimed flow", Kind.FLOW, "flow_claimed claimed_flow"),
    ("stated pressure", Kind.PRESSURE, "stated_pressure"),
    ("test pressure", Kind.PRESSURE, "test_pressure depression test_depression pressure_drop"),
    ("air temperature", Kind.TEMPERATURE, "air_temp air_temperature temp temperature"),
    ("meter temperature", Kind.TEMPERATURE, "meter_temp meter_temperature"),
    ("barometer", Kind.PRESSURE, "baro barometer barometric_pressure"),
    ("humidity", Kind.RATIO, "rh humidity relative_humidity"),
    ("leak", Kind.FLOW, "leak leak_check leakage leak_flow"),
    ("test pressure zero", Kind.PRESSURE, "test_pressure_zero gauge_zero"),
    ("meter pressure zero", Kind.PRESSURE, "meter_pressure_zero meter_zero"),
    ("scatter", Kind.RATIO, "flutter scatter needle_swing swing"),
    ("percent", Kind.RATIO, "share_of_range"),
    ("range full scale", Kind.FLOW, "range_full_scale full_scale range_constant"),
    ("meter pressure", Kind.PRESSURE, "meter_pressure meter_dp meter_drop"),
    ("bore", Kind.LENGTH, "bore plate_bore"),
    ("certified", Kind.FLOW, "certified certified_flow"),
    ("measured flow", Kind.FLOW, "measured measured_flow"),
    ("measured", Kind.LENGTH, "measured"),
    ("shop minimum", Kind.LENGTH, "shop_minimum min_shop_limit shop_limit"),
    ("distance", Kind.LENGTH, "distance distance_from_manifold_face"),
    ("across", Kind.LENGTH, "across across_section"),
    ("up", Kind.LENGTH, "up up_section"),
    ("cam angle", Kind.ANGLE, "crank_from_lobe_centre cam_angle angle_from_lobe_centre"),
    ("intake lift", Kind.LENGTH, "intake_lift inlet_lift"),
    ("exhaust lift", Kind.LENGTH, "exhaust_lift"),
    ("adapter length", Kind.LENGTH, "adapter_length bore_adapter_length"),
    ("quoted", Kind.TIME, "quoted"),
    ("actual", Kind.TIME, "actual"),
    ("billed", Kind.TIME, "billed"),
    ("torque", Kind.TORQUE, "torque torque_before torque_after"),
    ("power", Kind.POWER, "power power_before power_after"),
)

_TEXTS: tuple[tuple[str, str], ...] = (
    ("run", "run run_id run_no"),
    ("job", "job job_no job_number"),
    ("date", "date"),
    ("time", "time clock"),
    ("bench", "bench bench_id"),
    ("port", "port port_id article"),
    ("stage", "stage state"),
    ("stage note", "stage_note what_changed"),
    ("repeat", "repeat repeat_no"),
    ("range number", "range range_no range_number"),
    ("configuration", "configuration"),
    ("note", "note notes remark remarks"),
    ("bore adapter", "bore_adapter"),
    ("inlet aid", "inlet_aid inlet_aid_intake radius_plate"),
    ("exhaust stub", "exhaust_stub pipe_stub"),
    ("plug", "plug"),
    ("valve", "valve"),
    ("lift reference", "lift_reference"),
    ("direction", "direction"),
    ("instrument", "instrument"),
    ("head", "head"),
    ("cylinder", "cyl cylinder"),
    ("subject", "subject"),
    ("place", "place location landmark"),
    ("plane", "plane"),
    ("row", "row"),
    ("column", "col column"),
    ("side", "side"),
    ("shape", "shape section_shape"),
    ("check", "check"),
    ("how", "how"),
    ("verdict", "verdict"),
    ("item", "item quantity"),
    ("value", "value"),
    ("unit", "unit"),
    ("field", "field"),
    ("nickname", "nickname bench_name"),
    ("bench type", "type bench_type"),
    ("metering", "metering"),
    ("readout", "readout"),
    ("service from", "service_from"),
    ("service to", "service_to"),
    ("plate", "plate plate_id"),
    ("cuts", "cuts"),
    ("method", "method"),
    ("reading", "reading"),
    ("limit", "limit"),
    ("rule", "rule rule_id"),
    ("operation", "operation"),
    ("year", "year"),
    ("architecture", "architecture"),
    ("outcome", "outcome outcome_note"),
    ("source", "source"),
)

_DERIVED: tuple[tuple[str, Kind | None, str], ...] = (
    ("lift over diameter", None, "l_over_d"),
    ("effective area", Kind.AREA, "effective_area cda"),
    ("plate error", Kind.RATIO, "error"),
    ("throat share", Kind.RATIO, "throat_of_valve"),
    ("throat area", Kind.AREA, "throat_area"),
    ("net throat area", Kind.AREA, "throat_area_less_stem"),
    ("short side area", Kind.AREA, "ssr_area"),
    ("pinch area", Kind.AREA, "pinch_area"),
    ("opening area", Kind.AREA, "opening_area"),
    ("hours difference", Kind.TIME, "difference"),
)

_IMPLIED = (
    ("percent_of_range", Meaning("percent", Kind.RATIO, "%")),
    ("rpm", Meaning("engine speed", Kind.TURNING_SPEED, "rpm")),
)


def _build() -> dict[str, tuple[Meaning, ...]]:
    table: dict[str, tuple[Meaning, ...]] = {}

    def add(headings: str, meaning: Meaning) -> None:
        for heading in dict.fromkeys([meaning.field.replace(" ", "_"), *headings.split()]):
            table[heading] = (*table.get(heading, ()), meaning)

    for name, kind, headings in _NUMBERS:
        add(headings, Meaning(name, kind))
    for name, headings in _TEXTS:
        add(headings, Meaning(name))
    for name, kind_or_none, headings in _DERIVED:
        add(headings, Meaning(name, kind_or_none, derived=True))
    for heading, meaning in _IMPLIED:
        add(heading, meaning)
    return table


HEADINGS: dict[str, tuple[Meaning, ...]] = _build()
"""Heading without unit, lower case with underscores, to what it can mean; the unit decides."""

STATES = {
    "as_received": "as received",
    "finished": "finished",
    "before": "before",
    "after": "after",
    "after_seats_and_deshroud": "after seats and deshroud",
    "delivered": "delivered",
}
"""Endings of a heading that say when the value was taken."""

SIDES = {
    "int": "intake",
    "intake": "intake",
    "inlet": "intake",
    "exh": "exhaust",
    "exhaust": "exhaust",
}
"""Beginnings of a heading that say which valve it belongs to."""
