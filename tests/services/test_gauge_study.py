"""The shop's own gauge study: one reading at a time, the published example comes back."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from portwright.archive.archive import Archive
from portwright.cli.main import app
from portwright.errors import InputError, PortwrightError
from portwright.services.gauge_study import Study, begin, note, studies, take_back, turns

# AIAG example, see tests/published/test_gauge_rr.py; every value is moved up by 10 because a flow
# is above zero, which changes no deviation.
EXAMPLE = Path(__file__).parents[1] / "published" / "data" / "aiag_grr.csv"
VALUES = {
    (row["appraiser"], row["part"], int(row["trial"])): float(row["value"]) + 10.0
    for row in csv.DictReader(EXAMPLE.read_text(encoding="utf-8").splitlines())
}


def begun(archive: Archive) -> Study:
    return begin(
        archive,
        "B2",
        what="intake flow at 8 mm",
        unit="cfm",
        persons="A, B; C",
        ports=", ".join(str(n) for n in range(1, 11)),
        times="3",
    )


def test_the_published_example_comes_back_reading_by_reading(demo_path: Path) -> None:
    with Archive.open(demo_path) as archive:
        study = begun(archive)
        asked = set()
        while study.turn is not None:
            turn = study.turn
            asked.add((turn.person, turn.port, turn.time))
            assert study.result() is None
            # six digits keep the deviations to the last printed one
            value = f"{VALUES[turn.person, turn.port, turn.time]:.6f}"
            study = note(archive, "B2", value, turn.number)
        assert asked == set(VALUES)
        (kept,) = studies(archive, "B2")
        result = kept.result()
        assert result is not None
        # half a unit of the last printed digit of the analysis of variance
        assert result.repeatability == pytest.approx(0.199933, abs=5e-7)
        assert result.persons == pytest.approx(0.226838, abs=5e-7)
        assert result.bench == pytest.approx(0.302372, abs=5e-7)
        assert result.sentence().startswith("Usable")
        assert "persons differ more" in result.advice()


def test_a_reading_sent_twice_counts_once_and_the_last_one_can_be_taken_back(
    demo_path: Path,
) -> None:
    with Archive.open(demo_path) as archive:
        begun(archive)
        note(archive, "B2", "101", 1)
        assert note(archive, "B2", "101", 1).values == ("101",)
        assert note(archive, "B2", "48 L/s", 2).values == ("101", "48 L/s")
        assert take_back(archive, "B2").values == ("101",)
        with pytest.raises(PortwrightError):
            note(archive, "B2", "much", 2)
        with pytest.raises(InputError, match="above zero"):
            note(archive, "B2", "0", 2)
        # another plan leaves the one that has readings among the kept ones
        begun(archive)
        assert [len(s.values) for s in studies(archive, "B2")] == [0, 1]
        with pytest.raises(InputError, match="Nothing was read"):
            take_back(archive, "B2")


def test_everybody_reads_every_port_in_a_mixed_order_that_stays(demo_path: Path) -> None:
    with Archive.open(demo_path) as archive:
        plan = begun(archive).plan
        order = turns(plan)
        assert order == turns(studies(archive, "B2")[0].plan)
        assert len({(t.person, t.port, t.time) for t in order}) == plan.count == 90
        first, second = ([t.port for t in order[k : k + 10]] for k in (0, 10))
        assert first != second


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"persons": "A"}, "two persons"),
        ({"ports": "I1"}, "two ports"),
        ({"times": "1"}, "twice or more"),
        ({"what": " "}, "What is read"),
        ({"ports": ", ".join(map(str, range(40)))}, "the most"),
    ],
)
def test_a_plan_that_cannot_work_is_refused(
    demo_archive: Archive, changed: dict[str, str], said: str
) -> None:
    plan = {"what": "flow", "unit": "cfm", "persons": "A, B", "ports": "I1, I2", "times": "2"}
    with pytest.raises(InputError, match=said):
        begin(demo_archive, "B2", **(plan | changed))


def test_the_command_reads_the_same_from_a_table(tmp_path: Path) -> None:
    args = [str(EXAMPLE), "--value", "value", "--group", "part", "--person", "appraiser"]
    said = CliRunner().invoke(app, ["repeatability", *args])
    assert "28 % of the whole spread" in said.output  # COMPUTED: 0.302372 of 1.0849
    found = json.loads(CliRunner().invoke(app, ["repeatability", *args, "--json"]).output)
    assert found["categories"] == 4
    gap = tmp_path / "gap.csv"
    lines = EXAMPLE.read_text(encoding="utf-8").splitlines()
    gap.write_text("\n".join(lines[:-1]), encoding="utf-8")
    refused = CliRunner().invoke(app, ["repeatability", str(gap), *args[1:]])
    assert "equally often" in str(refused.exception)
