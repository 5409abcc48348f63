"""Another shop's figures: kept as a claim, looked at for what is missing and what is possible."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from portwright import units
from portwright.archive.archive import Archive
from portwright.core.discharge import (
    SUSPICIOUS_ON_CURTAIN,
    SUSPICIOUS_ON_MINIMUM_AREA,
    SUSPICIOUS_ON_NET_THROAT,
)
from portwright.core.gasflow import jet_velocity
from portwright.core.metering import REFERENCE_DENSITY
from portwright.core.valve import ValveShape, curtain_area, minimum_area, net_throat_area
from portwright.errors import InputError, PortwrightError, UnknownNameError
from portwright.model.contents import JobContents, ShopContents
from portwright.model.head import Side
from portwright.model.job import Job, SheetKind, SheetRow
from portwright.services.valves import assumed, valve_at
from portwright.units import Kind

_ANSWER = "answered "  # begins the heading of what was answered later
_NOT_STATED = {"", "not stated", "unknown", "?", "-"}
# What a flow figure is worth nothing without: words of the heading, and the question.
_ASKED = (
    (("pressure",), "At what test pressure, measured where?"),
    (("bench",), "On which bench, how does it meter, and when was it last checked with a plate?"),
    (("adapter", "bore"), "What bore adapter, how long?"),
    (("inlet", "radius", "stub"), "Intake: what radius at the port entry? Exhaust: what stub?"),
    (("date",), "When was it swept?"),
    (("valve",), "Which valve was in, what size, what seat?"),
    (("temperature",), "At what air temperature, and was the flow corrected for it?"),
    (("leak",), "What leaked with the port blanked?"),
    (("repeat",), "How often was it swept, and how far apart were the sweeps?"),
)


class Possible(StrEnum):
    """Whether a claimed flow can pass the opening there is."""

    YES = "possible"
    DOUBTFUL = "doubtful"
    NO = "not possible"
    UNKNOWN = "cannot be checked"


@dataclass(frozen=True, slots=True)
class ClaimedFlow:
    """One claimed reading.

    Parameters
    ----------
    lift : float
        [m]
    flow : float
        As claimed. [m3/s]
    pressure : float
        Pressure it is said to hold at. [Pa]
    area : float
        Effective area it means. [m2]
    curtain_coefficient, throat_coefficient : float
        Against the curtain and the throat less the stem; NaN without a valve. [-]
    possible : Possible
    why : str
    """

    lift: float
    flow: float
    pressure: float
    area: float
    curtain_coefficient: float
    throat_coefficient: float
    possible: Possible
    why: str


@dataclass(frozen=True, slots=True)
class Claim:
    """One foreign sheet.

    Parameters
    ----------
    source, port : str
    flows : tuple of ClaimedFlow
    questions : tuple of str
        What to ask before it means anything.
    possible : Possible
        The worst of its readings.
    measured_on : str
        The port whose valve it was held against.
    answers : dict of str to str
        What was answered since, by question.
    """

    source: str
    port: str
    flows: tuple[ClaimedFlow, ...]
    questions: tuple[str, ...]
    possible: Possible
    measured_on: str
    answers: dict[str, str]

    def sentence(self) -> str:
        """The claim in a sentence: never a comparison with own results."""
        bad = [f for f in self.flows if f.possible is Possible.NO]
        odd = [f for f in self.flows if f.possible is Possible.DOUBTFUL]
        if bad:
            start = f"Not possible as stated: {bad[0].why}"
        elif odd:
            start = f"Doubtful at {len(odd)} of {len(self.flows)} lifts: {odd[0].why}"
        elif self.possible is Possible.UNKNOWN:
            start = "It cannot be checked: the valve is not measured."
        else:
            start = "Possible for a valve of this size."
        asked = len(self.questions)
        are = "question is" if asked == 1 else "questions are"
        ask = f" {asked} {are} open before it can be set beside any result." if asked else ""
        return f"{start}{ask} It is kept as a claim and ranked nowhere."


def claims(archive: Archive, job: str) -> list[Claim]:
    """Every foreign sheet kept with a job.

    Raises
    ------
    UnknownNameError
        No such job.
    """
    return claims_of(archive.job(job))


def claims_of(contents: JobContents) -> list[Claim]:
    """As :func:`claims` for contents already at hand."""
    groups: dict[tuple[str, str], list[SheetRow]] = {}
    for row in contents.rows:
        if row.kind is SheetKind.CLAIM:
            port = _cell(row, ("port",))
            groups.setdefault((_cell(row, ("source",)) or row.source, port), []).append(row)
    return [_claim(contents, *key, rows) for key, rows in groups.items()]


def _cell(row: SheetRow, words: Sequence[str]) -> str:
    return next((v for k, v in row.cells.items() if any(w in k.casefold() for w in words)), "")


def _claim(contents: JobContents, source: str, port: str, rows: Sequence[SheetRow]) -> Claim:
    side = Side.EXHAUST if "exhaust" in port.casefold() else Side.INTAKE
    ports = [p for p in contents.ports if p.side is side]
    own = next((p.code for p in ports if valve_at(contents, p.code) is not None), "")
    shape = valve_at(contents, own) if own else None
    sure = bool(own) and not {"throat diameter", "stem diameter"} & set(assumed(contents, own))
    answers = {
        key.removeprefix(_ANSWER): text
        for row in rows
        for key, text in row.cells.items()
        if key.startswith(_ANSWER)
    }
    told = {_ANSWER + key: text for key, text in answers.items()}
    flows = []
    for row in rows:
        found = _flow(replace(row, cells=row.cells | told), shape, sure)
        if found is not None:
            flows.append(found)
    order = (Possible.NO, Possible.DOUBTFUL, Possible.UNKNOWN, Possible.YES)
    worst = min((f.possible for f in flows), key=order.index, default=Possible.UNKNOWN)
    said = {question: answers[words[0]] for words, question in _ASKED if answers.get(words[0])}
    return Claim(source, port, tuple(flows), _questions(rows), worst, own, said)


def answer(archive: Archive, job: str, claim: Claim, answers: Mapping[str, str]) -> Claim:
    """Keep what the other shop answered, beside the sheet, which stays as it came.

    Parameters
    ----------
    answers : mapping of str to str
        By question; empty ones are passed over.

    Raises
    ------
    UnknownNameError
        Nobody asked that.
    InputError
        No answer, or a test pressure that is none.
    """
    keys = {question: words[0] for words, question in _ASKED}
    cells = {"source": claim.source, "port": claim.port}
    for question, text in answers.items():
        if question not in keys:
            raise UnknownNameError("question", question, keys)
        if text.strip():
            cells[_ANSWER + keys[question]] = text.strip()
    if len(cells) == 2:
        raise InputError("There is no answer yet.", "Write what the other shop said.")
    if pressure := cells.get(f"{_ANSWER}pressure"):
        units.read(pressure, Kind.PRESSURE)
    row = SheetRow(SheetKind.CLAIM, cells, claim.port, claim.source)
    archive.save(ShopContents(jobs=(JobContents(Job(job), rows=(row,)),)))
    return next(c for c in claims(archive, job) if (c.source, c.port) == (claim.source, claim.port))


def claim_numbered(found: Sequence[Claim], number: int) -> Claim:
    """A foreign sheet of a job by its number, counted from 1.

    Raises
    ------
    InputError
        No such sheet.
    """
    if not 1 <= number <= len(found):
        raise InputError(
            f"There is no foreign sheet {number}.", f"The job has {len(found) or 'none'} of them."
        )
    return found[number - 1]


def numbered_answers(claim: Claim, texts: Sequence[str]) -> dict[str, str]:
    """Answers like "2=4.03 in" by the question they answer.

    Raises
    ------
    InputError
        No number of a question that is open.
    """
    found = {}
    for text in texts:
        number, equals, said = text.partition("=")
        if not (equals and number.strip().isdigit() and 0 < int(number) <= len(claim.questions)):
            raise InputError(
                f"'{text}' does not say which question it answers.", "Write it like 2=4.03 in."
            )
        found[claim.questions[int(number) - 1]] = said
    return found


def _questions(rows: Sequence[SheetRow]) -> tuple[str, ...]:
    open_ = []
    for words, question in _ASKED:
        texts = {_cell(row, words).strip().casefold() for row in rows}
        if texts <= _NOT_STATED:
            open_.append(question)
    return tuple(open_)


def _flow(row: SheetRow, shape: ValveShape | None, sure: bool) -> ClaimedFlow | None:
    lift = _quantity(row, ("lift",), Kind.LENGTH)
    flow = _quantity(row, ("flow",), Kind.FLOW)
    pressure = _quantity(row, ("pressure",), Kind.PRESSURE)
    if lift is None or flow is None or pressure is None or min(lift, flow, pressure) <= 0.0:
        return None
    area = flow / float(jet_velocity(REFERENCE_DENSITY, pressure))
    if shape is None:
        return ClaimedFlow(
            lift, flow, pressure, area, math.nan, math.nan, Possible.UNKNOWN, "valve not measured"
        )
    at = np.array([lift])
    curtain = area / float(curtain_area(shape, at)[0])
    throat = area / float(net_throat_area(shape))
    opening = float(minimum_area(shape, at)[0])
    place = f"at {units.show(lift, 'mm', Kind.LENGTH, 2)} mm"
    need, there = (f"{1e6 * v:.0f} mm²" for v in (area, opening))
    throat_known = sure or throat > 1.0
    possible, why = Possible.YES, ""
    if area > opening and throat_known:
        # the gap works as a short diffuser and passes a little more than its area; a throat not
        beyond = area > SUSPICIOUS_ON_MINIMUM_AREA * opening or throat > 1.0
        possible = Possible.NO if beyond else Possible.DOUBTFUL
        why = (
            f"{place} it needs an effective area of {need}, and the valve opens only {there}"
            f"{'' if beyond else ': more than most valves pass'}."
        )
    elif curtain > SUSPICIOUS_ON_CURTAIN:
        possible = Possible.DOUBTFUL
        why = (
            f"{place} its coefficient on the curtain would be {curtain:.2f}; "
            f"{SUSPICIOUS_ON_CURTAIN:.2f} is rarely passed."
        )
    elif throat > SUSPICIOUS_ON_NET_THROAT:
        possible = Possible.DOUBTFUL
        why = (
            f"{place} its coefficient on the throat would be {throat:.2f}, rarely over "
            f"{SUSPICIOUS_ON_NET_THROAT:.2f}."
        )
    return ClaimedFlow(lift, flow, pressure, area, curtain, throat, possible, why)


def _quantity(row: SheetRow, words: Sequence[str], kind: Kind) -> float | None:
    """A cell whose heading holds a word, in the unit its heading ends with. [SI]"""
    for heading, text in row.cells.items():
        if any(w in heading.casefold() for w in words) and text.strip():
            unit = heading.rsplit("_", 1)[-1]
            for candidate in (unit, "cfm" if kind is Kind.FLOW else ""):
                try:
                    return units.read(text, kind, candidate or None).si
                except (InputError, PortwrightError):
                    continue
    return None
