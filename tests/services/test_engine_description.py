"""The demo job's engine: every number with its source, nothing silently assumed."""

from __future__ import annotations

import csv
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from portwright.archive.archive import Archive
from portwright.errors import InputError, UnitError, UnknownNameError
from portwright.model.engine import CHOICES, ENGINE_TERMS, FuelName, Source
from portwright.model.head import Side
from portwright.services.demo import DEMO_JOB
from portwright.services.engine_cam import lift_curve
from portwright.services.engine_description import describe_engine
from portwright.services.engine_facts import set_engine_value
from portwright.services.engine_ports import engine_port, partner, port_shape
from portwright.services.engine_runner import runner_duct


def test_the_demo_engine_is_built_from_job_sheet_cam_and_measurements(
    demo_archive: Archive,
) -> None:
    engine = describe_engine(demo_archive.job(DEMO_JOB))
    assert str(engine.bore.value) == "90.00 mm"
    assert engine.bore.source is Source.JOB_SHEET
    assert engine.cylinders.si == 6.0
    assert (engine.compression.value.text, engine.compression.source) == ("11.20", Source.MEASURED)
    assert (engine.lash.value.text, engine.lash.source) == ("0.35", Source.CAM_CARD)
    assert engine.primary_diameter.source is Source.WORDS
    assert engine.primary_diameter.si == pytest.approx(0.038, rel=1e-12)
    assert engine.fuel.value == FuelName.PETROL
    assert engine.induction.value == "individual runners"
    assert engine.grouping.value == "one collector per head"
    assert {"runner_length", "primary_length", "air_ratio"} <= set(engine.assumed())
    assert not {"bore", "compression", "lash"} & set(engine.assumed())


def test_every_term_is_a_field_and_every_assumption_has_its_reason(demo_archive: Archive) -> None:
    engine = describe_engine(demo_archive.job(DEMO_JOB))
    known = {**engine.values(), **engine.choices()}
    names = {t.name for t in ENGINE_TERMS} | set(CHOICES)
    assert set(known) <= names
    assert names <= set(type(engine).__dataclass_fields__)
    for name, value in engine.values().items():
        assert value.source is not Source.ASSUMED or value.note, name


def test_a_measured_runner_gives_length_and_areas(demo_path: Path) -> None:
    with Archive.open(demo_path) as archive:
        set_engine_value(archive, DEMO_JOB, "runner_profile", "0=41,5; 110 = 40.2; 220=38.6 mm")
        engine = describe_engine(archive.job(DEMO_JOB))
        assert engine.runner_length.si == pytest.approx(0.220, rel=1e-12)
        assert engine.runner_length.note == "runner profile"
        duct = runner_duct(engine, 1e-3)
        assert duct.area_at(np.array([0.110]))[0] == pytest.approx(
            0.25 * np.pi * 0.0402**2, rel=1e-12
        )
        set_engine_value(archive, DEMO_JOB, "runner_length", "300 mm")
        with pytest.raises(InputError, match="contradict"):
            describe_engine(archive.job(DEMO_JOB))
        set_engine_value(archive, DEMO_JOB, "runner_length", "")
        for wrong in ("0=41; 110=40", "41 mm", "5=41; 110=40 mm", "0=41; 0=40 mm"):
            with pytest.raises(InputError):
                set_engine_value(archive, DEMO_JOB, "runner_profile", wrong)
        set_engine_value(archive, DEMO_JOB, "runner_profile", "")
        assert describe_engine(archive.job(DEMO_JOB)).runner_profile is None


def test_a_typed_value_is_kept_as_typed_and_a_wrong_one_refused(demo_path: Path) -> None:
    with Archive.open(demo_path) as archive:
        set_engine_value(archive, DEMO_JOB, "runner_length", "9 1/4 in")
        set_engine_value(archive, DEMO_JOB, "fuel", "methanol")
        engine = describe_engine(archive.job(DEMO_JOB))
        assert str(engine.runner_length.value) == "9 1/4 in"
        assert engine.runner_length.si == pytest.approx(9.25 * 0.0254, rel=1e-12)
        assert engine.runner_length.source is Source.JOB_SHEET
        assert engine.fuel.value == "methanol"
        set_engine_value(archive, DEMO_JOB, "runner_length", "210 mm")
        assert str(describe_engine(archive.job(DEMO_JOB)).runner_length.value) == "210 mm"
        with pytest.raises(UnitError):
            set_engine_value(archive, DEMO_JOB, "runner_length", "210")
        with pytest.raises(UnknownNameError):
            set_engine_value(archive, DEMO_JOB, "fuel", "nitro")
        with pytest.raises(UnknownNameError, match="runner"):
            set_engine_value(archive, DEMO_JOB, "runner_lenght", "210 mm")
        set_engine_value(archive, DEMO_JOB, "runner_length", "")
        assert describe_engine(archive.job(DEMO_JOB)).runner_length.source is Source.ASSUMED


