"""Headings are understood from a closed list, and a unit is never guessed."""

from __future__ import annotations

import pytest

from portwright.errors import UnknownNameError
from portwright.io.columns import Use, known_fields, understand_columns

HEADINGS = [
    ("lift_mm", "lift [mm]"),
    ("lift_in", "lift [in]"),
    ("Lift (mm)", "lift [mm]"),
    ("Valve lift [thou]", "lift [thou]"),
    ("Valve lift, in", "lift [in]"),
    ("flow_cfm_28", "flow [cfm] at 28 inH2O"),
    ("flow_cfm", "flow [cfm]"),
    ("flow_l_s", "flow [L/s]"),
    ("Flow (L/s)", "flow [L/s]"),
    ("Flow [cfm @ 28 inH2O]", "flow [cfm] at 28 inH2O"),
    ("Flow (cfm at 10)", "flow [cfm] at 10 inH2O"),
    ("percent_of_range", "percent [%]"),
    ("range_no", "range number"),
    ("range_full_scale_cfm_10", "range full scale [cfm] at 10 inH2O"),
    ("test_pressure_inH2O", "test pressure [inH2O]"),
    ("Depression (kPa)", "test pressure [kPa]"),
    ("air_temp_C", "air temperature [degC]"),
    ("Air temp (°F)", "air temperature [degF]"),
    ("baro_kPa", "barometer [kPa]"),
    ("rh_pct", "humidity [%]"),
    ("leak_check_cfm", "leak [cfm]"),
    ("gauge_zero_inH2O", "test pressure zero [inH2O]"),
    ("flutter_pct", "scatter [%]"),
    ("throat_mm", "throat diameter [mm]"),
    ("int_seat_sink_before_mm", "intake seat sink before [mm]"),
    ("chamber_cc_after_seats_and_deshroud", "chamber volume after seats and deshroud [cc]"),
    ("velocity_m_s", "local velocity [m/s]"),
    ("velocity_ft_s", "local velocity [ft/s]"),
    ("measured_mm", "measured [mm]"),
    ("measured_cfm_28", "measured flow [cfm] at 28 inH2O"),
    ("article", "port"),
]


@pytest.mark.parametrize(("heading", "meaning"), HEADINGS)
def test_known_headings(heading: str, meaning: str) -> None:
    (column,) = understand_columns((heading,))
    assert column.use is Use.READ
    assert column.understood_as == meaning


@pytest.mark.parametrize(
    "heading",
    ["L_over_D", "effective_area_mm2", "throat_pct_of_valve", "ssr_area_mm2", "error_pct",
     "flow_cfm_28_by_square_root", "throat_area_less_stem_mm2"],
)  # fmt: skip
def test_worked_out_columns_are_recognised_and_not_read(heading: str) -> None:
    assert understand_columns((heading,))[0].use is Use.DERIVED


@pytest.mark.parametrize(
    ("heading", "example"),
    [
        ("Lift", "lift [mm]"),
        ("flow", "flow [cfm]"),
        ("Flow 28", "flow [cfm]"),
        ("depression", "test pressure [inH2O]"),
        ("throat", "throat diameter [mm]"),
    ],
)
def test_a_heading_without_unit_is_not_guessed(heading: str, example: str) -> None:
    (column,) = understand_columns((heading,))
    assert column.use is Use.NEEDS_UNIT
    assert column.unit == ""
    assert f"'{example}'" in column.reason


@pytest.mark.parametrize(
    ("heading", "meaning"),
    [
        ("cfm", "flow [cfm]"),
        ("L/s", "flow [L/s]"),
        ("CFM @ 28", "flow [cfm] at 28 inH2O"),
        ("cfm at 10 in H2O", "flow [cfm] at 10 inH2O"),
    ],
)
def test_a_unit_that_only_flow_has_is_a_flow(heading: str, meaning: str) -> None:
    (column,) = understand_columns((heading,))
    assert column.use is Use.READ
    assert column.understood_as == meaning


@pytest.mark.parametrize("heading", ["", "colour", "lift_kPa", "flow_mm", "mm", "lift_furlong"])
def test_other_headings_are_not_known(heading: str) -> None:
    assert understand_columns((heading,))[0].use is Use.UNKNOWN


def test_a_mapping_supplies_unit_meaning_or_silence() -> None:
    headers = ("Lift", "Hub", "Durchfluss (L/s)", "secret", "lift_in")
    mapping = {
        "Lift": "lift [mm]",
        "Hub": "intake lift [mm]",
        "Durchfluss (L/s)": "flow",
        "secret": "ignore",
        "lift_in": "ignore",
    }
    columns = understand_columns(headers, mapping)
    assert [c.understood_as for c in columns[:3]] == ["lift [mm]", "intake lift [mm]", "flow [L/s]"]
    assert [c.use for c in columns[3:]] == [Use.IGNORED, Use.IGNORED]
    assert [c.heading for c in columns] == list(headers)


def test_a_mapping_to_nothing_known_is_refused() -> None:
    with pytest.raises(UnknownNameError, match="lift"):
        understand_columns(("Hub",), {"Hub": "lifft [mm]"})
    with pytest.raises(UnknownNameError, match="Lift"):
        understand_columns(("Lift",), {"Lyft": "lift [mm]"})
    assert {"lift", "flow", "throat diameter", "ignore"} <= set(known_fields())


def test_second_column_of_the_same_meaning_is_not_read() -> None:
    first, second = understand_columns(("lift_mm", "lift_in"))
    assert (first.use, second.use) == (Use.READ, Use.REPEATED)
    assert "lift" in second.reason
