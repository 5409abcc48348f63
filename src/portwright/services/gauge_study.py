"""The shop's own gauge study, one reading after another: persons, ports, repeats."""

from __future__ import annotations

import random
import re
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from portwright.archive.archive import Archive
from portwright.core.curve import Array
from portwright.core.gauge import GaugeStudy, gauge_rr
from portwright.errors import InputError, UnknownNameError
from portwright.services.jobs import today
from portwright.units import Kind, read

_KEPT = 10  # studies kept per bench
_MOST = 120  # readings; nobody finishes more in a day
# Share of the whole spread that is bench and person (common practice in measuring rooms).
GOOD, USABLE = 0.10, 0.30
FEWEST_CATEGORIES = 5


@dataclass(frozen=True, slots=True)
class Plan:
    """What is read by whom and how often.

    Parameters
    ----------
    what : str
        The one figure read every time: "intake flow at 8 mm, 28 inH2O".
    unit : str
        Unit of the flow.
    persons, ports : tuple of str
    times : int
        How often each person reads each port.
    begun : str
        ISO date.
    """

    what: str
    unit: str
    persons: tuple[str, ...]
    ports: tuple[str, ...]
    times: int
    begun: str = ""

    @property
    def count(self) -> int:
        """Readings of the whole study."""
        return len(self.persons) * len(self.ports) * self.times


@dataclass(frozen=True, slots=True)
class Turn:
    """One reading to take.

    Parameters
    ----------
    number : int
        From 1.
    person, port : str
    time : int
        Which time this person reads this port, from 1.
    """

    number: int
    person: str
    port: str
    time: int


@dataclass(frozen=True, slots=True)
class GaugeResult:
    """What a full study says: standard deviations in the unit of the readings.

    Parameters
    ----------
    mean : float
        Of all readings.
    repeatability : float
        One person, one port, again.
    persons : float
        Between persons.
    bench : float
        Both together.
    ports : float
        Between ports.
    share : float
        Bench and person over the whole spread. [-]
    categories : int
        Sizes of port that can be told apart. [-]
    """

    mean: float
    repeatability: float
    persons: float
    bench: float
    ports: float
    share: float
    categories: int

    def sentence(self) -> str:
        """Verdict in words."""
        if self.share <= GOOD and self.categories >= FEWEST_CATEGORIES:
            fit = "Bench and persons hardly show beside the ports"
        elif self.share <= USABLE:
            fit = "Usable: bench and persons show beside the ports, but do not hide them"
        else:
            fit = "Bench and persons hide the difference between these ports"
        many = "one size" if self.categories == 1 else f"{self.categories} sizes"
        return (
            f"{fit}: {100 * self.share:.0f} % of the whole spread; {many} of port can be told "
            "apart."
        )

    def advice(self) -> str:
        """What to do about the larger part."""
        if self.persons > self.repeatability:
            return (
                "The persons differ more than one person repeats: agree on how lift zero, adapter "
                "and settling are done."
            )
        return (
            "Repeating is the larger part: look at lift zero, the seal of the adapter, the plug "
            "and how long the air settles."
        )


@dataclass(frozen=True, slots=True)
class Study:
    """A study with what was read so far.

    Parameters
    ----------
    plan : Plan
    values : tuple of str
        As typed, in the order of :func:`turns`.
    """

    plan: Plan
    values: tuple[str, ...] = ()

    @property
    def turn(self) -> Turn | None:
        """The next reading, None when all were taken."""
        order = turns(self.plan)
        return order[len(self.values)] if len(self.values) < len(order) else None

    def result(self) -> GaugeResult | None:
        """What it says; None until the last reading."""
        if self.turn is not None:
            return None
        plan = self.plan
        table = np.full((len(plan.persons), len(plan.ports), plan.times), np.nan)
        for turn, text in zip(turns(plan), self.values, strict=True):
            value = read(text, Kind.FLOW, plan.unit)
            person, port = plan.persons.index(turn.person), plan.ports.index(turn.port)
            table[person, port, turn.time - 1] = value.si / read("1", Kind.FLOW, plan.unit).si
        return gauge_result(table)


def gauge_result(values: Array) -> GaugeResult:
    """Analyse a full table, shape (persons, ports, times), any unit.

    Raises
    ------
    ShapeError
        Fewer than two of each.
    RangeError
        Missing values.
    InputError
        All values equal: nothing to compare.
    """
    found: GaugeStudy = gauge_rr(values)
    if not (found.total > 0.0 and found.gauge > 0.0):
        raise InputError(
            "All readings are equal, so nothing can be said.", "Read to one more digit."
        )
    return GaugeResult(
        float(values.mean()),
        found.repeatability,
        found.reproducibility,
        found.gauge,
        found.part,
        found.share,
        found.distinct_categories,
    )


