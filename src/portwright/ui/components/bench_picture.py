"""What the bench screen shows of a sweep, worked out in the units of the page."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from portwright import units
from portwright.model.quantity import AsTyped
from portwright.services.capture import Entry, OpenSweep
from portwright.services.earlier import Earlier, Point, Reference, flows_of
from portwright.ui.components.sweep_table import Tile
from portwright.ui.format import signed_percent, typed_number
from portwright.ui.state import View
from portwright.units import Kind

_PROBE = units.read("1", Kind.LENGTH, "mm")


class BenchPicture:
    """A sweep beside what is known of its port.

    Parameters
    ----------
    sweep : OpenSweep
    view : View
    """

    def __init__(self, sweep: OpenSweep, view: View) -> None:
        self.sweep, self.view = sweep, view
        self.earlier: Earlier | None = None
        self._before: Reference | None = None

    def learn(self, earlier: Earlier) -> None:
        """Earlier sweeps are worked out."""
        self.earlier = earlier
        stage = earlier.reference(previous_stage=True)
        self._before = stage or earlier.reference(previous_stage=False)

    @property
    def seen(self) -> Earlier:
        """Earlier sweeps, or nothing but the test pressure while they are being read."""
        if self.earlier is not None:
            return self.earlier
        typed = self.sweep.air.test_pressure or self.sweep.calibration.reads_at
        return Earlier(typed.si if typed else units.to_si(28.0, "inH2O", Kind.PRESSURE))

    @property
    def entry_unit(self) -> str:
        """Unit in which the bench's number is typed now."""
        if self.sweep.kind is Kind.FLOW:
            return self.view.choice.flow
        if self.sweep.kind is Kind.RATIO:
            return "%"
        shown = [self.sweep.shown(s.reading) for s in self.sweep.stored]
        return next((t.unit for t in reversed(shown) if t), self.view.display.pressure)

    @property
    def comma(self) -> bool:
        """Whether the numbers of this sweep were typed with a comma."""
        shown = (self.sweep.shown(s.reading) for s in self.sweep.stored)
        return any("," in t.text for t in shown if t)

    def pad(self, lift: AsTyped | None, *, correcting: bool) -> dict[str, Any]:
        """Everything beside the entry, by the names of ``number_pad.js``."""
        sweep, display = self.sweep, self.view.display
        before, half = self._beside(lift)
        read = sum(sweep.at(t.si) is not None for t in sweep.lifts.lifts)
        extra = len(sweep.stored) - read
        last = sweep.last
        return {
            "lift": lift.text if lift else "",
            "liftUnit": lift.unit if lift else "",
            "called": typed_number(lift, Kind.LENGTH, self.view) if lift else "",
            "calledUnit": display.length,
            "unit": units.sign(self.entry_unit),
            "progress": f"{read} of {len(sweep.lifts.lifts)}" + (f" + {extra}" if extra else ""),
            "correcting": correcting,
            "ranges": list(sweep.ranges),
            "firstRange": last.reading.range_number if last else next(iter(sweep.ranges), None),
            "before": before,
            "beforeName": self._before_name(),
            "half": half,
            "factor": self._factor(),
            "flowUnit": units.sign(display.flow),
            "stored": [
                [s.reading.lift.text, s.reading.lift.unit, t.text, units.sign(t.unit)]
                for s in sweep.stored
                if (t := sweep.shown(s.reading)) is not None
            ],
        }

    def _before_name(self) -> str:
        if self.earlier is None:
            return "earlier sweeps are being read …"
        return "no earlier stage" if self._before is None else self._before.stage

    def _beside(self, lift: AsTyped | None) -> tuple[float | None, float | None]:
        if lift is None or self._before is None:
            return None, None
        flow, half = (float(v[0]) for v in self._before.at(np.array([lift.si])))
        if not math.isfinite(flow):
            return None, None
        return units.from_si(flow, self.view.display.flow, Kind.FLOW), half

    def _factor(self) -> float:
        """Flow shown per unit typed, 0 where it is not proportional."""
        if self.sweep.kind is not Kind.FLOW:
            return 0.0
        seen, unit = self.seen, self.entry_unit
        flow = seen.remember(
            ("factor", unit, self.sweep.air),
            lambda: self._probe(Entry("100", unit, _PROBE), seen.pressure),
        )
        shown = units.from_si(flow, self.view.display.flow, Kind.FLOW) / 100.0
        return shown if math.isfinite(shown) else 0.0

    def _probe(self, entry: Entry, pressure: float) -> float:
        run = replace(self.sweep.run, readings=(self.sweep.reading(entry),))
        return flows_of(run, self.sweep.calibration, pressure)[0]

    def tiles(self, points: Sequence[Point], called: AsTyped | None) -> list[Tile]:
        """Every lift of the sweep, planned or read."""
        known = {round(p.reading.lift.si, 8): p for p in points}
        lifts = {round(t.si, 8): t for t in self.sweep.lifts.lifts}
        lifts |= {key: p.reading.lift for key, p in known.items()}
        doubted = {round(c.aside.reading.lift.si, 8) for c in self.sweep.contested}
        next_one = round(called.si, 8) if called else -1.0
        before = self._flows_before(p.reading.lift.si for p in points)
        tiles = []
        for key in sorted(lifts):
            state = "read" if key in known else "open"
            state = "next" if key == next_one else state
            state = "contested" if key in doubted else state
            value, gain = self._value(known.get(key), before)
            shown = self.view.display.lift_text(lifts[key].si)
            tiles.append(Tile(str(lifts[key]), shown, value, gain, state))
        return tiles

    def _flows_before(self, lifts: Iterable[float]) -> dict[float, float]:
        """Flow of the stage before at all lifts in one step: at the bench a person waits."""
        at = np.array(list(lifts))
        if self._before is None or not at.size:
            return {}
        return dict(zip(at.tolist(), self._before.at(at)[0].tolist(), strict=True))

    def _value(self, point: Point | None, flows: dict[float, float]) -> tuple[str, str]:
        if point is None:
            return "", ""
        before = flows.get(point.reading.lift.si, math.nan)
        gain = signed_percent(point.flow / before - 1.0) if before > 0.0 else ""
        return units.show(point.flow, self.view.display.flow, Kind.FLOW), gain
