"""Commands as a person types them."""

from __future__ import annotations

import json
import math
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from portwright.cli.exit_codes import ExitCode


def portwright(
    *arguments: str, home: Path, shop: Path | None = None
) -> subprocess.CompletedProcess[str]:
    environment = {k: v for k, v in os.environ.items() if k != "PORTWRIGHT_SHOP"}
    environment |= {"HOME": str(home), "USERPROFILE": str(home), "PYTHONIOENCODING": "utf-8"}
    if shop:
        environment["PORTWRIGHT_SHOP"] = str(shop)
    return subprocess.run(
        [sys.executable, "-W", "error", "-m", "portwright.cli.main", *arguments],
        capture_output=True,
        text=True,
        encoding="utf-8",
        env=environment,
        cwd=home,
        check=False,
    )


def as_json(done: subprocess.CompletedProcess[str]) -> Any:
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_demo_makes_the_shop_and_tells_its_story(tmp_path: Path) -> None:
    first = portwright("demo", home=tmp_path)
    assert first.returncode == 0, first.stderr
    assert "can't tell" in first.stdout
    assert "a real loss" in first.stdout
    assert (tmp_path / "Portwright" / "demo.shop").is_file()
    assert portwright("demo", home=tmp_path).stdout == first.stdout


def test_air_gives_density_and_says_when_it_is_outside_the_range(tmp_path: Path) -> None:
    usual = as_json(
        portwright(
            "air",
            "--pressure",
            "101325 Pa",
            "--temperature",
            "20 degC",
            "--humidity",
            "50 %",
            "--json",
            home=tmp_path,
        )
    )
    # CIPM-2007, computed for 101325 Pa, 20 degC, 50 %: 1.199313895 kg/m3
    assert usual["density_kg_m3"] == pytest.approx(1.199313895, abs=1e-9)
    assert usual["findings"] == []
    hot = as_json(portwright("air", "--temperature", "95 degF", "--json", home=tmp_path))
    assert [f["code"] for f in hot["findings"]] == ["air-outside-range"]


def test_compare_gives_gain_interval_and_verdict(tmp_path: Path, demo_path: Path) -> None:
    asked = ("compare", "R101", "R104", "--coefficients", "--json")
    result = as_json(portwright(*asked, home=tmp_path, shop=demo_path))
    at, sides = result["lifts"][3], result["coefficients"]
    for side in ("before", "after"):
        found, diameter = sides[side]["lifts"][3], sides[side]["valve_diameter_mm"]
        disc = 0.25 * math.pi * diameter**2
        area, lift = at[f"{side}_area_mm2"], at["lift_mm"]
        # coefficients are printed to 1e-4, the flow to 0.01 cfm
        assert found["on_curtain"] == pytest.approx(area / (math.pi * diameter * lift), abs=2e-4)
        assert found["on_valve_disc"] == pytest.approx(area / disc, abs=2e-4)
        assert found["lift_over_diameter"] == pytest.approx(lift / diameter, abs=1e-4)
        per_inch = at[f"{side}_cfm"] * 645.16 / disc  # 645.16 mm2 in a square inch
        assert found["cfm_per_in2_of_valve"] == pytest.approx(per_inch, abs=0.02)
        assert found["on_minimum_area"] > found["on_curtain"]
    assert {"gain_pct", "interval_pct", "verdict"} <= set(result["lifts"][0])
    assert {"gain_pct", "interval_pct", "verdict"} <= set(result["bands"][0])
    assert all(g["verdict"] == "real" for g in result["bands"])
    for g in result["lifts"]:
        assert g["interval_pct"][0] < g["gain_pct"] < g["interval_pct"][1]
        if g["verdict"] == "real":
            assert g["interval_pct"][0] > 0.0 or g["interval_pct"][1] < 0.0


def test_stages_compare_by_port_and_stage(tmp_path: Path, demo_path: Path) -> None:
    by_stage = as_json(
        portwright(
            "compare",
            "I1:S6",
            "I1:S7",
            "--job",
            "TH-26-041",
            "--json",
            home=tmp_path,
            shop=demo_path,
        )
    )
    assert {g["verdict"] for g in by_stage["bands"]} == {"can't tell"}


def test_single_sweeps_compare_with_wider_intervals(tmp_path: Path, demo_path: Path) -> None:
    both = [
        as_json(
            portwright("compare", "R104", "R108", *more, "--json", home=tmp_path, shop=demo_path)
        )
        for more in ((), ("--single",))
    ]
    width = [r["bands"][0]["interval_pct"][1] - r["bands"][0]["interval_pct"][0] for r in both]
    assert width[1] > width[0]
    assert both[1]["before"]["runs"] == ["R104"]


