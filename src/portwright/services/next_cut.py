"""Where to cut next on a port, with reasons, and when to stop."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from portwright.core.comparison import Verdict
from portwright.core.port import candidates
from portwright.core.port.candidates import Candidate, GainRange, ranked, section_gain
from portwright.core.port.limits import PortLimits
from portwright.core.port.velocity import Zone
from portwright.errors import RangeError
from portwright.model.contents import JobContents
from portwright.model.head import Side
from portwright.services.class_rules import ClassLimit
from portwright.services.display import Display
from portwright.services.metal import Wall
from portwright.services.overview import StageStory
from portwright.services.port_air import BenchFlow, EngineSpeed, StationAir
from portwright.services.port_profile import PortProfile
from portwright.services.stations import How, Station
from portwright.services.sweeps import port_named
from portwright.services.valves import latest
from portwright.services.velocity_maps import VelocityMap
from portwright.services.wording import percent

# Whether there is metal, under a name screens may use.
Room = candidates.Room

_TRIAL_CUT = 0.5e-3  # cut the expectation counts with where the wall is not known, our choice [m]
_DEEPEST_CUT = 1.0e-3  # nobody takes more before testing again, our choice [m]
_ACTIONS = {
    "opening": "Open the entry, taper kept",
    "pinch": "Widen the pinch",
    "guide boss": "Narrow the guide boss",
    "short side": "Widen the short side rather than lower it, radius kept",
    "bowl": "Open the bowl",
    "throat": "Open the throat",
}
# Side of the section a wall at the landmark runs along: what one millimetre off it adds.
_SIDE = {"pinch": "pinch height", "short side": "short side width", "opening": "opening height"}
_ROUND = frozenset({"throat", "bowl"})
_BADLY_SHARED = (Zone.CROWDED, Zone.FAST, Zone.UNSTEADY, Zone.BACKFLOW)
_NO_VOLUME = 0.05e-6  # a burette reads to a tenth of a cc [m3]
_LITTLE_VOLUME = 2e-6  # worth a word, our choice [m3]
_NEAR = 1.10  # a narrow place this much above the smallest is still looked at, our choice


@dataclass(frozen=True, slots=True)
class Advice:
    """What to do next on a port.

    Parameters
    ----------
    candidates : tuple of Candidate
        In the order to look at them.
    leave : tuple of str
        Places to leave alone, each a sentence.
    stop : bool
    stop_reasons : tuple of str
        What bears on stopping, each a sentence.
    stop_words : tuple of str
        Those of them that mean stop.
    class_words : tuple of str
        Class rules that bear on the port.
    """

    candidates: tuple[Candidate, ...]
    leave: tuple[str, ...]
    stop: bool
    stop_reasons: tuple[str, ...]
    stop_words: tuple[str, ...]
    class_words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Evidence:
    """Everything known of a port at a stage.

    Parameters
    ----------
    contents : JobContents
    profile : PortProfile
    walls : tuple of Wall
        That concern the port.
    rules : tuple of ClassLimit
    maps : tuple of VelocityMap
    flow : BenchFlow or None
    air : tuple of StationAir
        At the stations of the profile, empty without a flow.
    engine : EngineSpeed or None
        None where bore and stroke are not known.
    story : StageStory or None
        None where the port has no two stages with sweeps.
    """

    contents: JobContents
    profile: PortProfile
    walls: tuple[Wall, ...]
    rules: tuple[ClassLimit, ...]
    maps: tuple[VelocityMap, ...] = ()
    flow: BenchFlow | None = None
    air: tuple[StationAir, ...] = ()
    engine: EngineSpeed | None = None
    story: StageStory | None = None


def next_cut(evidence: Evidence, limits: PortLimits, display: Display) -> Advice:
    """Candidates in order, places to leave, and whether to stop."""
    found = [_candidate(evidence, station, limits, display) for station in _places(evidence)]
    means_stop, reasons = _stop(evidence, found, limits)
    return Advice(
        ranked(found),
        _leave(evidence),
        bool(means_stop),
        (*means_stop, *reasons),
        means_stop,
        _class_words(evidence.rules),
    )


def _places(evidence: Evidence) -> list[Station]:
    """Stations worth looking at: narrow, of an unusual ratio, or where the air is badly shared."""
    profile = evidence.profile
    least = profile.smallest_station.area
    chosen = {i for i in profile.narrow if profile.stations[i].area <= _NEAR * least}
    small = {k for k, r in profile.ratios.items() if r.value < r.low}
    wanted = {"throat" if k == "throat area" else k for k in small}
    wanted |= {m.landmark for m in evidence.maps if m.marked(*_BADLY_SHARED)}
    chosen |= {i for i, s in enumerate(profile.stations) if s.landmark and s.landmark in wanted}
    return [profile.stations[i] for i in sorted(chosen)]


def _candidate(
    evidence: Evidence, station: Station, limits: PortLimits, display: Display
) -> Candidate:
    walls = [w for w in evidence.walls if w.landmark and w.landmark == station.landmark]
    port = port_named(evidence.contents, evidence.profile.port)
    room, cut, wall_words = _room(walls, station.landmark, port.side if port else None, display)
    room, cut, class_words = _class_room(evidence, station, room, cut, display)
    caution = [*class_words, *wall_words]
    expected = None
    if evidence.flow is not None and room is not Room.NONE:
        expected, trouble = _expected(evidence, station, cut)
        caution += trouble
    name = station.landmark or station.name(display)
    action = _ACTIONS.get(station.landmark, f"Open the section {station.name(display)}")
    why = _section_reasons(evidence, station, limits, display)
    why += _map_reasons(evidence, station, display)
    if station.landmark == "short side":
        caution.append("Lowering it can make the air leave the floor at high lift: test after it.")
    if evidence.profile.stage and evidence.flow and evidence.flow.stage != evidence.profile.stage:
        caution.append(
            f"The flow is of {evidence.flow.stage}, the sizes are of {evidence.profile.stage}."
        )
    return Candidate(name, action, tuple(why), room, cut, expected, tuple(caution))


def _room(
    walls: Sequence[Wall], landmark: str, side: Side | None, display: Display
) -> tuple[Room, float | None, list[str]]:
    thin = [w for w in walls if not w.state.allows_cutting]
    # a reading that names neither side may forbid a cut in an exhaust port, but not allow it
    free = [
        w for w in walls if w.state.allows_cutting and not (side is Side.EXHAUST and _unsided(w))
    ]
    if not thin and not free:
        shown = display.length_text(_TRIAL_CUT)
        return (
            Room.UNKNOWN,
            _TRIAL_CUT,
            [f"Sound the wall first; the expectation is for {shown} off {_wall_of(landmark)}."],
        )
    words = [
        f"No metal here: {w.place}, {display.length_text(w.now)} left, limit "
        f"{display.length_text(w.limits.least)} ({w.state.value})."
        for w in thin
    ]
    if not free:
        return Room.NONE, None, words
    most = max(free, key=lambda w: w.to_take)
    words.append(
        f"{most.place}: {display.length_text(most.now)} left, "
        f"{display.length_text(most.to_take)} may go; the other sides were not sounded."
    )
    if _unsided(most):
        words.append("The reading does not say which port of the cylinder it is for.")
    return Room.THERE, min(most.to_take, _DEEPEST_CUT), words


def _class_room(
    evidence: Evidence, station: Station, room: Room, cut: float | None, display: Display
) -> tuple[Room, float | None, list[str]]:
    """What the class leaves of a cut: its limits on port volume and throat."""
    words = []
    for rule in evidence.rules:
        own = latest(
            evidence.contents, evidence.profile.port, rule.quantity, evidence.profile.stage
        )
        if own is None or rule.most is None:
            continue
        left = rule.most - own.value.si
        if rule.quantity == "port volume" and left <= _NO_VOLUME:
            room, cut = Room.NONE, None
            words.append(f"The class allows no more port volume: {rule.words} ({rule.rule}).")
        elif rule.quantity == "port volume" and left < _LITTLE_VOLUME:
            words.append(f"The class leaves {left * 1e6:.1f} cc of port volume ({rule.rule}).")
        elif rule.quantity == "throat diameter" and station.landmark == "throat":
            if left <= 0.0:
                room, cut = Room.NONE, None
                words.append(f"The class allows no larger throat: {rule.words} ({rule.rule}).")
            elif cut is not None and 0.5 * left < cut:
                cut = 0.5 * left
                shown = display.length_text(left)
                words.append(f"The class leaves {shown} of throat diameter ({rule.rule}).")
    return room, cut, words


def _wall_of(landmark: str) -> str:
    return "the radius" if landmark in _ROUND else "one side"


def _unsided(wall: Wall) -> bool:
    return wall.side is None and wall.subject.startswith("cyl")


def _expected(
    evidence: Evidence, station: Station, cut: float | None
) -> tuple[GainRange | None, list[str]]:
    if evidence.flow is None or cut is None:
        return None, []
    growth = _side_length(evidence, station) * cut / station.area
    try:
        gain = section_gain(evidence.flow.area, station.area, growth)
    except RangeError as error:
        return None, [error.message]
    return gain, []


def _side_length(evidence: Evidence, station: Station) -> float:
    """Length of the wall that is cut: a caliper size, a throat's rim, else a quarter of the rim."""
    profile = evidence.profile
    if station.landmark in _ROUND:
        return math.sqrt(4.0 * math.pi * station.area)  # cut on the radius, all round
    quantity = _SIDE.get(station.landmark)
    measured = quantity and latest(evidence.contents, profile.port, quantity, profile.stage)
    if measured:
        return measured.value.si
    return 0.25 * (station.perimeter or math.sqrt(4.0 * math.pi * station.area))


