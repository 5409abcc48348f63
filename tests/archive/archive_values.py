"""Shop values for the archive tests: one of everything, small."""

from __future__ import annotations

from portwright.model.bench import (
    Bench,
    Calibration,
    CalibrationPoint,
    Conditions,
    Metering,
    MeterRange,
    OrificeMeter,
    PlateCheck,
)
from portwright.model.contents import JobContents, ShopContents
from portwright.model.engine import Source
from portwright.model.engine_run import EngineGain, EngineInput, EnginePoint, KeptEngineRun
from portwright.model.entry import EntryKind, JobEntry
from portwright.model.head import Cam, CamPoint, Casting, Head, Port, Side
from portwright.model.job import Job, Measurement, Note, SheetKind, SheetRow, Shop, Stage
from portwright.model.quantity import AsTyped
from portwright.model.run import Reading, Run


def mm(text: str) -> AsTyped:
    return AsTyped(text, "mm", float(text.replace(",", ".")) / 1000)


def cfm(text: str) -> AsTyped:
    return AsTyped(text, "cfm", float(text) * 4.719474432e-4)


def reading(lift: str, flow: str) -> Reading:
    return Reading(
        lift=mm(lift),
        flow=cfm(flow),
        test_pressure=AsTyped("28,0", "inH2O", 6974.0),
        air_temperature=AsTyped("20.5", "degC", 293.65),
        test_pressure_zero=AsTyped("-0,05", "inH2O", -12.45),
    )


def run(code: str = "R1", job: str = "J-1", repeat: int = 1, readings: int = 3) -> Run:
    sweep = tuple(reading(str(n), f"{20 * n}.5") for n in range(1, readings + 1))
    return Run(
        code,
        job,
        "I1",
        "S0",
        "B2",
        repeat=repeat,
        date="2026-02-10",
        time="10:17",
        conditions=Conditions(bore_adapter="90 mm", inlet_aid="radius plate", valve="46.0 mm"),
        readings=sweep,
    )


def engine_run(key: str = "e1", replaces: str = "") -> KeptEngineRun:
    return KeptEngineRun(
        key,
        "2026-03-20T10:00:00+00:00",
        method="gas-exchange-1",
        port="I1",
        exhaust_port="E1",
        before="S0",
        after="S1",
        digest="0" * 64,
        samples=8,
        shift=850.0,
        facts={"fuel": "petrol (assumed)"},
        inputs=(EngineInput("bore", mm("90,0"), Source.JOB_SHEET),),
        points=(
            EnginePoint("S0", 5000.0, 256.25, 134e3, 0.09, mach=0.5, section="throat"),
            EnginePoint("S1", 5000.0, None, None, None),
        ),
        gains=(EngineGain(5000.0, 0.09, 0.06, 0.12),),
        findings=("E1: sections stand at usual places.",),
        replaces=replaces,
    )


def job(number: str = "J-1", runs: tuple[Run, ...] | None = None) -> JobContents:
    return JobContents(
        job=Job(
            number,
            opened="2026-02-03",
            customer="Müller (invented)",
            vehicle="rally coupe",
            casting="C-6207",
            goal="4000-7200 rpm",
            facts={"fuel": "98 RON", "induction": "three throttles, Größe 45"},
        ),
        heads=(
            Head(
                "L",
                "C-6207",
                "L-1183",
                exhaust_valve_angle=AsTyped("10,5", "deg", 0.18),
                intake_port_location="raised by a welded plate",
            ),
            Head("R", "C-6207"),
        ),
        ports=(Port("I1", Side.INTAKE, "L", 1), Port("E1", Side.EXHAUST, "L", 1, 2)),
        stages=(Stage("S0", "as received", "2026-02-10"), Stage("S1", "bowl blended")),
        measurements=(
            Measurement("I1", "throat diameter", mm("38,10"), stage="S0", instrument="bore gauge"),
            Measurement("I1", "throat diameter", mm("38,10"), stage="S0", instrument="bore gauge"),
            Measurement("cyl 4", "chamber volume", AsTyped("48.2", "cc", 48.2e-6), note="twice"),
        ),
        cams=(
            Cam(
                "card 7",
                intake_centre=AsTyped("108", "deg", 1.8849555921538759),
                lash=mm("0.30"),
                rocker_ratio=1.5,
                points=(CamPoint(AsTyped("0", "deg", 0.0), mm("9.80"), mm("9.60")),),
            ),
        ),
        rows=(SheetRow(SheetKind.HOURS, {"what": "bowls", "hours": "2,5"}, "L", "time sheet"),),
        notes=(Note("Guide of no. 3 loose.", "2026-02-10T11:00", "I3", "S0", "T."),),
        entries=(
            JobEntry(
                "a1", EntryKind.OPERATION, "2026-02-10T10:00", {"name": "Bowls", "hours": "2.5"}
            ),
        ),
        engine_runs=(engine_run(),),
        runs=(run(job=number),) if runs is None else runs,
    )


def shop() -> ShopContents:
    """One of every kind of value."""
    return ShopContents(
        shop=Shop("Workshop (invented)", "Nowhere", report_pressure=AsTyped("28", "inH2O", 6974.5)),
        castings=(
            Casting(
                "C-6207",
                "60 degree V6",
                "V6 pushrod",
                AsTyped("12", "deg", 0.209),
                intake_port_location="down draft",
                exhaust_port_location="spread port",
            ),
        ),
        benches=(
            Bench("B1", "old bench", "six ranges", bore_adapter=mm("89.0")),
            Bench("B2", "new bench", "digital", test_pressure=AsTyped("28", "inH2O", 6974.5)),
        ),
        calibrations=(
            Calibration(
                "B1",
                1,
                "2003-02-01",
                Metering.PERCENT_OF_RANGE,
                AsTyped("10", "inH2O", 2490.9),
                ranges=(MeterRange(1, cfm("25")), MeterRange(2, cfm("50"))),
                reason="as built",
            ),
            Calibration(
                "B1",
                2,
                "2011-01-01",
                Metering.ORIFICE_PLATE,
                None,
                table=(CalibrationPoint(AsTyped("100", "Pa", 100.0), cfm("30")),),
                orifice=OrificeMeter(mm("50"), pipe=mm("80"), coefficient=0.61, taps="D"),
                reason="plate replaced",
            ),
            Calibration("B2", 1, "2019-05-01", Metering.DIRECT, AsTyped("28", "inH2O", 6974.5)),
        ),
        plate_checks=(
            PlateCheck("2026-02-01", "B2", "P-250", 1, cfm("250"), cfm("251.2"), mm("50,2")),
        ),
        jobs=(job(), job("J-2", runs=(run("R1", "J-2"), run("R2", "J-2", repeat=2)))),
    )
