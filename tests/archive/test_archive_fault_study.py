"""The study of faults, small: each fault with a fixed seed, and proof that it would see a loss."""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path

import pytest

from benchmarks import fault_copies as copies
from benchmarks import fault_trials as trials
from benchmarks.fault_trials import Outcome
from benchmarks.faulty_disk import SECTOR, Event, Synced, Written, library, power_cut

own_library = pytest.mark.skipif(
    library() is None, reason="this Python has SQLite built in: nothing can be put in front of it"
)
DICE = 20260210


def _full(folder: Path, dice: random.Random) -> Outcome:
    return trials.refusing_disk(folder, 12, dice, trials.FULL, within=300)


def _broken(folder: Path, dice: random.Random) -> Outcome:
    return trials.refusing_disk(folder, 12, dice, trials.BROKEN, within=300)


def _bits(folder: Path, dice: random.Random) -> Outcome:
    return trials.damaged(folder, 8, dice, trials.flipped(dice, 300))


def _cut_off(folder: Path, dice: random.Random) -> Outcome:
    return trials.damaged(folder, 8, dice, trials.cut_off(dice))


@own_library
@pytest.mark.parametrize("trial", [_full, _broken], ids=["full", "refusing"])
def test_a_disk_that_takes_no_more_loses_nothing_acknowledged(
    tmp_path: Path, trial: Callable[[Path, random.Random], Outcome]
) -> None:
    outcome = trial(tmp_path, random.Random(DICE))  # noqa: S311 - repeatable, not secret
    assert outcome.lost == []
    assert outcome.acknowledged > 20


@own_library
def test_a_power_cut_loses_nothing_acknowledged(tmp_path: Path) -> None:
    dice = random.Random(DICE)  # noqa: S311 - repeatable, not secret
    outcome = trials.power_cuts(tmp_path, 25, dice)
    assert outcome.lost == []
    assert outcome.acknowledged > 500


@own_library
def test_the_study_sees_what_a_careless_file_would_lose(tmp_path: Path) -> None:
    dice = random.Random(DICE)  # noqa: S311 - repeatable, not secret
    assert trials.power_cuts(tmp_path, 10, dice, sync="OFF").lost


@pytest.mark.parametrize("trial", [_bits, _cut_off], ids=["bits", "cut off"])
def test_a_damaged_file_is_noticed_and_the_backup_brings_all_back(
    tmp_path: Path, trial: Callable[[Path, random.Random], Outcome]
) -> None:
    outcome = trial(tmp_path, random.Random(DICE))  # noqa: S311 - repeatable, not secret
    assert outcome.noticed == outcome.tried
    assert outcome.lost == []


def test_a_clock_that_jumps_back_changes_no_order(tmp_path: Path) -> None:
    dice = random.Random(DICE)  # noqa: S311 - repeatable, not secret
    assert trials.clock_set_back(tmp_path, 60, dice).lost == []


@pytest.mark.slow
def test_a_program_killed_in_any_way_of_writing_loses_nothing_acknowledged(tmp_path: Path) -> None:
    dice = random.Random(DICE)  # noqa: S311 - repeatable, not secret
    outcome = trials.killed(tmp_path, 6, dice)
    assert outcome.lost == []
    assert outcome.acknowledged >= 6


@pytest.mark.slow
@pytest.mark.parametrize("trial", [copies.backing_up, copies.restoring, copies.upgrading])
def test_a_program_killed_among_copies_leaves_whole_ones(
    tmp_path: Path, trial: Callable[[Path, int, random.Random], Outcome]
) -> None:
    outcome = trial(tmp_path, 3, random.Random(DICE))  # noqa: S311 - repeatable, not secret
    assert outcome.lost == []
    assert outcome.tried == 3


def test_a_power_cut_keeps_what_was_synchronised_and_any_part_of_the_rest() -> None:
    old, new = b"a" * 2 * SECTOR, b"b" * 2 * SECTOR
    events: list[Event] = [Written("f", 0, old), Synced("f"), Written("f", 0, new)]
    seen = set()
    for seed in range(200):
        dice = random.Random(seed)  # noqa: S311 - repeatable, not secret
        seen.add(power_cut({}, events, dice)["f"])
    torn = b"b" * SECTOR + b"a" * SECTOR
    assert seen == {old, new, torn}