def _section_reasons(
    evidence: Evidence, station: Station, limits: PortLimits, display: Display
) -> list[str]:
    profile = evidence.profile
    index = profile.stations.index(station)
    area = display.area_text(station.area)
    why = []
    if index == profile.smallest:
        why.append(f"It is the smallest section of the port, {area}.")
    elif index in profile.rivals:
        why.append(f"{area}: it cannot be told from the smallest section.")
    elif index in profile.narrow:
        more = station.area / profile.smallest_station.area - 1.0
        why.append(f"A narrow place, {area}, {100.0 * more:.0f} % over the smallest section.")
    for key, ratio in profile.ratios.items():
        of_throat = station.landmark == "throat" and key in {"throat", "throat area"}
        if (key == station.landmark or of_throat) and ratio.value < ratio.low:
            why.append(
                f"{ratio.name.capitalize()} is {ratio.value:.2f}; {ratio.low:.2f} to "
                f"{ratio.high:.2f} is usual (from memory)."
            )
    if evidence.air and evidence.flow is not None:
        air = evidence.air[index]
        scale = math.sqrt(evidence.flow.pressure / limits.test_pressure)
        if air.mean > limits.metering_velocity * scale:
            why.append(
                f"The air goes through it at {air.mean:.0f} m/s on the bench: it does the metering."
            )
        limit = evidence.engine.velocity_limit if evidence.engine else math.inf
        if air.engine_mean > limit:
            why.append(
                f"At the speed aimed at the piston asks {air.engine_mean:.0f} m/s of it, limit "
                f"{limit:.0f} m/s."
            )
    if station.how is How.CALIPERS and index == profile.smallest:
        why.append(f"Known to {display.area_text(station.uncertainty)} by calipers.")
    return why


