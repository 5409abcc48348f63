"""Finding jobs and opening them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from portwright.archive import joblist
from portwright.errors import InputError
from portwright.model.contents import JobContents, ShopContents
from portwright.model.head import ONE_HEAD, Head, Port, Side
from portwright.model.job import Job, Stage
from portwright.nomenclature import search_words
from portwright.services.shop_file import ShopFile

_MOST = 2000  # jobs looked through
_FIRST_STAGE = Stage("S0", "as received")

# A job as it stands in a list, under a name screens may use.
JobLine = joblist.JobLine


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a person searches jobs by; empty fields do not narrow.

    Parameters
    ----------
    casting : str
        Casting number or a part of it, spaces and dashes ignored.
    customer : str
    since, until : str
        Years.
    words : str
        Anything on the job sheet; known equivalents of a trade word count too.
    """

    casting: str = ""
    customer: str = ""
    since: str = ""
    until: str = ""
    words: str = ""


def _plain(text: str) -> str:
    return re.sub(r"[\W_]+", "", text).casefold()


def year_of(job: Job) -> str:
    """Year a job was opened, "" where nobody noted it."""
    found = re.match(r"\d{4}", job.opened)
    return found[0] if found else ""


def search(shop: ShopFile, wanted: Wanted) -> list[JobLine]:
    """Jobs that fit, newest first."""
    phrases = search_words(wanted.words) if wanted.words.strip() else ("",)
    found: dict[str, JobLine] = {}
    for phrase in phrases:
        for line in shop.job_list(_MOST, phrase.split()):
            found.setdefault(line.job.number, line)
    kept = [line for line in found.values() if _fits(line.job, wanted)]
    return sorted(kept, key=lambda line: (line.job.opened, line.job.number), reverse=True)


def _fits(job: Job, wanted: Wanted) -> bool:
    if wanted.casting and _plain(wanted.casting) not in _plain(job.casting):
        return False
    if wanted.customer.casefold().strip() not in job.customer.casefold():
        return False
    year = year_of(job)
    if wanted.since and (not year or year < wanted.since.strip()):
        return False
    return not (wanted.until and (not year or year > wanted.until.strip()))


def castings(shop: ShopFile) -> list[str]:
    """Castings that jobs name, most frequent first."""
    named = [job.casting for job in shop.jobs() if job.casting]
    return sorted(dict.fromkeys(named), key=lambda c: (-named.count(c), c))


def open_jobs(shop: ShopFile) -> list[JobLine]:
    """Jobs opened on a known day and not delivered yet, newest first."""
    return [
        line
        for line in shop.job_list(_MOST)
        if not line.job.delivered and len(line.job.opened) >= len("2026-01-01")
    ]


def today() -> str:
    """ISO date here."""
    return datetime.now().astimezone().date().isoformat()


def suggest_number(shop: ShopFile, day: str = "") -> str:
    """Next free job number in the manner of the newest one.

    Parameters
    ----------
    day : str
        ISO date for which to suggest; today when left out.
    """
    year = (day or today())[2:4]
    known = {job.number for job in shop.jobs()}
    newest = max(shop.jobs(), key=lambda j: (j.opened, j.number), default=None)
    head, tail = f"{year}-", "000"
    counted = re.fullmatch(r"(.*?)(\d+)", newest.number) if newest else None
    if newest and counted:
        head, tail = counted[1], counted[2]
        old = year_of(newest)[2:]
        if old and old != year and old in head:
            head, tail = head.replace(old, year), "0" * len(tail)
    count = int(tail)
    while True:
        count += 1
        number = f"{head}{count:0{len(tail)}d}"
        if number not in known:
            return number


@dataclass(frozen=True, slots=True)
class NewJob:
    """What is needed to begin; everything else can be written on the job later.

    Parameters
    ----------
    number : str
    customer, vehicle, casting, goal : str
    heads : int
    ports_per_side : int
        Intake ports in all heads together, and as many exhaust ports.
    valves_per_port : int
    """

    number: str
    customer: str = ""
    vehicle: str = ""
    casting: str = ""
    goal: str = ""
    heads: int = 1
    ports_per_side: int = 4
    valves_per_port: int = 1


def new_job(shop: ShopFile, new: NewJob) -> str:
    """Open a job with its heads, ports and first stage, and give its number.

    Raises
    ------
    InputError
        No number, or numbers of heads and ports that do not go together.
    ConflictError
        The number is taken.
    """
    number = new.number.strip()
    if not number:
        raise InputError("The job has no number.", "Type one; the tag on the head carries it.")
    if new.heads < 1 or new.ports_per_side < 1 or new.ports_per_side % new.heads:
        raise InputError(
            f"{new.ports_per_side} ports do not go evenly on {new.heads} heads.",
            "Count the intake ports of all heads together.",
        )
    job = Job(
        number=number,
        opened=today(),
        customer=new.customer.strip(),
        vehicle=new.vehicle.strip(),
        casting=new.casting.strip(),
        goal=new.goal.strip(),
    )
    shop.add_job(job)
    heads = _heads(new)
    first = Stage(_FIRST_STAGE.code, _FIRST_STAGE.note, job.opened)
    contents = JobContents(job, heads=heads, ports=_ports(new, heads), stages=(first,))
    shop.save(ShopContents(jobs=(contents,)))
    return number


def _heads(new: NewJob) -> tuple[Head, ...]:
    names = {1: (ONE_HEAD,), 2: ("L", "R")}.get(
        new.heads, tuple(f"head {n + 1}" for n in range(new.heads))
    )
    return tuple(Head(name, new.casting.strip()) for name in names)


def _ports(new: NewJob, heads: Sequence[Head]) -> tuple[Port, ...]:
    each = new.ports_per_side // len(heads)
    return tuple(
        Port(f"{letter}{n + 1}", side, heads[n // each].code, n + 1, new.valves_per_port)
        for letter, side in (("I", Side.INTAKE), ("E", Side.EXHAUST))
        for n in range(new.ports_per_side)
    )
