"""What a report says, as finished text: nothing below this line knows about units or physics."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Fact:
    """A label with its value."""

    label: str
    value: str


@dataclass(frozen=True, slots=True)
class WorkStep:
    """One stage of work with its verdict."""

    stage: str
    change: str
    verdict: str


@dataclass(frozen=True, slots=True)
class GainRow:
    """One line of the before/after table."""

    lift: str
    before: str
    after: str
    gain: str
    verdict: str


@dataclass(frozen=True, slots=True)
class GainTable:
    """The before/after table with what its columns mean and the conditions printed under it."""

    title: str
    lift_heading: str
    before_heading: str
    after_heading: str
    rows: tuple[GainRow, ...]
    conditions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class JobReport:
    """A two-page report.

    Parameters
    ----------
    shop, shop_line : str
        Name and address line of the shop.
    title : str
    facts : tuple of Fact
        Who, what and when.
    summary : tuple of str
        The answer first, in plain sentences.
    came_in : tuple of str
        What was found on arrival.
    steps : tuple of WorkStep
    table : GainTable
    charts : tuple of str
        SVG pictures: flow curves, gain with its band.
    chart_captions : tuple of str
    left_out : tuple of str
        Sweeps not used, with the cause.
    unchecked : tuple of str
        What nobody has checked yet.
    cautions : tuple of str
    footer : str
    labels : dict of str to str
        Headings of the sections.
    """

    shop: str
    shop_line: str
    title: str
    facts: tuple[Fact, ...]
    summary: tuple[str, ...]
    came_in: tuple[str, ...]
    steps: tuple[WorkStep, ...]
    table: GainTable
    charts: tuple[str, ...]
    chart_captions: tuple[str, ...]
    left_out: tuple[str, ...]
    unchecked: tuple[str, ...]
    cautions: tuple[str, ...]
    footer: str
    labels: dict[str, str] = field(default_factory=dict)
