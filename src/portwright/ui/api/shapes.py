"""What goes in and out of the API, and what each part means."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

Name = Annotated[str, StringConstraints(min_length=1, max_length=120, pattern=r"^[^\x00-\x1f]+$")]
Text = Annotated[str, StringConstraints(max_length=4000, pattern=r"^[^\x00]*$")]
Value = Annotated[str, StringConstraints(min_length=1, max_length=60, pattern=r"^[^\x00-\x1f]+$")]


class _Shape(BaseModel):
    model_config = ConfigDict(extra="forbid")


class Problem(_Shape):
    """What is wrong and what to do about it."""

    code: str
    message: str
    hint: str


class Refusal(_Shape):
    """An error, of the same shape everywhere."""

    error: Problem


class ShopOut(_Shape):
    """The shop's own facts."""

    name: str
    town: str
    length_unit: str
    flow_unit: str
    pressure_unit: str


class HealthItemOut(_Shape):
    """One thing that was looked at: how it is, and what was found as values."""

    name: str
    state: str
    facts: dict[str, Any]


class HealthOut(_Shape):
    """How the shop's records are: good, look (see to it) or bad."""

    at: str
    state: str
    items: list[HealthItemOut]


class BenchOut(_Shape):
    """A flow bench."""

    code: str
    name: str
    kind: str


class JobLineOut(_Shape):
    """A job as it stands in the list."""

    number: str
    opened: str
    customer: str
    vehicle: str
    casting: str
    runs: int


class JobIn(_Shape):
    """A new job."""

    number: Name
    customer: Text = ""
    vehicle: Text = ""
    casting: Annotated[str, StringConstraints(max_length=120, pattern=r"^[^\x00]*$")] = ""
    goal: Text = ""


class PortOut(_Shape):
    """A port of a job."""

    code: str
    side: str


class StageOut(_Shape):
    """A stage of work."""

    code: str
    note: str


class RunLineOut(_Shape):
    """A sweep without its readings."""

    code: str
    port: str
    stage: str
    bench: str
    repeat: int
    date: str
    readings: int
    left_out: str


class JobOut(_Shape):
    """A job with what hangs on it."""

    number: str
    opened: str
    customer: str
    vehicle: str
    casting: str
    goal: str
    ports: list[PortOut]
    stages: list[StageOut]
    runs: list[RunLineOut]


class ValueOut(_Shape):
    """A value as typed, and in SI."""

    text: str
    unit: str
    si: float


class ReadingOut(_Shape):
    """A reading: lift and the channels that were read."""

    lift: ValueOut
    values: dict[str, ValueOut]


class RunOut(_Shape):
    """A sweep with its readings."""

    code: str
    job: str
    port: str
    stage: str
    bench: str
    date: str
    readings: list[ReadingOut]


class RunIn(_Shape):
    """A sweep to begin; the run code is given by the shop."""

    port: Name
    stage: Name
    bench: Name


class RunBegun(_Shape):
    """The code of a sweep that was begun."""

    code: str


class ReadingIn(_Shape):
    """A reading: numbers with their unit, as "3 mm" or "50.2 cfm"."""

    lift: Value
    flow: Value | None = None
    percent: Value | None = None
    meter_pressure: Value | None = None
    test_pressure: Value | None = None
    air_temperature: Value | None = None
    meter_temperature: Value | None = None
    barometer: Value | None = None
    humidity: Value | None = None
    leak: Value | None = None
    test_pressure_zero: Value | None = None
    meter_pressure_zero: Value | None = None


class ReadingStored(_Shape):
    """A reading that is on disk."""

    id: int
    position: int


class NoteIn(_Shape):
    """A remark on a job."""

    text: Annotated[str, Field(min_length=1, max_length=4000, pattern=r"^[^\x00]+$")]
    author: Annotated[str, StringConstraints(max_length=120, pattern=r"^[^\x00]*$")] = ""


class Done(_Shape):
    """It is stored."""

    stored: bool = True


class FindingOut(_Shape):
    """Something a person should look at."""

    code: str
    severity: str
    run: str
    port: str
    stage: str
    message: str
    hint: str


class ComparisonOut(_Shape):
    """What a change did, in a sentence, and what limits saying so."""

    sentence: str
    before: str
    after: str
    findings: list[FindingOut]