def turns(plan: Plan) -> list[Turn]:
    """All readings in their order: person by person in rounds, ports in a mixed order each round.

    The order is the same every time it is asked for.
    """
    dice = random.Random(f"{plan.begun} {plan.what} {plan.ports}")  # noqa: S311 - no secret
    order = []
    for time in range(1, plan.times + 1):
        for person in plan.persons:
            ports = list(plan.ports)
            dice.shuffle(ports)
            order += [(person, port, time) for port in ports]
    return [Turn(n, *what) for n, what in enumerate(order, start=1)]


def _setting(code: str) -> str:
    return f"gauge study {code}"


def studies(archive: Archive, code: str) -> list[Study]:
    """Studies of a bench, newest first; the newest may be under way."""
    kept: list[dict[str, Any]] = archive.setting(_setting(code)) or []
    found = []
    for entry in reversed(kept):
        plan = dict(entry["plan"])
        plan |= {name: tuple(plan[name]) for name in ("persons", "ports")}
        found.append(Study(Plan(**plan), tuple(entry["values"])))
    return found


def _keep(archive: Archive, code: str, kept: Sequence[Study]) -> None:
    """Keep studies, newest first."""
    archive.save_setting(_setting(code), [asdict(s) for s in reversed(kept[:_KEPT])])


def _names(text: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(n.strip() for n in re.split(r"[;,\n]", text) if n.strip()))


def begin(
    archive: Archive, code: str, *, what: str, unit: str, persons: str, ports: str, times: str
) -> Study:
    """Plan a study; one under way that has readings stays among the kept ones.

    Parameters
    ----------
    persons, ports : str
        Names parted by commas or semicolons.
    times : str
        Two or three, usually.

    Raises
    ------
    UnknownNameError
        No such bench.
    InputError
        Too few of anything, or more than a day's work.
    """
    codes = [b.code for b in archive.benches()]
    if code not in codes:
        raise UnknownNameError("bench", code, codes)
    read("1", Kind.FLOW, unit)
    if not what.strip():
        raise InputError("What is read?", "Type it: intake flow at 8 mm, 28 inH2O.")
    if not times.strip().isdigit() or int(times) < 2:
        raise InputError("Every port must be read twice or more by each person.", "Type 2 or 3.")
    plan = Plan(what.strip(), unit, _names(persons), _names(ports), int(times), today())
    for many, names in (("persons", plan.persons), ("ports", plan.ports)):
        if len(names) < 2:
            raise InputError(
                f"The study needs two {many} or more.", "Type their names, parted by commas."
            )
    if plan.count > _MOST:
        raise InputError(
            f"That is {plan.count} readings; {_MOST} are the most.", "Take fewer ports or times."
        )
    older = [s for s in studies(archive, code) if s.values]
    made = Study(plan)
    _keep(archive, code, [made, *older])
    return made


def _under_way(archive: Archive, code: str) -> tuple[Study, list[Study]]:
    found = studies(archive, code)
    if not found:
        raise InputError(f"No study was begun on {code}.", "Begin one.")
    return found[0], found[1:]


def note(archive: Archive, code: str, text: str, number: int) -> Study:
    """Keep the next reading.

    Parameters
    ----------
    text : str
        Flow as read, the unit of the plan where none is typed.
    number : int
        Which reading it answers, so that one sent twice counts once.

    Raises
    ------
    InputError
        No study, none left to take, or a flow that cannot be.
    UnitError, NumberError
        Not a flow.
    """
    study, older = _under_way(archive, code)
    if number <= len(study.values):
        return study
    if study.turn is None:
        raise InputError("All readings were taken.", "Begin another study.")
    if not read(text, Kind.FLOW, study.plan.unit).si > 0.0:
        raise InputError("A flow must be above zero.", "Read it again.")
    made = replace(study, values=(*study.values, text.strip()))
    _keep(archive, code, [made, *older])
    return made


def take_back(archive: Archive, code: str) -> Study:
    """Take the last reading back, to read it again.

    Raises
    ------
    InputError
        Nothing was read yet.
    """
    study, older = _under_way(archive, code)
    if not study.values:
        raise InputError("Nothing was read yet.", "There is no reading to take back.")
    made = replace(study, values=study.values[:-1])
    _keep(archive, code, [made, *older])
    return made
