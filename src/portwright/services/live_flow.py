"""Channels of the instruments to flow, and a settled stretch back to what the bench showed.

Which number counts as the reading is fixed by the metering of the bench's calibration.  A settled
stretch gives the mean of ``flow / sqrt(test pressure)``; the reading stored is the number the bench
would show for exactly that mean at the mean test pressure, so that the ordinary reduction gives the
effective area of the stretch.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from portwright import units
from portwright.core.flow_element import CalibrationTable
from portwright.core.settling.series import Mean
from portwright.core.settling.watch import Judgement, State
from portwright.errors import InputError
from portwright.model.bench import Calibration, Metering
from portwright.model.instrument import Channel, Instrument
from portwright.model.quantity import AsTyped
from portwright.model.run import Reading, Run
from portwright.services.capture import FIELD
from portwright.services.earlier import flows_of
from portwright.units import Kind

_ANY_LIFT = AsTyped("5", "mm", 5e-3)
_AIR = ("air_temperature", "meter_temperature", "barometer", "humidity")


class LiveFlow:
    """What the instruments of a bench mean under one calibration.

    Parameters
    ----------
    calibration : Calibration
    instruments : sequence of Instrument

    Raises
    ------
    InputError
        A number the calibration needs is sent by no instrument.
    """

    def __init__(self, calibration: Calibration, instruments: tuple[Instrument, ...]) -> None:
        self._calibration = calibration
        self.field, self.kind = FIELD[calibration.metering]
        self._channels: dict[str, Channel] = {}
        for instrument in instruments:
            self._channels.update((c.name, c) for c in instrument.channels)
            if any(c.name == "flow" for c in instrument.channels):
                self._check_flow(instrument)
        for name in ("test_pressure", self.field):
            if name not in self._channels:
                raise InputError(
                    f"No instrument sends the {name.replace('_', ' ')}.",
                    f"{calibration.key} needs it: describe the instrument that has it.",
                )
        self._scales = {r.number: r.full_scale.si for r in calibration.ranges}
        self._table = None
        if calibration.metering is Metering.FLOW_ELEMENT:
            self._table = CalibrationTable(
                np.array([p.indicated.si for p in calibration.table]),
                np.array([p.flow.si for p in calibration.table]),
            )

    def _check_flow(self, instrument: Instrument) -> None:
        fixed = self._calibration.reads_at is not None
        if self._calibration.metering is Metering.DIRECT and instrument.converted is not fixed:
            said = "converted already" if instrument.converted else "as measured"
            states = f"at {self._calibration.reads_at}" if fixed else "as measured"
            raise InputError(
                f"{instrument.name} sends flow {said}, but {self._calibration.key} takes it "
                f"{states}.",
                "Change flow_is in the description, or give the bench a calibration that fits.",
            )

    @property
    def has_range(self) -> bool:
        """Whether the range in use is sent."""
        return "range_number" in self._channels

    @property
    def has_lift(self) -> bool:
        """Whether a lift indicator is there."""
        return "lift" in self._channels

    def unit(self, name: str) -> str:
        """Unit in which a channel is sent."""
        return self._channels[name].unit

    @property
    def _fixed(self) -> bool:
        """Flow belongs to a stated pressure, whatever the test pressure is."""
        direct = self._calibration.metering is Metering.DIRECT
        return direct and self._calibration.reads_at is not None

    def flow(self, values: Mapping[str, float], range_number: int | None) -> float | None:
        """Measure of the flow at the test pressure now, proportional to it.

        Parameters
        ----------
        values : mapping of str to float
            Newest value of each channel. [SI]
        range_number : int or None

        Returns
        -------
        float or None
            None while a channel has not been heard or the range is not known. [m3/s]
        """
        shown, pressure = values.get(self.field), values.get("test_pressure")
        if shown is None or pressure is None:
            return None
        root = math.sqrt(max(pressure, 0.0))
        if self.field == "flow":
            return shown * root if self._fixed else shown
        if self.field == "percent":
            full = self._scales.get(range_number or 0)
            return None if full is None else shown * full * root
        if self._table is not None:
            return float(np.interp(shown, self._table.reading, self._table.flow))
        return math.copysign(math.sqrt(abs(shown)), shown)

    def _shown(self, judgement: Judgement, ratio: float, range_number: int | None) -> float:
        """Number of the bench that gives ``ratio = flow / sqrt(pressure)`` at the mean pressure."""
        if self.field == "flow":
            return ratio if self._fixed else ratio * math.sqrt(judgement.pressure)
        if self.field == "percent":
            return ratio / self._scales[range_number or 0]
        flow = ratio * math.sqrt(judgement.pressure)
        if self._table is not None:
            return float(np.interp(flow, self._table.flow, self._table.reading))
        return flow**2

    def reading(
        self,
        judgement: Judgement,
        lift: AsTyped,
        values: Mapping[str, float],
        air: Reading,
        range_number: int | None,
    ) -> Reading:
        """A settled stretch as one row of the sheet.

        Parameters
        ----------
        judgement : Judgement
            Steady.
        lift : AsTyped
            Lift it is stored at. [m]
        values : mapping of str to float
            Newest values, for the air. [SI]
        air : Reading
            Air and leak where no instrument sends them.
        range_number : int or None

        Returns
        -------
        Reading
            With the half swing of the area as its scatter.
        """
        mean = judgement.area
        if mean is None:
            raise InputError("Nothing is settled yet.", "Wait until the screen says steady.")
        shown = self._shown(judgement, math.exp(mean.value), range_number)
        digits = mean.error * (2.0 if self.kind is Kind.PRESSURE else 1.0)
        pressure = AsTyped(*self._typed("test_pressure", judgement.pressure, 2e-4))
        typed: dict[str, Any] = {
            name: AsTyped(*self._typed(name, values[name], 1e-3)) for name in _AIR if name in values
        }
        typed[self.field] = AsTyped(*self._typed(self.field, shown, digits))
        return replace(
            air,
            lift=lift,
            test_pressure=pressure,
            range_number=range_number if self._scales else None,
            test_pressure_zero=None,  # the zero routine took it off every line
            meter_pressure_zero=None,
            scatter=units.read(f"{100.0 * mean.scatter:.2g}", Kind.RATIO, "%"),
            **typed,
        )

    def flow_factor(
        self,
        run: Run,
        ratio: float,
        values: Mapping[str, float],
        air: Reading,
        range_number: int | None,
        at: float,
    ) -> float:
        """Flow at a pressure for one unit of ``flow / sqrt(pressure)``, by the usual reduction.

        Parameters
        ----------
        run : Run
            Whose method counts.
        ratio : float
            As it is now.
        values : mapping of str to float
            Newest values. [SI]
        air : Reading
        range_number : int or None
        at : float
            Pressure the flow is wanted at. [Pa]

        Returns
        -------
        float
            NaN where nothing flows.
        """
        pressure = values.get("test_pressure", math.nan)
        if not (math.isfinite(ratio) and ratio > 0.0 and pressure > 0.0):
            return math.nan
        mean = Mean(math.log(ratio), 1e-5, 1.0, 0.0)
        judged = Judgement(State.STEADY, 0.0, 0.0, pressure, 0.0, mean)
        reading = self.reading(judged, _ANY_LIFT, values, air, range_number)
        flow = flows_of(replace(run, readings=(reading,)), self._calibration, at)[0]
        return flow / ratio

    def _typed(self, name: str, value: float, relative: float) -> tuple[str, str, float]:
        """Text with one digit more than is known, in the unit the instrument sends."""
        unit = self._channels[name].unit
        kind = FIELD_KINDS[name]
        number = units.from_si(value, unit, kind)
        known = max(abs(number), 1e-9) * max(relative, 1e-5)
        decimals = min(max(0, -math.floor(math.log10(known))), 6)
        text = f"{number:.{decimals}f}"
        return text, unit, units.to_si(float(text), unit, kind)


FIELD_KINDS = {
    "flow": Kind.FLOW,
    "percent": Kind.RATIO,
    "meter_pressure": Kind.PRESSURE,
    "test_pressure": Kind.PRESSURE,
    "air_temperature": Kind.TEMPERATURE,
    "meter_temperature": Kind.TEMPERATURE,
    "barometer": Kind.PRESSURE,
    "humidity": Kind.RATIO,
}
