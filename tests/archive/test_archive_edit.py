"""Working on a job step by step, and finding it again."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from portwright.archive.archive import Archive
from portwright.archive.joblist import JobLine
from portwright.archive.overview import PortOverview, Wanted
from portwright.archive.searching import SHEET, SearchLine
from portwright.errors import ConflictError, InputError, UnknownNameError
from portwright.model.contents import JobContents, ShopContents
from portwright.model.head import Casting, Head, Port, Side
from portwright.model.job import Job, Measurement, Note, Stage
from tests.archive import archive_values as values

BOTH_ENGINES = True


def test_a_new_job_is_built_up_piece_by_piece(archive: Archive) -> None:
    throat = Measurement("I1", "throat diameter", values.mm("38"))
    archive.add_job(Job("J-3", opened="2026-04-01"))
    archive.add_port("J-3", Port("I1", Side.INTAKE))
    archive.add_stage("J-3", Stage("S0", "as received"))
    assert archive.add_measurements("J-3", [throat, throat]) == 2
    archive.add_note("J-3", Note("valves bent", "2026-04-01"))
    archive.add_run(values.run("R3", "J-3", readings=0))
    job = archive.job("J-3")
    assert job.ports == (Port("I1", Side.INTAKE),)
    assert job.measurements == (throat, throat)
    assert job.notes == (Note("valves bent", "2026-04-01"),)
    assert job.runs == (values.run("R3", "J-3", readings=0),)


def test_names_that_are_taken_are_conflicts(archive: Archive) -> None:
    with pytest.raises(ConflictError, match="job J-1"):
        archive.add_job(Job("J-1"))
    with pytest.raises(ConflictError, match="port I1"):
        archive.add_port("J-1", Port("I1", Side.INTAKE))
    with pytest.raises(ConflictError, match="stage S0"):
        archive.add_stage("J-1", Stage("S0"))
    with pytest.raises(ConflictError, match="in job J-2"):
        archive.add_run(values.run("R2", "J-1"))
    with pytest.raises(InputError, match="port 'X'"):
        archive.add_run(dataclasses.replace(values.run("R9"), port="X"))
    assert archive.contents() == values.shop()


def test_the_next_run_code_counts_over_the_whole_shop(archive: Archive) -> None:
    assert archive.next_run_code("R") == "R3"
    assert archive.next_run_code("F-") == "F-1"
    archive.add_run(values.run("R099"))
    archive.add_run(values.run("Rx500"))
    archive.add_run(values.run("R_7%"))
    assert archive.next_run_code("R") == "R100"


def test_a_job_changed_meanwhile_is_not_overwritten(archive: Archive) -> None:
    version = archive.job_version("J-1")
    assert archive.update_job("J-1", {"goal": "torque"}, version) == version + 1
    with pytest.raises(ConflictError, match="in the meantime"):
        archive.update_job("J-1", {"goal": "power"}, version)
    assert archive.job("J-1").job.goal == "torque"
    facts = {"fuel": "E85"}
    archive.update_job("J-1", {"number": "J-9", "facts": facts}, version + 1)
    assert archive.job("J-9").job.facts == facts
    assert archive.run("J-9/R1").job == "J-9"


def test_facts_of_heads_and_castings_make_their_jobs_be_looked_at_again(archive: Archive) -> None:
    def changed() -> list[str] | None:
        now, jobs = archive.changed_jobs("m")
        archive.keep_overviews([(n, [port(n)], [SearchLine(SHEET, "", n)]) for n in jobs or ()])
        archive.keep_stamp(now)
        return jobs

    def port(number: str) -> PortOverview:
        facts = (0.21, "down draft") if number == "J-1" else (None, "spread port")
        return PortOverview(
            number, "", "S0", "B2", "intake", "head last", 1, 0.042, 1, 1, 0.01, 1e-3,
            np.full(20, 1e-3), *facts,
        )  # fmt: skip

    assert changed() == ["J-1", "J-2"]
    assert changed() is None
    (casting,) = archive.castings()
    version = archive.casting_version("C-6207")
    archive.write_casting(dataclasses.replace(casting, exhaust_port_location=""), version)
    assert changed() == ["J-1", "J-2"]
    with pytest.raises(ConflictError, match="Casting C-6207 was changed"):
        archive.write_casting(casting, version)
    with pytest.raises(InputError, match="no number"):
        archive.write_casting(Casting(" "), 0)
    version = archive.job_version("J-2")
    archive.write_head("J-2", Head("R", "C-6207", "new"), version)
    archive.write_head("J-2", Head("third"), version + 1)
    assert [h.code for h in archive.job("J-2").heads] == ["L", "R", "third"]
    assert changed() == ["J-2"]
    with pytest.raises(ConflictError, match="Job J-2 was changed"):
        archive.write_head("J-2", Head("R"), version)
    sheet = JobContents(Job("J-1"), heads=(Head("R", intake_valve_angle=values.mm("3")),))
    archive.save(ShopContents(jobs=(sheet,)))
    assert changed() == ["J-1"]

    wanted = Wanted(side="intake", angle_from=0.2, angle_to=0.3)
    assert [r.job for r in archive.port_overviews(wanted)] == ["J-1"]
    assert [r.job for r in archive.port_overviews(Wanted(location="spread port"))] == ["J-2"]
    untold = dataclasses.replace(wanted, untold=True)
    assert (archive.count_jobs(untold, ""), archive.count_jobs(untold, "J-2")) == (1, 0)
    assert archive.count_jobs(Wanted(untold=True), "") == 0
    assert archive.port_locations() == ["down draft", "spread port"]


def test_changes_that_make_no_sense_are_refused(archive: Archive) -> None:
    version = archive.job_version("J-1")
    with pytest.raises(UnknownNameError, match="goal"):
        archive.update_job("J-1", {"goals": "torque"}, version)
    with pytest.raises(InputError, match="facts"):
        archive.update_job("J-1", {"facts": "E85"}, version)
    with pytest.raises(InputError, match="number"):
        archive.update_job("J-1", {"number": " "}, version)
    with pytest.raises(ConflictError, match="job J-2"):
        archive.update_job("J-1", {"number": "J-2"}, version)
    assert archive.job_version("J-1") == version


def test_the_list_counts_runs_and_searches_words(archive: Archive) -> None:
    newest = Job("J-3", opened="2026-05-01", vehicle="100%_hill climb car")
    archive.add_job(newest)
    first, second = values.shop().jobs
    assert archive.job_list() == [
        JobLine(newest, 0, ""),
        JobLine(second.job, 2, "2026-02-10"),
        JobLine(first.job, 1, "2026-02-10"),
    ]
    assert archive.job_list(limit=1) == [JobLine(newest, 0, "")]
    assert [line.job.number for line in archive.job_list(search=["j-1"])] == ["J-1"]


@pytest.mark.parametrize(
    ("search", "found"),
    [
        (["MÜLLER"], 2),
        (["grösse", "müller"], 2),
        (["größe", "meier"], 0),
        (["åsa øst"], 1),
        (["98 ron"], 2),
        (["fuel"], 0),  # the name of a field is on every sheet
        (["%_HILL"], 1),
        (["%"], 1),
        (["2026-02"], 2),
    ],
)
def test_search_reads_every_alphabet_and_takes_signs_as_they_are(
    archive: Archive, search: list[str], found: int
) -> None:
    hill = Job("J-3", opened="2026-05-01", customer="ÅSA ØSTBY", vehicle="100%_hill climb car")
    archive.add_job(hill)
    assert len(archive.job_list(search=search)) == found


def test_settings_are_stored_and_replaced(archive: Archive) -> None:
    assert archive.setting("theme") is None
    archive.save_setting("theme", {"dark": True})
    archive.save_setting("theme", {"dark": False})
    assert archive.setting("theme") == {"dark": False}
