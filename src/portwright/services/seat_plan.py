"""Valve and seat before the cutter touches the head: alternatives side by side."""

from __future__ import annotations

import csv
import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib import resources

import numpy as np

from portwright.core.constants import Array
from portwright.core.seat.body import Material, opening_force, stiffness_ratio, valve_volume
from portwright.core.seat.gap import Passage, Rest, rest, smallest_passages
from portwright.core.seat.profile import SeatProfile, ValveProfile
from portwright.core.seat.sink import Insert, InsertRoom, Sink, insert_room, sink_for
from portwright.errors import Finding, InputError, PortwrightError, UnknownNameError
from portwright.model.contents import JobContents
from portwright.model.head import Port, Side
from portwright.model.quantity import AsTyped
from portwright.services.plan_terms import Known, Origin, read_numbers
from portwright.services.seat_cautions import cautions
from portwright.services.seat_numbers import ALTERNATIVES, TERMS, gather_seat, profiles
from portwright.services.shop_figures import Figures, shipped
from portwright.units import Kind, typed

USUAL_ANGLES = (45.0, 50.0, 55.0)
_STEPS = 61
_TO_LIFT = 0.30  # of the valve diameter
TABLE_LIFTS = (0.05, 0.10, 0.15, 0.20, 0.25, 0.30)


@cache
def materials() -> Mapping[str, Material]:
    """Valve materials by name, each with its label."""
    source = resources.files("portwright.refdata").joinpath("valve_materials.csv")
    found = {}
    for row in csv.DictReader(source.read_text(encoding="utf-8").splitlines()):
        density = float(row["density_low_g_cc"]) * 1e3, float(row["density_high_g_cc"]) * 1e3
        modulus = float(row["modulus_low_gpa"]) * 1e9, float(row["modulus_high_gpa"]) * 1e9
        found[row["name"]] = Material(row["words"], density, modulus, row["label"])
    return found


@dataclass(frozen=True, slots=True, eq=False)
class Alternative:
    """One choice of valve and seat.

    Parameters
    ----------
    name : str
        "A" is the design, "B" and "C" differ in what is said.
    words : str
    seat, valve : SeatProfile, ValveProfile
    shut : Rest
    area : ndarray, shape (n,)
        Smallest passage at the lifts of the plan, all valves of the port. [m2]
    passages : tuple of Passage
        Of one valve.
    throat, net_throat : float
        Without and with the stem, all valves. [m2]
    sink : Sink or None
    no_sink : str
        Why there is none.
    room : InsertRoom or None
    chamber_gain : float
        Volume a lower valve adds to the chamber. [m3]
    material : Material
    mass : tuple of float
        Lowest and highest. [kg]
    stiffness : tuple of float
        Bending stiffness of the stem over that of A. [-]
    force : tuple of float or None
        To open against the gas: inner and outer edge of the seal. [N]
    cautions : tuple of Finding
    """

    name: str
    words: str
    seat: SeatProfile
    valve: ValveProfile
    shut: Rest
    area: Array
    passages: tuple[Passage, ...]
    throat: float
    net_throat: float
    sink: Sink | None
    no_sink: str
    room: InsertRoom | None
    chamber_gain: float
    material: Material
    mass: tuple[float, float]
    stiffness: tuple[float, float]
    force: tuple[float, float] | None
    cautions: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, eq=False)
class SeatPlan:
    """Alternatives of one port.

    Parameters
    ----------
    job, port, stage : str
    side : Side
    known : dict of str to Known
    lifts : ndarray, shape (n,)
        [m]
    alternatives : tuple of Alternative
    refused : dict of str to str
        Alternatives that cannot be, with the reason.
    before : SeatProfile
        The seat as it is on record.
    """

    job: str
    port: str
    stage: str
    side: Side
    known: dict[str, Known]
    lifts: Array
    alternatives: tuple[Alternative, ...]
    refused: dict[str, str]
    before: SeatProfile


def read_seat_numbers(texts: list[str]) -> dict[str, AsTyped]:
    """Read numbers for one plan: "seat angle=50 deg", "B throat diameter=38 mm".

    Raises
    ------
    InputError, UnknownNameError, NumberError, UnitError
    """
    return read_numbers(texts, TERMS, "number of a valve and seat")


def port_named(contents: JobContents, code: str) -> Port:
    """Port of a job; "" takes the first.

    Raises
    ------
    UnknownNameError, InputError
    """
    ports = {p.code: p for p in contents.ports}
    if not ports:
        raise InputError("This job has no ports.", "Add them on the job sheet first.")
    if code and code not in ports:
        raise UnknownNameError("port", code, ports)
    return ports[code] if code else next(iter(ports.values()))


