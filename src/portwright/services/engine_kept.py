"""A before and after on the engine kept with the job, so that the report can print it."""

from __future__ import annotations

import math
import uuid
from collections.abc import Iterable, Iterator

from portwright import __version__
from portwright.archive.who import now_at_work
from portwright.core.gas1d.simulate import METHOD
from portwright.errors import InputError, PortwrightError
from portwright.model.contents import JobContents
from portwright.model.engine_run import EngineGain, EngineInput, EnginePoint, KeptEngineRun
from portwright.services.card_entries import now
from portwright.services.engine_description import describe_engine
from portwright.services.engine_head import HeadCurve
from portwright.services.engine_raw import raw_digest
from portwright.services.engine_run import EngineRun
from portwright.services.shop_file import ShopFile


def kept_run(contents: JobContents) -> KeptEngineRun | None:
    """The run that counts: the newest that is neither replaced nor taken back, None for none."""
    return max(_counting(contents), key=lambda r: r.at, default=None)


def _counting(contents: JobContents) -> list[KeptEngineRun]:
    replaced = {r.replaces for r in contents.engine_runs if r.replaces}
    return [r for r in contents.engine_runs if r.points and r.key not in replaced]


def keep_run(shop: ShopFile, run: EngineRun) -> KeptEngineRun:
    """Keep a run with its job; it takes the place of the one kept before, which stays on file.

    Keeping the same answer twice keeps it once.

    Raises
    ------
    ConflictError
        Somebody else kept another one at the same moment.
    """
    job = run.heads.description.job
    contents = shop.job(job)
    before = kept_run(contents)
    new = _from_run(run, contents, before.key if before else "")
    if before is not None and _answer(before) == _answer(new):
        return before
    shop.keep_engine_run(job, new)
    return new


def take_off(shop: ShopFile, job: str) -> None:
    """Keep no run any more; those kept before stay on file, marked so.

    Raises
    ------
    InputError
        None is kept.
    """
    counting = _counting(shop.job(job))
    if not counting:
        raise InputError(f"No engine run is kept with job {job}.", "There is nothing to take off.")
    for kept in counting:
        gone = KeptEngineRun(uuid.uuid4().hex, now(), now_at_work().name, replaces=kept.key)
        shop.keep_engine_run(job, gone)


def out_of_date(kept: KeptEngineRun, contents: JobContents) -> bool:
    """Whether readings, measurements, cam or engine changed since the run was made."""
    try:
        description = describe_engine(contents)
    except PortwrightError:
        return True
    return raw_digest(description, contents, (kept.port, kept.exhaust_port)) != kept.digest


def _answer(kept: KeptEngineRun) -> tuple[object, ...]:
    """What two runs share that say the same."""
    return kept.method, kept.program, kept.digest, kept.points, kept.gains, kept.samples


def _from_run(run: EngineRun, contents: JobContents, replaces: str) -> KeptEngineRun:
    heads, d = run.heads, run.difference
    description, one, two = heads.description, heads.before, heads.after
    shift, low, high = (_number(v) for v in run.shift)
    facts = {name: f"{c.value} ({c.source.value})" for name, c in description.choices().items()}
    facts |= {
        "cam": description.cam,
        "runner profile": description.runner_profile.text if description.runner_profile else "",
        "intake sweeps before": ", ".join(one.intake_runs),
        "intake sweeps after": ", ".join(two.intake_runs),
        "exhaust sweeps before": ", ".join(one.exhaust_runs),
        "exhaust sweeps after": ", ".join(two.exhaust_runs),
    }
    return KeptEngineRun(
        key=uuid.uuid4().hex,
        at=now(),
        author=now_at_work().name,
        method=METHOD,
        program=__version__,
        port=one.intake_port,
        exhaust_port=one.exhaust_port,
        before=one.stage,
        after=two.stage,
        digest=raw_digest(description, contents, (one.intake_port, one.exhaust_port)),
        samples=run.samples,
        factor=run.factor.factor if run.factor else None,
        engines=run.factor.engines if run.factor else 0,
        shift=shift,
        shift_low=low,
        shift_high=high,
        facts={name: text for name, text in facts.items() if text},
        inputs=tuple(
            EngineInput(name, v.value, v.source, v.note) for name, v in description.values().items()
        ),
        points=tuple(
            p for head in (run.before, run.after) for p in _points(head, run.speed.tolist())
        ),
        gains=tuple(
            EngineGain(float(speed), *(_number(v[k]) for v in (d.gain, d.low, d.high)))
            for k, speed in enumerate(run.speed)
        ),
        findings=tuple(f.message for f in run.findings),
        replaces=replaces,
    )


def _points(head: HeadCurve, speeds: Iterable[float]) -> Iterator[EnginePoint]:
    for k, speed in enumerate(speeds):
        yield EnginePoint(
            head.stage,
            float(speed),
            torque=_number(head.torque[k]),
            power=_number(head.power[k]),
            level=_number(head.level[k]),
            volumetric_efficiency=_number(head.volumetric_efficiency[k]),
            residual=_number(head.residual[k]),
            reversion=_number(head.reversion[k]),
            mach=_number(head.mach[k]),
            section=head.section[k],
        )


def _number(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None
