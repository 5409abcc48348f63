"""The demo's two benches: their difference comes back, and the 2014 sheet can be compared."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from portwright.archive.archive import Archive
from portwright.cli.main import app
from portwright.core.comparison import Verdict
from portwright.core.translation import relate_benches
from portwright.errors import InputError
from portwright.model.head import Side
from portwright.services.display import Display
from portwright.services.set_ups import SetUp, differences, total
from portwright.services.translate import (
    BenchTranslation,
    compare_names_translated,
    learn_translation,
    translate,
)
from portwright.services.translate_wording import best_lift, reads_there


@pytest.fixture(scope="module")
def benches(demo_archive: Archive) -> BenchTranslation:
    return learn_translation(demo_archive, "B1", "B2")


def test_every_plate_lies_in_the_interval_learned_without_it(benches: BenchTranslation) -> None:
    points = benches.tests.points
    for number, article in enumerate(benches.tests.articles):
        rest = points.article != number
        parts = replace(
            points,
            log_here=points.log_here[rest],
            log_there=points.log_there[rest],
            covariance_here=points.covariance_here[np.ix_(rest, rest)],
            covariance_there=points.covariance_there[np.ix_(rest, rest)],
            article=points.article[rest],
            head=points.head[rest],
            added=points.added[rest],
        )
        relation = relate_benches(parts)
        here = np.log(article.here)
        predicted = relation.predict(here, np.diag(article.deviation**2))
        low, high = predicted.interval()
        off = np.log(article.there) - predicted.log_area
        assert np.all((off > low) & (off < high)), article.name


def test_the_difference_grows_with_flow(benches: BenchTranslation) -> None:
    # plates of the sheet: 2.6 to 3 % low at 17 cfm, 4 to 5 % low at 156 cfm
    assert benches.relation.slope > 1.0
    small, large = np.log(np.array([benches.relation.low, benches.relation.high]))
    ratio = benches.relation.predict(np.array([small, large])).log_area - [small, large]
    assert 0.015 < ratio[0] < ratio[1] < 0.055


def test_2014_against_as_received_cannot_be_told_apart_at_the_top(demo_archive: Archive) -> None:
    found = compare_names_translated(demo_archive, "TH-14-019/I1:S0", "TH-26-041/I1:S0")
    assert found.before.bench == "B1"
    assert found.after.bench == "B2"
    assert found.result.bands[-1].gain.verdict is Verdict.CANT_TELL
    assert all(b.gain.verdict is not Verdict.REAL for b in found.result.bands)
    assert {"translated", "set-up-differs"} <= {f.code for f in found.findings}


def test_a_sentence_a_customer_understands(demo_archive: Archive) -> None:
    found = translate(demo_archive, "TH-14-019/I1:S0", "B2")
    said = reads_there(found, best_lift(found), 6974.49, Display())
    assert said == (
        "At 11.43 mm it reads 122 cfm on B1, would read about 127 on B2, plus or minus 3."
    )


def test_one_sweep_there_scatters_more_than_the_truth_there(demo_archive: Archive) -> None:
    found = translate(demo_archive, "TH-14-019/I1:S0", "B2")
    assert np.all(found.sweep_high - found.sweep_low > found.high - found.low)


def test_flows_never_tested_on_both_are_refused(demo_archive: Archive) -> None:
    found = translate(demo_archive, "TH-26-041/I1:S7", "B1")
    assert not found.covered[-1]
    assert np.isnan(found.there[-1])
    assert "not-translated" in {f.code for f in found.findings}


def test_exhaust_counts_the_stub_that_only_one_bench_had(demo_archive: Archive) -> None:
    found = learn_translation(demo_archive, "B1", "B2", Side.EXHAUST)
    said = [f.message for f in found.findings if f.code == "set-up-differs"]
    assert said
    assert "exhaust stub 'none' on one bench" in said[0]


def test_a_set_up_that_differs_adds_uncertainty() -> None:
    usual = SetUp("90 mm", "printed radius plate", "none", "bare port", 6974.0)
    assert differences(replace(usual, bore_adapter="89.0 mm"), usual, Side.INTAKE) == ()
    other = differences(replace(usual, bore_adapter="83 mm"), usual, Side.INTAKE)
    assert total(other) == pytest.approx(0.01)
    bare = differences(replace(usual, inlet_aid=""), usual, Side.INTAKE)
    assert "not recorded" in bare[0].text
    assert total(bare) == pytest.approx(0.03)
    assert differences(replace(usual, inlet_aid="clay"), usual, Side.EXHAUST) == ()


def test_benches_that_cannot_be_related(demo_archive: Archive) -> None:
    with pytest.raises(InputError, match="no bench B9"):
        learn_translation(demo_archive, "B1", "B9")
    with pytest.raises(InputError, match="two different"):
        learn_translation(demo_archive, "B1", "B1")


def test_the_command_gives_both_forms(demo_path: Path) -> None:
    arguments = ["translate", "TH-14-019/I1:S0", "--to", "B2", "--shop", str(demo_path)]
    plain = CliRunner().invoke(app, [*arguments, "--against", "TH-26-041/I1:S0"])
    assert plain.exit_code == 0, plain.output
    assert "would read about 127 on B2" in plain.output
    assert "can't tell" in plain.output
    known = json.loads(CliRunner().invoke(app, [*arguments, "--json"]).output)
    assert known["heads"] == 2
    assert known["lifts"][-1]["translated"] is True
