"""Engine commands as a person types them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from portwright.cli.exit_codes import ExitCode
from tests.cli.test_cli import as_json, portwright

JOB = "TH-26-041"


def test_quick_answers_as_json(tmp_path: Path, demo_path: Path) -> None:
    done = portwright(
        "engine", "quick", JOB, "--stage", "S0", "--rpm", "4000:7000:1500", "--limit", "110 m/s",
        "--json", home=tmp_path, shop=demo_path,
    )  # fmt: skip
    q = as_json(done)
    assert q["rpm"] == [4000.0, 5500.0, 7000.0]
    assert q["smallest_section"] == "short-side apex"
    assert q["velocity_limit_m_s"] == 110.0
    low, high = q["peak_power_rpm"]["range"]
    assert low < q["peak_power_rpm"]["value"] < high
    assert "definition" in q["mean_inlet_mach"]
    assert q["ram"]["constant"] == [2.0, 2.5]
    assert "runner_length" in q["assumed"]
    # at the limit the mean velocity in the smallest section is the limit, by definition
    apex = next(s for s in q["sections"] if s["name"] == "short-side apex")
    at_7000 = apex["mean_velocity_m_s"][2]
    assert at_7000 / 7000.0 == pytest.approx(110.0 / apex["limit_reached_rpm"], rel=1e-3)


def test_set_and_show_keep_what_was_typed(tmp_path: Path, demo_path: Path) -> None:
    done = portwright(
        "engine", "set", JOB, "primary_length", "30 in", home=tmp_path, shop=demo_path
    )
    assert done.returncode == 0, done.stderr
    shown = as_json(portwright("engine", "show", JOB, "--json", home=tmp_path, shop=demo_path))
    value = shown["values"]["primary_length"]
    assert (value["text"], value["unit"], value["source"]) == ("30", "in", "job sheet")
    assert "primary_length" not in shown["assumed"]
    wrong = portwright("engine", "set", JOB, "bohre", "90 mm", home=tmp_path, shop=demo_path)
    assert wrong.returncode == ExitCode.NOT_FOUND
    assert "bore" in wrong.stderr


def test_tube_runs_the_solver_on_a_shock_tube(tmp_path: Path) -> None:
    arguments = (
        "tube", "--left", "1,0,1", "--right", "0.125,0,0.1", "--gamma", "1.4", "--cells", "100",
        "--time", "0.25", "--json",
    )  # fmt: skip
    sod = as_json(portwright(*arguments, home=tmp_path))
    assert len(sod["x"]) == len(sod["density"]) == len(sod["velocity"]) == 100
    # exact pressure and velocity between the waves; 1 % for 100 cells
    assert sod["pressure"][62] == pytest.approx(0.30313, rel=0.01)
    assert sod["velocity"][62] == pytest.approx(0.92745, rel=0.01)
    assert sod["summary"]["time"] == pytest.approx(0.25, rel=1e-12)
    assert sod["summary"]["mass"] == pytest.approx(0.5625, rel=1e-12)
    bad = portwright("tube", "--left", "1,0", "--right", "1,0,1", home=tmp_path)
    assert bad.returncode == ExitCode.INPUT
    assert "density,velocity,pressure" in bad.stderr


def test_run_gives_curves_ranges_and_the_choking_section(tmp_path: Path, demo_path: Path) -> None:
    done = portwright(
        "engine", "run", JOB, "--before", "S0", "--after", "S7", "--rpm", "5500;7000",
        "--samples", "0", "--workers", "1", "--keep", "--json", home=tmp_path, shop=demo_path,
    )  # fmt: skip
    result = as_json(done)
    assert result["rpm"] == [5500.0, 7000.0]
    for head in (result["before"], result["after"]):
        low, high = head["torque_range_nm"]
        assert low[0] < head["torque_nm"][0] < high[0]
    low, high = result["difference"]["range_pct"]
    assert low[1] < result["difference"]["torque_pct"][1] < high[1]
    assert result["difference"]["sampled_half_width_pct"] == [None, None]
    assert result["before"]["choking_section"] == "short-side apex"
    assert result["before"]["chokes_from_rpm"] is None
    assert any("better known" in line for line in result["said"])
    assert "primary_length" in result["assumed"]
    asked = portwright("engine", "kept", JOB, "--json", home=tmp_path, shop=demo_path)
    kept = as_json(asked)
    assert (kept["counts"], kept["out_of_date"]) == (result["kept"], False)
    assert kept["runs"][0]["method"].startswith("gas-exchange-")


def test_dyno_sensitivity_and_ports_as_json(tmp_path: Path, demo_path: Path) -> None:
    def ask(*arguments: str) -> Any:
        common = ("--workers", "1", "--json")
        return as_json(portwright("engine", *arguments, *common, home=tmp_path, shop=demo_path))

    dyno = ask("dyno", JOB, "--standard", "ISO 1585", "--samples", "0", "--keep")
    assert dyno["invented"] is True
    assert dyno["counts"] is False
    assert "validate nothing" in str(dyno["said"])
    assert "no hit rate" in str(dyno["said"])
    small = ask("sensitivity", JOB, "--rpm", "7000")
    assert len(small["effects"]) == 7
    spread = ask("ports", JOB, "--rpm", "7000")
    assert len(spread["ports"]) == 6
    missing = portwright(
        "engine", "dyno", "REF-1", "--standard", "ISO 1585", home=tmp_path, shop=demo_path
    )
    assert missing.returncode == ExitCode.INPUT


def test_sweep_and_search_as_json(tmp_path: Path, demo_path: Path) -> None:
    copy = tmp_path / "copy.shop"
    copy.write_bytes(demo_path.read_bytes())
    common = (JOB, "--vary", "lift=0:1:0.5 mm", "--rpm", "6500", "--workers", "1", "--json")
    swept = as_json(portwright("engine", "sweep", *common, home=tmp_path, shop=copy))
    assert swept["known_before"] == 0
    assert [t["values"]["lift"] for t in swept["tried"]] == [1.0, 0.5, 0.0]
    gains = [t["gain_pct"] for t in swept["tried"]]
    assert gains == sorted(gains, reverse=True)
    assert gains[-1] == 0.0
    found = as_json(
        portwright("engine", "search", *common, "--tries", "10", home=tmp_path, shop=copy)
    )
    assert found["known_before"] == 3, "the search uses what the sweep found"
    assert found["tried"][0]["values"] == {"lift": 1.0}
    wrong = portwright("engine", "sweep", JOB, "--vary", "lfit=0:1", home=tmp_path, shop=copy)
    assert wrong.returncode == ExitCode.NOT_FOUND
    assert "lift" in wrong.stderr
