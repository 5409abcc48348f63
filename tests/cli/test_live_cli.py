"""Instruments, practice bench and replay at the command line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from portwright.cli.main import app
from portwright.errors import NotFoundError, UnknownNameError
from portwright.io.instruments.reader import Line
from portwright.services import instruments, live_trace
from portwright.services.demo import DEMO_JOB, create_demo

CLI = CliRunner()


def test_instruments_are_kept_listed_and_taken_out(tmp_path: Path) -> None:
    shop = ["--shop", str(tmp_path / "a.shop")]
    file = tmp_path / "gauge.toml"
    shown = CLI.invoke(app, ["instruments", "example", "pressure_gauge"])
    file.write_text(shown.output, encoding="utf-8")
    assert "is kept" in CLI.invoke(app, ["instruments", "keep", str(file), *shop]).output
    listed = CLI.invoke(app, ["instruments", "list", "--json", *shop])
    assert json.loads(listed.output)["instruments"][0]["name"] == "Test-pressure gauge"
    assert "COM3" in CLI.invoke(app, ["instruments", "list", *shop]).output
    CLI.invoke(app, ["instruments", "forget", "Test-pressure gauge", *shop])
    assert "No instrument" in CLI.invoke(app, ["instruments", "list", *shop]).output


def test_the_practice_bench_says_where_it_is(tmp_path: Path) -> None:
    told = CLI.invoke(
        app, ["practice-bench", "--json", "--seconds", "0.2", "--tcp-port", "0"], input="on\n"
    )
    found = json.loads(told.output[: told.output.rindex("}") + 1])
    assert found["tcp_port"] > 0
    assert "Practice bench" in found["description"]
    wrong = CLI.invoke(app, ["practice-bench", "--habits", "wild"])
    assert isinstance(wrong.exception, UnknownNameError)


@pytest.fixture
def traced(tmp_path: Path) -> tuple[list[str], str]:
    """A run with a few raw lines kept."""
    path = tmp_path / "demo.shop"
    with create_demo(path) as shop:
        run = shop.job(DEMO_JOB).runs[0]
        header = {
            "instruments": [instruments.example("practice")],
            "zero": {},
            "lifts": [["1", "mm"]],
            "session": "s",
        }
        lines = [Line(1.0 + k, "Practice bench", f"{k},0,0,0,0,0") for k in range(3)]
        data = live_trace.pack(header, lines)
        live_trace.store(shop, (run.job, run.port, run.stage), run.code, 1, data, "")
    return ["--shop", str(path)], run.code


def test_a_trace_is_replayed_and_written_out(traced: tuple[list[str], str], tmp_path: Path) -> None:
    shop, run = traced
    out = tmp_path / "lines.jsonl"
    said = CLI.invoke(app, ["replay", run, "--settle", "fixed-3s", "--export", str(out), *shop])
    assert "takes nothing at" in said.output
    assert "3 lines are in" in said.output
    back = live_trace.from_text(out.read_text(encoding="utf-8"))
    assert back[0].lines == 3
    as_json = CLI.invoke(app, ["replay", run, "--json", *shop])
    assert json.loads(as_json.output)["lines"] == 3
    by_hand = CLI.invoke(app, ["replay", "R102", *shop])
    assert isinstance(by_hand.exception, NotFoundError)
