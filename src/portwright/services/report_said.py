"""What every part of a report needs: the results, and a language and units to say them in."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from portwright import units
from portwright.archive.archive import Archive
from portwright.catalogue import Words
from portwright.core.comparison import Gain, Verdict
from portwright.model.contents import JobContents
from portwright.model.job import Shop
from portwright.report.document import Bullets
from portwright.services.display import Display
from portwright.services.findings import CheckedJob
from portwright.services.overview import StageStory, Step
from portwright.services.wording import percent, verdict_word
from portwright.units import Kind

_COUNTED = re.compile(
    r"(?P<sweeps>\d+) sweeps in (?P<groups>\d+) groups of repeats"
    r"(, (?P<aside>\d+) set aside as out of line)?"
)
_CAUTIONS = ("bench", "power", "clearances", "walls", "codes", "certifies")


def _digits(unit: str) -> int | None:
    """Inches to the thousandth: a fourth digit is finer than such sizes are measured."""
    return 3 if unit == "in" else None


@dataclass(frozen=True, slots=True)
class Said:
    """Numbers and verdicts in the units and the language of one report."""

    say: Words
    display: Display

    def lift(self, value: float) -> str:
        """A lift without its unit."""
        return self.say.number(self.display.lift_text(value))

    def length(self, value: float, *, small: bool = False) -> str:
        """A length with its unit; ``small`` for clearances and wear."""
        unit = self.display.small_length if small else self.display.length
        return self.say.number(f"{units.show(value, unit, Kind.LENGTH, _digits(unit))} {unit}")

    def bare_length(self, value: float) -> str:
        """A length without its unit."""
        unit = self.display.length
        return self.say.number(units.show(value, unit, Kind.LENGTH, _digits(unit)))

    def area(self, value: float) -> str:
        """An area without its unit."""
        digits = 3 if self.display.area == "in2" else 0
        return self.say.number(units.show(value, self.display.area, Kind.AREA, digits))

    def flow(self, value: float) -> str:
        """A flow without its unit."""
        return self.say.number(self.display.flow_text(value))

    def pressure(self, value: float) -> str:
        """A pressure with its unit."""
        return self.say.number(self.display.pressure_text(value))

    def volume(self, value: float) -> str:
        """A volume in cc, without its unit, to the tenth a burette shows."""
        return self.say.number(units.show(value, "cc", Kind.VOLUME, 1))

    def turns(self, value: float) -> str:
        """A crank speed without its unit, to the nearest 50, as forecasts deserve."""
        return f"{50.0 * round(value / 50.0):.0f}"

    def rpm(self, value: float, unit: str = "short.rpm") -> str:
        """A crank speed with its unit, by the name the catalogue has for it."""
        return f"{self.turns(value)} {self.say(unit)}"

    def gain(self, gain: Gain) -> str:
        """A gain with its interval."""
        return percent(gain, say=self.say)

    def verdict(self, verdict: Verdict) -> str:
        """A verdict."""
        return verdict_word(verdict, self.say)

    def area_unit(self) -> str:
        """Unit of areas as people write it."""
        return units.sign(self.display.area)

    def place(self, text: str) -> str:
        """A place as the program names it: "cyl 4, pinch", in the language."""
        parts = [self.say.or_as_is("place", part) for part in text.split(", ")]
        return re.sub(r"\bcyl(?= \d)", self.say("short.cyl"), ", ".join(parts))

    def typed(self, value: object) -> str:
        """A value as typed, its decimal sign and common units as the language writes them."""
        cc = self.say("short.cc")
        return self.say.number(re.sub(r"(?<=\d) cc\b", f" {cc}", str(value)))

    def condition(self, name: str, value: str) -> str:
        """A condition as noted, its usual words in the language: "bore adapter 90.0 mm"."""
        say = self.say
        return f"{say.or_as_is('condition', name)} {say.number(say.or_as_is('value', value))}"

    def places(self, codes: Iterable[str]) -> str:
        """Places joined: "cyl 1, 2, 3"."""
        return ", ".join(dict.fromkeys(c for c in codes if c))

    def cautions(self) -> Bullets:
        """What every customer has to be told."""
        return Bullets(tuple(self.say(f"caution.{name}") for name in _CAUTIONS))


@dataclass(frozen=True, slots=True, eq=False)
class Gathered:
    """Results of one job, ready to be told.

    Parameters
    ----------
    archive : Archive
    shop : Shop
    checked : CheckedJob
    story : StageStory
    whole : Step
        First against last stage of the port shown.
    said : Said
    pressure : float
        Test pressure at which flow is shown. [Pa]
    names : bool
        Customer's name and serial numbers may be told.
    """

    archive: Archive
    shop: Shop
    checked: CheckedJob
    story: StageStory
    whole: Step
    said: Said
    pressure: float
    names: bool

    @property
    def contents(self) -> JobContents:
        """The job itself."""
        return self.checked.contents

    def repeatability_source(self) -> str:
        """Where the bench's repeatability comes from, in a few words."""
        source = self.checked.repeatability[self.whole.comparison.after.bench].source
        words, say = source.partition(";")[0], self.said.say
        counted = _COUNTED.fullmatch(words)
        if counted is None:
            return say.or_as_is("source", words)
        text = say("source.repeats", sweeps=counted["sweeps"], groups=counted["groups"])
        return text + (say("source.aside", count=counted["aside"]) if counted["aside"] else "")
