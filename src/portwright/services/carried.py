"""What is mounted on the bench for a sweep: carried over, shown, and kept with the sweep."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, replace

from portwright import units
from portwright.errors import InputError, UnknownNameError
from portwright.model.bench import Bench, Calibration, Conditions, Metering
from portwright.model.contents import JobContents
from portwright.model.head import Port, Side
from portwright.model.quantity import AsTyped
from portwright.model.run import Reading, Run
from portwright.services.jobs import today
from portwright.services.lift_lists import LiftList, lifts_of
from portwright.services.shop_file import ShopFile
from portwright.services.sweeps import port_named
from portwright.units import Kind

_LOOK_BACK = 200  # runs of a bench looked through
# What belongs to each reading beside its lift and number, with its unit at first.
AIR = {
    "test_pressure": (Kind.PRESSURE, "inH2O"),
    "air_temperature": (Kind.TEMPERATURE, "degC"),
    "barometer": (Kind.PRESSURE, "kPa"),
    "humidity": (Kind.RATIO, "%"),
    "leak": (Kind.FLOW, "cfm"),
    "test_pressure_zero": (Kind.PRESSURE, "inH2O"),
    "meter_pressure_zero": (Kind.PRESSURE, "inH2O"),
}
_HOLDS = ("test_pressure",)  # kept by the bench from day to day; the rest changes with the weather
_SAME_DAY = ("air_temperature", "barometer", "humidity")
NO_LIFT = AsTyped("", "", 0.0)


@dataclass(frozen=True, slots=True)
class SetUp:
    """How a sweep will be made.

    Parameters
    ----------
    bench : Bench
    calibration : Calibration
        Version in force.
    conditions : Conditions
    air : Reading
        Test pressure, air and leak, without a lift.
    source : str
        Where it was carried over from, in words.
    """

    bench: Bench
    calibration: Calibration
    conditions: Conditions
    air: Reading
    source: str


def set_up(shop: ShopFile, contents: JobContents, port: str, bench: str) -> SetUp:
    """Set-up of the newest sweep of this port on this bench, else of its side of a head.

    Where there is none, what the bench usually has.

    Air readings are carried over within a day. A leak check never: it belongs to one mounting; nor
    the zero of a gauge, which wanders.

    Raises
    ------
    UnknownNameError
        No such bench or port.
    InputError
        The bench has no calibration.
    """
    benches = {b.code: b for b in shop.benches()}
    if bench not in benches:
        raise UnknownNameError("bench", bench, benches)
    at = port_named(contents, port)
    if at is None:
        raise UnknownNameError("port", port, (p.code for p in contents.ports))
    versions = [c for c in shop.calibrations() if c.bench == bench]
    if not versions:
        raise InputError(f"Bench {bench} has no calibration.", "Describe it on the Shop screen.")
    calibration = max(versions, key=lambda c: c.version)
    newest = _newest(shop, contents, at, bench)
    if newest is None:
        usual = _usual(benches[bench], at)
        air = Reading(NO_LIFT, test_pressure=benches[bench].test_pressure)
        return SetUp(benches[bench], calibration, usual, air, "the bench's usual set-up")
    place = "" if newest.job == contents.job.number else f" of job {newest.job}"
    source = f"run {newest.code}{place}, {newest.date or 'no date'}"
    air = _air_after(newest, benches[bench])
    return SetUp(benches[bench], calibration, newest.conditions, air, source)


def _usual(bench: Bench, port: Port) -> Conditions:
    intake = port.side is Side.INTAKE
    return Conditions(
        bore_adapter=str(bench.bore_adapter or ""),
        adapter_length=str(bench.adapter_length or ""),
        inlet_aid=bench.inlet_aid if intake else "none",
        exhaust_stub="none" if intake else bench.exhaust_stub,
    )


def _when(run: Run) -> tuple[str, str, str]:
    return run.date, run.time, run.code


def _newest(shop: ShopFile, contents: JobContents, port: Port, bench: str) -> Run | None:
    """Newest sweep on the bench: of this port, of its side in this job, of its side anywhere."""

    def fits(run: Run, within: JobContents) -> bool:
        other = port_named(within, run.port)
        return run.bench == bench and other is not None and other.side is port.side

    own = [r for r in contents.runs if fits(r, contents)]
    same = [r for r in own if r.port == port.code]
    if own:
        return max(same or own, key=_when)
    known = {contents.job.number: contents}
    for run in sorted(shop.runs_of_bench(bench, _LOOK_BACK), key=_when, reverse=True):
        if run.job not in known:
            known[run.job] = shop.job(run.job)
        if fits(run, known[run.job]):
            return run
    return None


def _air_after(run: Run, bench: Bench) -> Reading:
    empty = Reading(NO_LIFT, test_pressure=bench.test_pressure)
    if not run.readings:
        return empty
    last = run.readings[-1]
    names = _HOLDS + (_SAME_DAY if run.date == today() else ())
    return replace(empty, **{n: getattr(last, n) for n in names if getattr(last, n) is not None})


def asked_of(calibration: Calibration) -> dict[str, tuple[Kind, str]]:
    """Of :data:`AIR`, what counts for a bench of this kind of metering."""
    states_flow = calibration.metering is Metering.DIRECT and calibration.reads_at is not None
    meter = calibration.metering not in {Metering.DIRECT, Metering.PERCENT_OF_RANGE}
    counts = {"test_pressure_zero": not states_flow, "meter_pressure_zero": meter}
    return {name: said for name, said in AIR.items() if counts.get(name, True)}


def stated(conditions: Conditions) -> dict[str, str]:
    """Conditions in words, those recorded only."""
    names = (f.name for f in fields(conditions))
    return {n.replace("_", " "): text for n in names if (text := getattr(conditions, n))}


def read_air(name: str, text: str, unit: str) -> AsTyped | None:
    """One air value as typed; nothing typed is not recorded.

    Raises
    ------
    NumberError, UnitError
    """
    return units.read(text, AIR[name][0], unit) if text.strip() else None


# --- what was chosen when a sweep was begun, kept for reloads and other tablets ----------------


def _setting(run: str) -> str:
    return f"bench plan of run {run}"


def keep_plan(shop: ShopFile, run: str, lifts: LiftList, air: Reading) -> None:
    """Remember lifts and air of a sweep under way."""
    said = {name: getattr(air, name) for name in AIR}
    plan = {
        "name": lifts.name,
        "lifts": [[t.text, t.unit] for t in lifts.lifts],
        "air": {name: [t.text, t.unit] for name, t in said.items() if t is not None},
    }
    shop.save_setting(_setting(run), plan)


def kept_plan(shop: ShopFile, run: Run) -> tuple[LiftList, Reading]:
    """Lifts and air of a sweep; of its own readings where it was not begun at the bench."""
    plan = shop.setting(_setting(run.code))
    if not plan:
        last = run.readings[-1] if run.readings else Reading(NO_LIFT)
        return lifts_of(run), with_air({name: getattr(last, name) for name in AIR})
    air = {n: read_air(n, text, unit) for n, (text, unit) in plan["air"].items() if n in AIR}
    return LiftList(plan["name"], tuple(_lifts(plan["lifts"]))), with_air(air)


def with_air(values: Mapping[str, AsTyped | None]) -> Reading:
    """A reading that holds nothing but air, by the names of :data:`AIR`."""
    return Reading(
        NO_LIFT,
        test_pressure=values.get("test_pressure"),
        air_temperature=values.get("air_temperature"),
        barometer=values.get("barometer"),
        humidity=values.get("humidity"),
        leak=values.get("leak"),
        test_pressure_zero=values.get("test_pressure_zero"),
        meter_pressure_zero=values.get("meter_pressure_zero"),
    )


def _lifts(pairs: Iterable[tuple[str, str]]) -> Iterable[AsTyped]:
    return (units.read(text, Kind.LENGTH, unit) for text, unit in pairs)
