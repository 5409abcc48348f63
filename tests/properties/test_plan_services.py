"""Valves, seats, milling and manifold as the screens ask for them: a number or a reason."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import TypeVar

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from portwright.core.valve import minimum_area
from portwright.errors import PortwrightError
from portwright.model.contents import JobContents
from portwright.model.head import Port, Side
from portwright.model.job import Job, Measurement
from portwright.model.quantity import AsTyped
from portwright.services.manifold_fit import manifold_fit
from portwright.services.milling import plan_of
from portwright.services.milling_plan import Aim, MillPlan, Result
from portwright.services.seat_plan import seat_plan
from portwright.services.valves import valve_at
from portwright.units import Kind, typed

PORTS = (Port("I1", Side.INTAKE, cylinder=1), Port("E1", Side.EXHAUST, cylinder=1))
CC = 1e-6
anything = st.floats(allow_nan=True, allow_infinity=True)


T = TypeVar("T")


def answer(work: Callable[[], T]) -> T | None:
    """What comes of it, None where it is refused in words."""
    try:
        return work()
    except PortwrightError as error:
        words = error.message
    assert words
    return None


def mm(value: float) -> AsTyped:
    return typed(value, "mm", Kind.LENGTH)


def deg(value: float) -> AsTyped:
    return typed(value, "deg", Kind.ANGLE)


def valve(head: float, throat: float, stem: float, width: float, angle: float) -> JobContents:
    sizes = {
        "valve head diameter": mm(head),
        "throat diameter": mm(throat),
        "stem diameter": mm(stem),
        "seat width": mm(width),
        "seat angle": deg(angle),
    }
    found = tuple(Measurement("I1", name, value) for name, value in sizes.items())
    return JobContents(Job("1"), ports=PORTS, measurements=found)


valves = st.builds(
    valve,
    st.floats(20.0, 60.0),
    st.floats(15.0, 60.0),
    st.floats(4.0, 10.0),
    st.floats(0.3, 6.0),
    st.floats(0.0, 89.0),
)


@settings(max_examples=60)
@given(valves)
def test_a_measured_valve_is_a_shape_or_a_reason(contents: JobContents) -> None:
    shape = answer(lambda: valve_at(contents, "I1"))
    if shape is None:
        return
    along = contents.measurements[3].value.si
    # along the face, as it is measured; half an ulp of the cosine
    assert shape.seat_width == pytest.approx(along * math.cos(shape.seat_angle), rel=1e-12)
    area = minimum_area(shape, np.linspace(0.0, 0.4 * shape.head_diameter, 41))
    assert np.all(np.isfinite(area))
    assert np.all(np.diff(area) >= -1e-12)  # m2: rounding where the throat takes over


@settings(max_examples=25)
@given(valves)
def test_seat_alternatives_pass_no_more_than_the_net_throat(contents: JobContents) -> None:
    plan = answer(lambda: seat_plan(contents, "I1"))
    if plan is None:
        return
    for made in plan.alternatives:
        assert np.all(np.isfinite(made.area))
        assert np.all(made.area >= 0.0)
        assert np.all(made.area <= made.net_throat * (1.0 + 1e-9))
        assert all(math.isfinite(v) and v > 0.0 for v in (*made.mass, *made.stiffness))
    assert {a.name for a in plan.alternatives} | set(plan.refused) >= {"A"}


def mill_numbers(
    chamber: float, area: float, swept: float, gasket: float, deck: float
) -> dict[str, AsTyped]:
    return {
        "chamber": typed(chamber, "cc", Kind.VOLUME),
        "open area": typed(area, "cm2", Kind.AREA),
        "swept volume": typed(swept, "cc", Kind.VOLUME),
        "gasket volume": typed(gasket, "cc", Kind.VOLUME),
        "deck volume": typed(deck, "cc", Kind.VOLUME),
        "crown volume": typed(0.0, "cc", Kind.VOLUME),
    }


engines = st.builds(
    mill_numbers,
    st.floats(20.0, 120.0),
    st.floats(20.0, 150.0),
    st.floats(150.0, 1200.0),
    st.floats(0.0, 15.0),
    st.floats(0.0, 10.0),
)
NOTHING = JobContents(Job("1"), ports=PORTS)


def numbers(plan: MillPlan) -> Iterator[float]:
    for name in MillPlan.__slots__:
        value = getattr(plan, name)
        if isinstance(value, Result):
            yield from (value.value, value.uncertainty)
        elif isinstance(value, float):
            yield value


@settings(max_examples=40)
@given(engines, st.floats(0.02, 0.6))
def test_milling_for_a_ratio_reaches_it_and_so_does_its_depth(
    given_numbers: dict[str, AsTyped], share: float
) -> None:
    at_rest = plan_of(NOTHING, Aim.DEPTH, mm(0.0), given_numbers)
    assert at_rest.ratio_before is not None
    chamber = given_numbers["chamber"].si
    swept = given_numbers["swept volume"].si
    rest = swept / (at_rest.ratio_before.value - 1.0) - chamber
    # walls of a single traced outline are taken as straight for 5 mm
    taken = share * min(chamber, 5e-3 * given_numbers["open area"].si)
    wanted = 1.0 + swept / (chamber - taken + rest)
    plan = plan_of(NOTHING, Aim.RATIO, typed(wanted, "-", Kind.RATIO), given_numbers)
    assert plan.ratio_after is not None
    # a few roundings of a ratio below 100
    assert plan.ratio_after.value == pytest.approx(wanted, rel=1e-9)
    assert plan.depth.value * plan.per_depth == pytest.approx(taken, rel=1e-6)
    again = plan_of(NOTHING, Aim.DEPTH, mm(1e3 * plan.depth.value), given_numbers)
    assert again.ratio_after is not None
    # the depth is typed in millimetres: as many digits as a number as text keeps
    assert again.ratio_after.value == pytest.approx(wanted, rel=1e-6)
    assert all(math.isfinite(v) for p in (plan, again) for v in numbers(p))


@settings(max_examples=60)
@given(st.lists(anything, min_size=5, max_size=5), st.sampled_from(Aim), anything)
def test_any_number_of_a_milling_plan_gives_numbers_or_a_sentence(
    values: list[float], aim: Aim, target: float
) -> None:
    names = ("chamber", "open area", "swept volume", "gasket volume", "deck volume")
    given_numbers = {n: AsTyped(str(v), "cc", v * CC) for n, v in zip(names, values, strict=True)}
    aimed = AsTyped(str(target), "cc", target)
    plan = answer(lambda: plan_of(NOTHING, aim, aimed, given_numbers))
    assert plan is None or all(math.isfinite(v) for v in numbers(plan))


@st.composite
def openings(draw: st.DrawFn) -> tuple[float, float, float]:
    """Width, height and corner radius of one opening. [mm]"""
    width, height = draw(st.floats(5.0, 60.0)), draw(st.floats(5.0, 60.0))
    return width, height, draw(st.floats(0.0, 0.5)) * min(width, height)


@settings(max_examples=25)
@given(openings(), openings(), st.floats(-80.0, 80.0), st.floats(-720, 720), st.sampled_from(PORTS))
def test_what_two_openings_have_in_common_is_no_more_than_either(
    head: tuple[float, float, float],
    runner: tuple[float, float, float],
    up: float,
    turn: float,
    port: Port,
) -> None:
    names = ("width", "height", "corner radius")
    given_numbers = {
        "runner offset up": mm(up),
        "runner turn": typed(turn, "deg", Kind.ANGLE),
    }
    for part, sizes in (("opening", head), ("runner", runner)):
        given_numbers |= {f"{part} {n}": mm(v) for n, v in zip(names, sizes, strict=True)}
    fit = answer(lambda: manifold_fit(NOTHING, port.code, given=given_numbers))
    if fit is None:
        return
    assert fit.meeting is not None
    smaller = min(fit.meeting.upstream, fit.meeting.downstream)
    # summed in 2000 strips
    assert -1e-9 <= fit.meeting.overlap <= smaller * (1.0 + 1e-4)
    assert fit.meeting.facing.height >= 0.0
    assert fit.meeting.trailing.height >= 0.0