def _map_reasons(evidence: Evidence, station: Station, display: Display) -> list[str]:
    why = []
    for found in evidence.maps:
        if not station.landmark or found.landmark != station.landmark:
            continue
        lift = "" if found.lift is None else f" at {display.length_text(found.lift)} lift"
        busy = found.marked(Zone.CROWDED, Zone.FAST)
        if busy:
            worst = busy[0]
            why.append(
                f"The air crowds at {worst.name}: {worst.velocity:.0f} m/s where the plane means "
                f"{found.mean.mean:.0f} m/s{lift}."
            )
        if found.mean.unsteady:
            why.append(f"{100.0 * found.mean.unsteady:.0f} % of the plane is unsteady{lift}.")
    return why


def _leave(evidence: Evidence) -> tuple[str, ...]:
    """Places where cutting would be wrong: lazy air."""
    added = any(rule.forbids_adding for rule in evidence.rules)
    end = "; the class allows no filling." if added else " or fill it."
    return tuple(
        f"{found.plane}, {mark.name}: lazy air, {mark.velocity:.0f} of "
        f"{found.mean.mean:.0f} m/s. Leave it{end}"
        for found in evidence.maps
        for mark in found.marked(Zone.LAZY)
    )


def _stop(
    evidence: Evidence, found: Sequence[Candidate], limits: PortLimits
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Sentences that mean stop, and those that only bear on it."""
    reasons: list[str] = []
    stop: list[str] = []
    steps = evidence.story.steps if evidence.story else ()
    order = [s.code for s in evidence.contents.stages]
    until = order.index(evidence.profile.stage)
    steps = tuple(s for s in steps if s.after in order and order.index(s.after) <= until)
    idle = 0
    for step in reversed(steps):
        bands = step.comparison.result.bands
        if not bands or any(b.gain.verdict is not Verdict.CANT_TELL for b in bands):
            break
        idle += 1
    if idle >= limits.stop_after:
        stop.append(f"The last {idle} cuts changed nothing that can be told from repeatability.")
    elif idle:
        reasons.append(
            f"The last {'cut' if idle == 1 else f'{idle} cuts'} changed nothing that can be told "
            f"from repeatability; {limits.stop_after} in a row mean stop."
        )
    elif steps and steps[-1].comparison.result.bands:
        best = max(steps[-1].comparison.result.bands, key=lambda b: abs(b.gain.gain))
        reasons.append(f"The last work still changed the flow ({percent(best.gain)}).")
    if found and all(c.room is Room.NONE for c in found):
        stop.append("No place worth cutting has metal that wall and class let go.")
    if evidence.maps and all(m.even for m in evidence.maps):
        reasons.append("The velocity maps are even.")
    stop += [
        f"{rule.subject} is over the class limit {rule.words} ({rule.rule})."
        for rule in evidence.rules
        if rule.kept is False
    ]
    return tuple(stop), tuple(reasons)


def _class_words(rules: Iterable[ClassLimit]) -> tuple[str, ...]:
    words = []
    for rule in rules:
        state = {True: "measured, within", False: "measured, over", None: "not checked yet"}
        bears = rule.quantity or rule.forbids_adding
        if bears:
            words.append(
                f"{rule.rule} {rule.subject}: {rule.words} ({state[rule.kept]})."
                if rule.quantity
                else f"{rule.rule} {rule.subject}: {rule.words}."
            )
    return tuple(words)


def gain_words(candidate: Candidate) -> str:
    """Expected direction and range, in words."""
    if candidate.room is Room.NONE:
        return "no metal here"
    if candidate.expected is None:
        return "no flow measured, so no expectation"
    high = 100.0 * candidate.expected.high
    return f"more flow at high lift, 0 to {high:.1f} %"