def test_two_spellings_of_one_number_are_refused(demo_path: Path) -> None:
    with Archive.open(demo_path) as archive:
        version = archive.job_version(DEMO_JOB)
        facts = archive.job(DEMO_JOB).job.facts | {"bore_in": "3.6"}
        archive.update_job(DEMO_JOB, {"facts": facts}, version)
        with pytest.raises(InputError, match="2 times"):
            describe_engine(archive.job(DEMO_JOB))


def test_cam_from_table_and_from_events_agree_where_they_should(demo_path: Path) -> None:
    with Archive.open(demo_path) as archive:
        contents = archive.job(DEMO_JOB)
        table = lift_curve(describe_engine(contents), contents, Side.INTAKE)
        # lash comes off the top: 11.50 - 0.35 mm; centre 106 after dead centre, quarter degrees
        assert table.max() == pytest.approx(11.15e-3, rel=1e-9)
        assert 0.25 * np.argmax(table) == pytest.approx(466.0, abs=0.26)
        above = np.flatnonzero(table >= 1.27e-3) * 0.25
        for name, text in (
            ("cam_method", "events"),
            ("intake_opens", f"{360.0 - above[0]:g} deg"),
            ("intake_closes", f"{above[-1] - 540.0:g} deg"),
            ("intake_lift", "11.15 mm"),
        ):
            set_engine_value(archive, DEMO_JOB, name, text)
        contents = archive.job(DEMO_JOB)
        events = lift_curve(describe_engine(contents), contents, Side.INTAKE)
    assert events.max() == pytest.approx(11.15e-3, rel=1e-4)
    again = np.flatnonzero(events >= 1.27e-3) * 0.25
    assert again[[0, -1]] == pytest.approx(above[[0, -1]], abs=0.26)
    with pytest.raises(InputError, match="exhaust opens"):
        lift_curve(describe_engine(contents), contents, Side.EXHAUST)


def test_sections_come_from_the_profile_where_there_is_one(demo_archive: Archive) -> None:
    contents = demo_archive.job(DEMO_JOB)
    first = engine_port(contents, "I1", Side.INTAKE)
    profile = port_shape(contents, first, "S0")
    assert profile.source == "section profile S0"
    assert profile.smallest.name == "short-side apex"
    assert profile.smallest.area == pytest.approx(801e-6, rel=1e-12)
    calipers = port_shape(contents, engine_port(contents, "I2", Side.INTAKE), "S0")
    assert calipers.smallest.name == "short side"
    assert [f.code for f in calipers.findings] == ["section-places-assumed"]
    exhaust = partner(contents, first)
    assert exhaust is not None
    out = port_shape(contents, exhaust, "S7")
    assert next(s.name for s in out.sections) == "throat"
    # measured port volume comes back as the integral of the sections, straight between them
    x, a = out.duct.position, out.duct.area
    assert float(np.trapezoid(a, x)) == pytest.approx(67.1e-6, rel=1e-9)


def test_fuel_figures_agree_with_the_gas_tables() -> None:
    source = files("portwright.refdata.engine") / "fuels.csv"
    rows = list(csv.DictReader(source.read_text(encoding="utf-8").splitlines()))
    assert [r["name"] for r in rows] == list(FuelName)
    assert all(r["label"] for r in rows)
    from portwright.core.gas1d.engine import EVAPORATION_HEAT
    from portwright.core.gas1d.gas import fuel_gas

    for row in rows:
        gas = fuel_gas(row["name"], 1.0)
        # stand-in mixtures against rounded handbook figures from memory: 2 %; the energy freed
        # at constant volume is within 3 % of the heating value
        stoichiometric = float(row["stoichiometric_air_fuel_ratio"])
        assert gas.air_fuel_ratio == pytest.approx(stoichiometric, rel=0.02)
        heat = gas.energy_released * (1.0 + gas.air_fuel_ratio)
        assert heat == pytest.approx(1e6 * float(row["heating_value_mj_per_kg"]), rel=0.08)
        evaporation = 1e3 * float(row["evaporation_heat_kj_per_kg"])
        assert EVAPORATION_HEAT[row["name"]] == pytest.approx(evaporation, rel=1e-9)
