"""Any shop a person could have, as Hypothesis strategies."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from portwright.model.bench import (
    Bench,
    Calibration,
    CalibrationPoint,
    Conditions,
    MeterRange,
    OrificeMeter,
    PlateCheck,
)
from portwright.model.contents import JobContents, ShopContents
from portwright.model.engine import Source
from portwright.model.engine_run import EngineGain, EngineInput, EnginePoint, KeptEngineRun
from portwright.model.entry import JobEntry
from portwright.model.head import Cam, CamPoint, Casting, Head, Port
from portwright.model.job import Job, Measurement, Note, SheetRow, Shop, Stage
from portwright.model.quantity import AsTyped
from portwright.model.run import Reading, Run

words = st.text(max_size=12)
names = st.text(min_size=1, max_size=8)
numbers = st.floats(allow_nan=False, allow_infinity=False)
counts = st.integers(min_value=-(2**62), max_value=2**62)
typed = st.builds(AsTyped, words, words, numbers)
maybe_typed = st.none() | typed
facts = st.dictionaries(words, words, max_size=3)


def build(cls: type[Any], **fields: Any) -> st.SearchStrategy[Any]:
    """Every field drawn from its kind; ``fields`` name those that refer to something."""
    kinds = {
        "str": words,
        "int": counts,
        "int | None": st.none() | counts,
        "float": numbers,
        "float | None": st.none() | numbers,
        "AsTyped": typed,
        "AsTyped | None": maybe_typed,
        "dict[str, str]": facts,
        "tuple[CamPoint, ...]": few(st.builds(CamPoint, typed, typed, typed)),
        "tuple[MeterRange, ...]": few(st.builds(MeterRange, counts, typed)),
        "tuple[CalibrationPoint, ...]": few(st.builds(CalibrationPoint, typed, typed)),
        "tuple[EngineInput, ...]": few(
            st.builds(EngineInput, words, typed, st.sampled_from(Source))
        ),
        "tuple[EnginePoint, ...]": few(
            st.builds(EnginePoint, words, numbers, *(st.none() | numbers,) * 3, mach=numbers)
        ),
        "tuple[EngineGain, ...]": few(st.builds(EngineGain, numbers, *(st.none() | numbers,) * 3)),
        "tuple[str, ...]": few(words),
        "OrificeMeter | None": st.none()
        | st.builds(OrificeMeter, typed, maybe_typed, st.none() | numbers, words),
    }
    chosen: dict[str, Any] = {}
    for name, field in cls.__dataclass_fields__.items():
        kind = str(field.type)
        if name in fields:
            chosen[name] = fields[name]
        elif kind in kinds:
            chosen[name] = kinds[kind]
        else:
            chosen[name] = st.from_type(globals_of(cls)[kind])
    return st.builds(cls, **chosen)


def globals_of(cls: type[Any]) -> dict[str, Any]:
    """Names a model module knows, to find its choices (sides, kinds, meterings)."""
    return vars(__import__(cls.__module__, fromlist=["x"]))


def few(items: st.SearchStrategy[Any], least: int = 0) -> st.SearchStrategy[tuple[Any, ...]]:
    return st.lists(items, min_size=least, max_size=3).map(tuple)


def named(items: st.SearchStrategy[Any], field: str, least: int = 0) -> st.SearchStrategy[Any]:
    """A few values that differ in the field they are known by."""
    return st.lists(
        items, min_size=least, max_size=3, unique_by=lambda item: getattr(item, field)
    ).map(tuple)


@st.composite
def jobs(draw: st.DrawFn, number: str, calibrations: list[Calibration]) -> JobContents:
    """A job whose runs are on its own ports and stages and on benches the shop has."""
    ports = draw(named(build(Port, code=names), "code", least=1))
    stages = draw(named(build(Stage, code=names), "code", least=1))
    calibration = draw(st.sampled_from(calibrations))
    run = build(
        Run,
        code=names,
        job=st.just(number),
        port=st.sampled_from([p.code for p in ports]),
        stage=st.sampled_from([s.code for s in stages]),
        bench=st.just(calibration.bench),
        calibration=st.just(calibration.version),
        conditions=build(Conditions),
        readings=few(build(Reading), least=1),
    )
    runs = draw(named(run, "code", least=1))
    return JobContents(
        job=draw(build(Job, number=st.just(number))),
        heads=draw(named(build(Head, code=names), "code")),
        ports=ports,
        stages=stages,
        measurements=draw(few(build(Measurement))),
        cams=draw(named(build(Cam, card=names), "card")),
        rows=draw(few(build(SheetRow, cells=facts))),
        notes=draw(few(build(Note))),
        entries=draw(named(build(JobEntry, key=names, cells=facts), "key")),
        engine_runs=draw(named(build(KeptEngineRun, key=names), "key")),
        runs=tuple(sorted(runs, key=lambda r: (r.date, r.time))),
    )


@st.composite
def shops(draw: st.DrawFn) -> ShopContents:
    """A shop in the order in which the archive gives it back."""
    benches = draw(named(build(Bench, code=names), "code", least=1))
    codes = sorted(b.code for b in benches)
    calibrations = draw(
        st.lists(
            build(Calibration, bench=st.sampled_from(codes)),
            min_size=1,
            max_size=3,
            unique_by=lambda c: (c.bench, c.version),
        )
    )
    calibrations.sort(key=lambda c: (c.bench, c.version))
    job_numbers = draw(st.lists(names, max_size=2, unique=True))
    return ShopContents(
        shop=draw(st.none() | build(Shop)),
        castings=draw(named(build(Casting, number=names), "number")),
        benches=tuple(sorted(benches, key=lambda b: b.code)),
        calibrations=tuple(calibrations),
        plate_checks=draw(few(build(PlateCheck, bench=st.sampled_from(codes)))),
        jobs=tuple(draw(jobs(number, calibrations)) for number in job_numbers),
    )