def test_findings_of_a_run_name_cause_place_and_what_to_do(tmp_path: Path, demo_path: Path) -> None:
    found = as_json(portwright("findings", "R107", "--json", home=tmp_path, shop=demo_path))
    offset = next(f for f in found if f["code"] == "lift-zero-offset")
    assert offset["where"]["run"] == "R107"
    assert offset["where"]["stage"] == "S2"
    assert offset["message"]
    assert offset["hint"]
    job = as_json(portwright("findings", "TH-26-041", "--json", home=tmp_path, shop=demo_path))
    assert {f["where"]["job"] for f in job} == {"TH-26-041"}


def test_import_previews_then_stores_then_skips(tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.csv"
    sheet.write_text(
        "lift_in;flow_cfm;test_pressure_inH2O\n0,100;38,5;28\n0,200;abc;28\n0,300;101,5;28\n",
        encoding="utf-8",
    )
    shop = tmp_path / "my.shop"
    options = [
        "--job",
        "J1",
        "--bench",
        "B",
        "--port",
        "I1",
        "--stage",
        "S0",
        "--date",
        "2026-01-02",
    ]
    preview = portwright("import", str(sheet), *options, "--preview", home=tmp_path, shop=shop)
    assert "row 3 not read" in preview.stdout
    stored = as_json(portwright("import", str(sheet), *options, "--json", home=tmp_path, shop=shop))
    assert stored[0]["added"]["run"] == 1
    assert stored[0]["refused"][0]["row"] == 3
    again = as_json(portwright("import", str(sheet), *options, "--json", home=tmp_path, shop=shop))
    assert again[0]["added"] == {}
    assert again[0]["already_there"]["run"] == 1


def test_reduce_shows_effective_area_without_a_shop(tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.csv"
    sheet.write_text("port,lift_mm,flow_cfm_28\nI1,5,73.55\nI1,10,147.1\n", encoding="utf-8")
    result = as_json(portwright("reduce", str(sheet), "--json", home=tmp_path))
    areas = [r["effective_area_mm2"] for r in result["runs"][0]["rows"]]
    # 147.1 cfm at 28 inH2O is one square inch; the figure has four digits
    assert areas == pytest.approx([322.58, 645.16], rel=5e-4)


def test_report_export_and_backup_leave_files(tmp_path: Path, demo_path: Path) -> None:
    pdf = tmp_path / "out" / "report.pdf"
    done = portwright("report", "TH-26-041", "--out", str(pdf), home=tmp_path, shop=demo_path)
    assert done.returncode == 0, done.stderr
    assert pdf.read_bytes().startswith(b"%PDF")
    exported = tmp_path / "all.zip"
    assert portwright("export", str(exported), home=tmp_path, shop=demo_path).returncode == 0
    other = tmp_path / "other.shop"
    back = as_json(portwright("import", str(exported), "--json", home=tmp_path, shop=other))
    assert back[0]["added"]["run"] == 78
    assert back[0]["conflicts"] == []
    copy = as_json(
        portwright("backup", "--to", str(tmp_path), "--json", home=tmp_path, shop=demo_path)
    )
    assert Path(copy["path"]).stat().st_size == copy["size"]


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (["compare", "R101", "nothing"], ExitCode.NOT_FOUND),
        (["findings", "nothing"], ExitCode.NOT_FOUND),
        (["air", "--pressure", "1,013 bar"], ExitCode.INPUT),
        (["import", "missing.csv"], ExitCode.FILE),
        (["compare"], ExitCode.USAGE),
        (["compare", "R101", "R104", "--shop", "missing.shop"], ExitCode.NOT_FOUND),
    ],
)
def test_errors_end_with_their_code_and_say_what_to_do(
    tmp_path: Path, demo_path: Path, arguments: list[str], code: ExitCode
) -> None:
    done = portwright(*arguments, home=tmp_path, shop=demo_path)
    assert done.returncode == code
    assert "Traceback" not in done.stderr
    assert done.stderr.strip()


def test_help_names_every_command(tmp_path: Path) -> None:
    text = portwright("--help", home=tmp_path).stdout
    for command in ("demo", "import", "export", "air", "reduce", "compare", "findings", "report"):
        assert command in text