def seat_plan(
    contents: JobContents,
    port: str,
    stage: str = "",
    given: Mapping[str, AsTyped] | None = None,
    made_of: Mapping[str, str] | None = None,
    figures: Figures | None = None,
) -> SeatPlan:
    """Work out a valve and seat and its alternatives.

    Parameters
    ----------
    port, stage : str
        "" takes the first port, the newest readings.
    given : mapping of str to AsTyped, optional
        Numbers for this plan only.
    made_of : mapping of str to str, optional
        Material by alternative, "A" to "C"; "steel" where none is named.
    figures : Figures, optional
        The shop's minima.

    Raises
    ------
    InputError
        No valve head measured, an unknown name, or a design that cannot be.
    """
    chosen, rules, asked = port_named(contents, port), figures or shipped(), dict(given or {})
    for name in asked:
        if name not in TERMS:
            raise UnknownNameError("number of a valve and seat", name, TERMS)
    known = gather_seat(contents, chosen.code, stage, chosen.side, rules, asked)
    if not known:
        raise InputError(
            f"The valve of {chosen.code} was not measured.",
            "Measure the valve head, or give 'valve head diameter'.",
        )
    _usual_alternatives(known, asked)
    before = profiles(gather_seat(contents, chosen.code, stage, chosen.side, rules, {}) or known)
    first = profiles(known)
    largest = max(
        [known["valve head diameter"].value]
        + [
            known[f"{a} valve head diameter"].value
            for a in ALTERNATIVES
            if f"{a} valve head diameter" in known
        ]
    )
    lifts = np.linspace(0.0, _TO_LIFT * largest, _STEPS)
    maker = _Maker(chosen, known, rules, before, first[1], lifts, dict(made_of or {}))
    made, refused = [maker.alternative("A", first)], {}
    for name in ALTERNATIVES:
        try:
            made.append(maker.alternative(name, profiles(known, name)))
        except PortwrightError as error:
            refused[name] = str(error)
    return SeatPlan(
        contents.job.number,
        chosen.code,
        stage,
        chosen.side,
        known,
        lifts,
        tuple(made),
        refused,
        before[0],
    )


def _usual_alternatives(known: dict[str, Known], asked: Mapping[str, AsTyped]) -> None:
    """Other usual seat angles, where nobody says what B and C are."""
    own = math.degrees(known["seat angle"].value)
    others = iter([a for a in USUAL_ANGLES if abs(a - own) > 0.6])
    for name in ALTERNATIVES:
        mine = {n: v for n, v in asked.items() if n.startswith(f"{name} ")}
        origin = Origin.ENTERED
        if not mine:
            origin = Origin.ASSUMED
            mine = {f"{name} seat angle": typed(next(others), "deg", Kind.ANGLE)}
        for key, value in mine.items():
            known[key] = Known(TERMS[key], value.si, origin, str(value))


class _Maker:
    """What all alternatives of a plan share."""

    def __init__(
        self,
        port: Port,
        known: Mapping[str, Known],
        figures: Figures,
        before: tuple[SeatProfile, ValveProfile],
        first: ValveProfile,
        lifts: Array,
        made_of: dict[str, str],
    ) -> None:
        for name, material in made_of.items():
            if material not in materials():
                raise UnknownNameError("valve material", material, materials())
            if name not in {"A", *ALTERNATIVES}:
                raise UnknownNameError("alternative", name, ("A", *ALTERNATIVES))
        self._port, self._known, self._figures = port, known, figures
        self._before, self._first, self._lifts, self._made_of = before, first, lifts, made_of

    def _material(self, name: str) -> Material:
        return materials()[self._made_of.get(name, self._made_of.get("A", "steel"))]

    def alternative(self, name: str, pair: tuple[SeatProfile, ValveProfile]) -> Alternative:
        seat, valve = pair
        shut, count = rest(seat, valve), self._port.valve_count
        passages = smallest_passages(seat, valve, self._lifts)
        sink, no_sink = self._sink(pair)
        material, base = self._material(name), self._material("A")
        volume = valve_volume(valve)
        stiff = [
            stiffness_ratio(valve.stem_diameter, e, self._first.stem_diameter, e0)
            for e, e0 in zip(
                material.modulus, base.modulus[:: 1 if material is base else -1], strict=True
            )
        ]
        quarter = 0.25 * math.pi
        made = Alternative(
            name=name,
            words=self._words(name),
            seat=seat,
            valve=valve,
            shut=shut,
            area=count * np.array([p.area for p in passages]),
            passages=passages,
            throat=count * quarter * seat.throat_diameter**2,
            net_throat=count * quarter * (seat.throat_diameter**2 - valve.stem_diameter**2),
            sink=sink,
            no_sink=no_sink,
            room=self._room(seat, sink),
            chamber_gain=quarter * valve.head_diameter**2 * sink.valve if sink else 0.0,
            material=material,
            mass=(volume * material.density[0], volume * material.density[1]),
            stiffness=(min(stiff), max(stiff)),
            force=self._force(shut, valve),
            cautions=(),
        )
        found = cautions(made, self._port.side, self._known, self._figures, self._first)
        return replace(made, cautions=found)

    def _words(self, name: str) -> str:
        if name == "A":
            return "the design"
        said = [
            f"{k.removeprefix(name).strip()} {v.note}"
            for k, v in self._known.items()
            if k.startswith(f"{name} ")
        ]
        return ", ".join(said) or "as A"

    def _sink(self, pair: tuple[SeatProfile, ValveProfile]) -> tuple[Sink | None, str]:
        try:
            return sink_for(self._before, pair, self._known["clean-up"].value), ""
        except PortwrightError as error:
            return None, str(error)

    def _room(self, seat: SeatProfile, sink: Sink | None) -> InsertRoom | None:
        outer = self._known.get("insert outside diameter")
        height = self._known.get("insert height")
        if outer is None or height is None:
            return None
        return insert_room(
            Insert(outer.value, height.value),
            seat,
            sink.seat if sink else 0.0,
            self._figures["insert wall least"].value.si,
            self._figures["insert land least"].value.si,
        )

    def _force(self, shut: Rest, valve: ValveProfile) -> tuple[float, float] | None:
        if self._port.side is not Side.EXHAUST:
            return None
        gas, port = (self._known[n].value for n in ("cylinder pressure", "port pressure"))
        ends = shut.inner_diameter, shut.outer_diameter
        low, high = (opening_force(gas, port, d, valve.stem_diameter) for d in ends)
        return min(low, high), max(low, high)
