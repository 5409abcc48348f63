"""A port on its manifold: by hand, on the demo job, and at the command line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from portwright.cli.main import app
from portwright.core.manifold import Edge
from portwright.errors import RangeError, UnknownNameError
from portwright.model.contents import JobContents
from portwright.model.head import Port, Side
from portwright.model.job import Job
from portwright.services import shop_file
from portwright.services.demo import create_demo
from portwright.services.manifold_drawing import fit_drawing
from portwright.services.manifold_fit import manifold_fit, read_fit_numbers
from portwright.services.manifold_words import fit_parts, fit_pdf
from portwright.services.mounted import mounted_runs

JOB = "TH-26-041"
MM = 1e-3
SQUARES = [
    *(f"{part} {size}=30 mm" for part in ("opening", "runner") for size in ("width", "height")),
    "opening corner radius=0 mm",
    "runner corner radius=0 mm",
]
BARE = JobContents(Job("1"), ports=(Port("I1", Side.INTAKE), Port("E1", Side.EXHAUST)))


def test_the_flow_decides_which_edge_stands_in_it() -> None:
    """The runner 1 mm low: the head's floor stands 1 mm in the flow, the pipe's roof likewise."""
    given = read_fit_numbers([*SQUARES, "runner offset up=-1 mm"])
    intake = manifold_fit(BARE, "I1", given=given)
    assert intake.meeting is not None
    assert intake.meeting.facing.edge is Edge.FLOOR
    assert intake.meeting.facing.height == pytest.approx(1 * MM)
    exhaust = manifold_fit(BARE, "E1", given=given)
    assert exhaust.meeting is not None
    assert exhaust.meeting.facing.edge is Edge.ROOF  # the pipe's roof is the lower one
    assert [f.code for f in intake.findings] == ["step-in-flow"]
    assert "weld" not in fit_parts(BARE, intake)[0].lines[0]


def test_land_and_metal_limit_how_far_an_edge_moves() -> None:
    given = read_fit_numbers(
        ["land beyond roof=6 mm", "metal beyond roof=4,5 mm", "land beyond floor=3 mm"]
    )
    fit = manifold_fit(BARE, "I1", given=given)
    assert fit.meeting is None
    assert fit.rooms[Edge.ROOF].seal == pytest.approx(2 * MM)
    assert fit.rooms[Edge.ROOF].without_weld == pytest.approx(1.5 * MM)
    assert fit.rooms[Edge.FLOOR].seal == pytest.approx(-1 * MM)
    assert [f.code for f in fit.findings] == ["narrow-land"]
    rooms = next(p.grid for p in fit_parts(BARE, fit) if p.title == "How far an edge can move")
    assert rooms is not None
    assert rooms.rows[0][2] == "weld first beyond 1.50 mm"
    assert "already lacks 1.00 mm" in rooms.rows[1][1]
    assert rooms.rows[2][1] == "not measured"
    assert fit_drawing(fit) == ""


def test_a_gasket_in_the_flow_is_said() -> None:
    sizes = ["gasket opening width=29 mm", "gasket opening height=32 mm"]
    given = read_fit_numbers([*SQUARES, *sizes, "gasket opening corner radius=0 mm"])
    fit = manifold_fit(BARE, "I1", given=given)
    assert fit.gasket_in_flow == pytest.approx(0.5 * MM)
    assert "gasket-in-flow" in [f.code for f in fit.findings]
    wrong = read_fit_numbers([*SQUARES[:4], "opening corner radius=20 mm"])
    with pytest.raises(RangeError):
        manifold_fit(BARE, "I1", given=wrong)
    with pytest.raises(UnknownNameError):
        read_fit_numbers(["runer width=30 mm"])


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("manifold") / "demo.shop"
    create_demo(path).close()
    return path


def test_mounted_runs_of_the_demo_lose_flow(shop: Path) -> None:
    with shop_file.open_shop(shop) as opened:
        contents = opened.job(JOB)
        mounted = mounted_runs(opened, JOB, "I1")
        fit = manifold_fit(contents, "I1", given=read_fit_numbers(SQUARES[2:4]))
        assert fit_pdf(contents, fit, mounted).startswith(b"%PDF")
    assert [m.configuration.split()[0] for m in mounted] == ["manifold"] * 3
    assert all(m.comparison is not None for m in mounted)
    said = json.loads(
        CliRunner()
        .invoke(app, ["manifold", JOB, "I1", "--shop", str(shop), "--json", "--set", SQUARES[2]])
        .stdout
    )
    assert "real loss" in said["mounted"][1]["sentence"]
    assert said["meeting"] is None


@pytest.mark.parametrize("command", ["inspect", "seat", "room", "mill", "manifold", "springs"])
def test_every_sheet_is_written_from_the_command_line(
    shop: Path, tmp_path: Path, command: str
) -> None:
    out = tmp_path / f"{command}.pdf"
    done = CliRunner().invoke(app, [command, JOB, "--shop", str(shop), "--out", str(out), "--json"])
    assert done.exit_code == 0, done.output
    json.loads(done.stdout)  # nothing but JSON is printed
    assert out.read_bytes().startswith(b"%PDF")
