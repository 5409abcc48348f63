"""Wall readings typed in: thickness, the cut planned there, and what must stay."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from portwright import units
from portwright.core.port.limits import PortLimits
from portwright.errors import InputError, UnknownNameError
from portwright.model.contents import JobContents
from portwright.model.head import Port, Side
from portwright.model.job import Measurement
from portwright.model.quantity import AsTyped
from portwright.services.jobs import today
from portwright.services.landmarks import place_of
from portwright.services.metal import Wall, walls, walls_of_port
from portwright.services.shop_file import ShopFile
from portwright.units import Kind

# Where walls are usually sounded; common practice, and only what the list begins with.
USUAL_PLACES = {
    Side.INTAKE: (
        "pinch, pushrod side",
        "intake roof over bowl",
        "short-side floor to water",
        "guide boss, intake",
    ),
    Side.EXHAUST: ("exhaust roof to water", "exhaust floor", "exhaust bowl to water"),
}


# What can be said of a wall, and the least it may be. [m]
_LEAST = {"wall thickness": 1e-5, "planned cut": 0.0, "wall limit": 1e-5}
_MOST = 0.1  # no wall of a head is thicker [m]


@dataclass(frozen=True, slots=True)
class WallPlace:
    """A place to sound.

    Parameters
    ----------
    subject, place : str
        As stored.
    wall : Wall or None
        What was read there so far.
    """

    subject: str
    place: str
    wall: Wall | None


def wall_subject(port: Port) -> str:
    """What wall readings of a port belong to: its cylinder, else the port."""
    return port.code if port.cylinder is None else f"cyl {port.cylinder}"


def wall_places(
    contents: JobContents, port: Port, stage: str = "", limits: PortLimits | None = None
) -> tuple[WallPlace, ...]:
    """Places of a port that were sounded, then those sounded on its sisters or usual."""
    known = walls(contents, limits, stage)
    own = walls_of_port(contents, port, known)
    found = [WallPlace(w.subject, w.place, w) for w in own]
    subject, have = wall_subject(port), {w.place for w in own}
    other = next((s for s in Side if s is not port.side), port.side)
    sisters = [w.place for w in known if other.value not in w.place.lower()]
    usual = () if sisters else USUAL_PLACES[port.side]
    for place in dict.fromkeys((*sisters, *usual)):
        fits = port.side.value in place.lower() or port.side is Side.INTAKE
        if place not in have and fits:
            found.append(WallPlace(subject, place, None))
    return tuple(found)


def record_wall(
    shop: ShopFile,
    job: str,
    subject: str,
    place: str,
    stage: str,
    numbers: Mapping[str, AsTyped],
    reason: str = "",
) -> Wall:
    """Keep a wall reading, the cut planned there, or what must stay.

    Parameters
    ----------
    subject : str
        Cylinder or port.
    place : str
        In words.
    numbers : mapping of str to AsTyped
        "wall thickness" at the stage; "planned cut" meant to be taken from the first reading;
        "wall limit", what must stay here where it is not the shop's usual figure. [m]
    reason : str
        Why a number that is there already changes.

    Returns
    -------
    Wall
        As it stands now.

    Raises
    ------
    UnknownNameError
        No such stage or subject.
    InputError
        No place, a number not above zero, no reading yet, or a correction without a reason.
    """
    contents = shop.job(job)
    place = place.strip()
    _check(contents, subject, place, stage)
    for quantity, value in numbers.items():
        if quantity not in _LEAST:
            raise UnknownNameError("wall quantity", quantity, _LEAST)
        if not _LEAST[quantity] <= value.si < _MOST:
            raise InputError(
                f"A {quantity} of {value} cannot be.", "Check the number and its unit."
            )
    sounded = any(
        m.quantity == "wall thickness" and _is_at(m, subject, place) for m in contents.measurements
    )
    if "wall thickness" not in numbers and not sounded:
        raise InputError("This wall was not sounded yet.", "Give its thickness first.")
    for quantity in _LEAST:
        if quantity in numbers:
            _keep(shop, job, contents, (subject, place, stage), quantity, numbers[quantity], reason)
    return next(
        w for w in walls(shop.job(job)) if (w.subject, w.place) == (subject, place_of_words(place))
    )


def place_of_words(place: str) -> str:
    """Words of a place as :func:`~portwright.services.metal.walls` names it."""
    nothing = units.typed(0.0, "mm", Kind.LENGTH)
    return place_of(Measurement("", "wall thickness", nothing, place)).words


def present(
    contents: JobContents, subject: str, place: str, stage: str, quantity: str
) -> Measurement | None:
    """What is kept of a wall: a reading of the stage, the plan or the limit of any."""
    found = [
        m
        for m in contents.measurements
        if m.quantity == quantity
        and _is_at(m, subject, place)
        and (m.stage == stage or quantity != "wall thickness")
    ]
    return found[-1] if found else None


def _check(contents: JobContents, subject: str, place: str, stage: str) -> None:
    known = {p.code for p in contents.ports} | {
        f"cyl {p.cylinder}" for p in contents.ports if p.cylinder is not None
    }
    if subject not in known:
        raise UnknownNameError("cylinder or port", subject, sorted(known))
    if stage not in {s.code for s in contents.stages}:
        raise UnknownNameError("stage", stage, (s.code for s in contents.stages))
    if not place_of_words(place):
        raise InputError("The wall has no place.", "Say where: 'pinch, pushrod side'.")


def _is_at(m: Measurement, subject: str, place: str) -> bool:
    return m.subject == subject and place_of(m).words == place_of_words(place)


def _keep(
    shop: ShopFile,
    job: str,
    contents: JobContents,
    at: tuple[str, str, str],
    quantity: str,
    value: AsTyped,
    reason: str,
) -> None:
    subject, place, stage = at
    same = present(contents, subject, place, stage, quantity)
    if same is None:
        instrument = "ultrasonic gauge" if quantity == "wall thickness" else ""
        shop.add_measurements(
            job, [Measurement(subject, quantity, value, place, stage, instrument, today())]
        )
        return
    if same.value == value:
        return
    if not reason.strip():
        raise InputError(
            f"{quantity} of {subject}, {place} is {same.value} already.",
            "Say why it changes; the old value is kept.",
        )
    shop.replace_measurement(job, same, value, reason.strip())
