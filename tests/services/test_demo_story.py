"""What the program says about the fictional demo shop, whose truth nobody told it.

The demo was drawn with known work at every stage, so a person can say what each step should show:
seat work early in the lift, throat and short side late, a spoilt short side, a finish that does
nothing.  Figures are not checked here, only what is said.
"""

from __future__ import annotations

import pytest

from portwright.archive.archive import Archive
from portwright.core.comparison import Verdict
from portwright.services.demo import DEMO_JOB
from portwright.services.findings import CheckedJob, check_job
from portwright.services.overview import StageStory, stage_story


@pytest.fixture(scope="module")
def checked(demo_archive: Archive) -> CheckedJob:
    return check_job(demo_archive, DEMO_JOB)


@pytest.fixture(scope="module")
def story(demo_archive: Archive) -> StageStory:
    return stage_story(demo_archive, DEMO_JOB)


def verdicts(story: StageStory, after: str) -> list[tuple[Verdict, bool]]:
    step = next(s for s in story.steps if s.after == after)
    return [(b.gain.verdict, b.gain.gain > 0.0) for b in step.comparison.result.bands]


def test_new_seats_gain_at_every_lift(story: StageStory) -> None:
    assert verdicts(story, "S1") == [(Verdict.REAL, True)] * 3


def test_lower_short_side_is_a_real_loss_at_the_top_only(story: StageStory) -> None:
    low, middle, top = verdicts(story, "S3")
    assert top == (Verdict.REAL, False)
    assert low[0] is Verdict.CANT_TELL
    assert middle[0] is not Verdict.REAL


def test_widened_short_side_and_pinch_gain_at_the_top(story: StageStory) -> None:
    assert verdicts(story, "S4")[2] == (Verdict.REAL, True)
    assert verdicts(story, "S5")[2] == (Verdict.REAL, True)


def test_deshrouding_gains_in_the_middle(story: StageStory) -> None:
    assert verdicts(story, "S6")[1] == (Verdict.REAL, True)


def test_a_finish_that_does_nothing_cannot_be_told_from_before(story: StageStory) -> None:
    assert [v for v, _ in verdicts(story, "S7")] == [Verdict.CANT_TELL] * 3
    assert "can't tell" in next(s.sentence for s in story.steps if s.after == "S7")


@pytest.mark.parametrize(
    ("run", "code"),
    [("R107", "lift-zero-offset"), ("R117", "constant-factor"), ("R158", "leak")],
)
def test_faulty_sweeps_are_named_with_their_cause(checked: CheckedJob, run: str, code: str) -> None:
    assert code in {f.code for f in checked.findings if f.where.run == run}


def test_sound_sweeps_are_not_called_faulty(checked: CheckedJob) -> None:
    assert set(checked.faulty) == {"R107", "R117", "R158"}


def test_the_port_held_back_by_its_wall_is_not_called_faulty(checked: CheckedJob) -> None:
    on_port_4 = [f for f in checked.findings if f.where.port == "I4" and f.where.run]
    assert not [f for f in on_port_4 if f.severity.value != "note"]


def test_left_out_sweeps_are_said(story: StageStory) -> None:
    assert "R107" in story.left_out
    assert "R117" in story.left_out
