"""Analysis of variance of any table: which columns, what is refused, the command."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from portwright.cli.main import app
from portwright.errors import InputError, ShapeError, UnknownNameError
from portwright.services.study import repeatability_of_file

LONG = "port,flow\nA,10.1\nA,10.2\nA,10.0\nB,11.0\nB,11.2\nB,10.9\n"


def written(path: Path, text: str) -> Path:
    path.write_text(text, encoding="utf-8")
    return path


def test_long_and_wide_tables_give_the_same(tmp_path: Path) -> None:
    long = repeatability_of_file(written(tmp_path / "long.csv", LONG))
    wide = repeatability_of_file(
        written(tmp_path / "wide.csv", "A,B\n10.1,11.0\n10.2,11.2\n10.0,10.9\n")
    )
    assert long.anova == wide.anova
    assert (long.group, wide.group) == ("port", "columns")
    # by hand: means 10.1 and 11.0333, squares within 0.02 + 0.046667 over 4
    assert long.anova.within_deviation == pytest.approx((0.066666667 / 4) ** 0.5, rel=1e-8)
    assert long.anova.between_square == pytest.approx(1.3066666667, rel=1e-9)


def test_numbers_as_group_names(tmp_path: Path) -> None:
    rows = "instrument,resistance\n1,5.0\n1,5.2\n2,6.0\n2,6.1\n"
    found = repeatability_of_file(written(tmp_path / "plain.csv", rows))
    assert (found.values, found.groups) == (4, 2)
    assert found.means == pytest.approx({"1": 5.1, "2": 6.05})


def test_columns_are_named_where_there_are_several(tmp_path: Path) -> None:
    path = written(tmp_path / "more.csv", "day,who,flow\n1,x,10\n1,y,11\n2,x,12\n2,y,14\n")
    with pytest.raises(InputError, match="not clear"):
        repeatability_of_file(path)
    by_person = repeatability_of_file(path, value="flow", group="who")
    assert by_person.means == {"x": 11.0, "y": 12.5}
    with pytest.raises(UnknownNameError, match="flow"):
        repeatability_of_file(path, value="floww")


def test_text_among_values_is_said_and_nothing_repeated_is_refused(tmp_path: Path) -> None:
    found = repeatability_of_file(
        written(tmp_path / "x.csv", LONG + "B,spoilt\n"), value="flow", group="port"
    )
    assert found.values == 6
    assert found.findings[0].code == "value-not-a-number"
    with pytest.raises(ShapeError, match="one repeat"):
        repeatability_of_file(written(tmp_path / "y.csv", "port,flow\nA,1\nB,2\n"))


def test_the_command(tmp_path: Path) -> None:
    path = str(written(tmp_path / "a.csv", LONG))
    known = json.loads(CliRunner().invoke(app, ["repeatability", path, "--json"]).output)
    assert known["within_degrees_of_freedom"] == 4
    assert known["F"] == pytest.approx(78.4)
    plain = CliRunner().invoke(app, ["repeatability", path]).output
    assert "differ really" in plain
