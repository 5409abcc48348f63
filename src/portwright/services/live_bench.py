"""The instruments of the shop while they are listened to, for all screens of this computer."""

from __future__ import annotations

import queue
import secrets
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from typing import Any

from portwright.errors import InputError, PortwrightError
from portwright.io.instruments.reader import ROOM, Contact, Line, Reader, Standing
from portwright.io.instruments.transports import Transport, open_transport
from portwright.model.instrument import Instrument, Link
from portwright.services import instruments, live_trace, settle_rules
from portwright.services.capture import OpenSweep
from portwright.services.display import Display
from portwright.services.live_flow import LiveFlow
from portwright.services.live_sweep import LiveSweep, Step
from portwright.services.live_trace import Event
from portwright.services.shop_file import ShopFile
from portwright.units import Kind

_PIECE = 30.0  # a piece of trace is stored at least so often [s]
_IDLE = 60.0  # with the air off or nothing to read, lines are kept for so long only [s]
_ZERO = 3.0  # length over which a zero is averaged [s]
_ZERO_SETTING = "instrument zero"
_ZEROED = ("test_pressure", "meter_pressure", "flow")
_ZERO_MOST = {Kind.PRESSURE: 50.0, Kind.FLOW: 0.002}  # beyond it the air is on [Pa], [m3/s]
_PREVIEW = 8  # lines of each instrument kept for looking at
_QUIET = (Step.AIR, Step.DONE, Step.LINES, Step.RANGE)


@dataclass(frozen=True, slots=True)
class Zero:
    """What the gauges showed with the air off.

    Parameters
    ----------
    values : dict of str to float
        By channel. [SI]
    taken_at : str
        UTC, "" where none was taken.
    """

    values: dict[str, float]
    taken_at: str = ""


def kept_zero(shop: ShopFile) -> Zero:
    """Zero last taken."""
    found: dict[str, Any] = shop.setting(_ZERO_SETTING) or {}
    return Zero({n: float(v) for n, v in found.get("values", {}).items()}, found.get("at", ""))


@dataclass(slots=True)
class _Attached:
    """A sweep that is being taken live."""

    live: LiveSweep
    place: tuple[str, str, str]
    run: str
    header: dict[str, Any]
    entries: list[Line | Event]
    stored: int
    noted: int = 0
    begun: float = 0.0
    active: float = 0.0
    screens: int = 0


class LiveBench:
    """Readers of all instruments, and the sweeps that listen.

    Parameters
    ----------
    shop : ShopFile
    described : sequence of Described
        Instruments; those of the shop when left out.
    open_wire : callable
        How they are reached.
    """

    def __init__(
        self,
        shop: ShopFile,
        described: list[instruments.Described] | None = None,
        open_wire: Callable[[Instrument], Transport] = open_transport,
    ) -> None:
        self._shop = shop
        self._described = instruments.described(shop) if described is None else described
        self._lines: queue.Queue[Line] = queue.Queue(ROOM)
        self._readers = [Reader(d.instrument, self._lines, open_wire) for d in self._described]
        self._lock = threading.RLock()
        self._attached: dict[str, _Attached] = {}
        self._seen: dict[str, deque[Line]] = {
            r.instrument.name: deque(maxlen=_PREVIEW) for r in self._readers
        }
        self._contact = {r.instrument.name: Contact.CONNECTING for r in self._readers}
        self._zeroing: deque[Line] = deque(maxlen=4000)
        self._stop = threading.Event()
        self.trouble = ""
        self.handled = 0
        self._thread = threading.Thread(target=self._pump, name="live bench", daemon=True)

    def start(self) -> None:
        """Begin to listen."""
        for reader in self._readers:
            reader.start()
        self._thread.start()

    def stop(self) -> None:
        """End; what was heard is stored first."""
        for reader in self._readers:
            reader.stop()
        self._stop.set()
        if self._thread.ident is not None:
            self._thread.join()
        for run in list(self._attached):
            self.flush(run)

    @property
    def instruments(self) -> tuple[Instrument, ...]:
        """What is listened to."""
        return tuple(d.instrument for d in self._described)

    @property
    def typing(self) -> list[str]:
        """Names of those that type like a keyboard."""
        return [i.name for i in self.instruments if i.connection.link is Link.KEYS]

    def standing(self) -> dict[str, Standing]:
        """How it stands with each instrument."""
        return {r.instrument.name: r.standing for r in self._readers}

    def seen(self, name: str) -> list[Line]:
        """Newest lines of an instrument."""
        with self._lock:
            return list(self._seen.get(name, ()))

    def type(self, name: str, line: str) -> None:
        """A line that an instrument typed into the screen."""
        for reader in self._readers:
            if reader.instrument.name == name:
                reader.type(line)

    # --- the sweeps that listen ----------------------------------------------------------------

    def attach(self, sweep: OpenSweep) -> LiveSweep:
        """Let a sweep listen; the same for every screen that shows it.

        Raises
        ------
        InputError
            The instruments do not send what the bench's calibration needs.
        """
        run = sweep.run
        with self._lock:
            there = self._attached.get(run.code)
            if there is not None:
                there.screens += 1
                return there.live
        own = [d for d in self._described if d.instrument.bench in {"", run.bench}]
        told = tuple(d.instrument for d in own)
        flow = LiveFlow(sweep.calibration, told)
        rule = settle_rules.in_force(self._shop)
        zero = kept_zero(self._shop)
        live = LiveSweep(flow, told, rule, zero.values, has_ranges=bool(sweep.ranges))
        header = {
            "run": run.code,
            "job": run.job,
            "port": run.port,
            "stage": run.stage,
            "bench": run.bench,
            "calibration": sweep.calibration.version,
            "instruments": [d.text for d in own],
            "zero": zero.values,
            "zero_taken_at": zero.taken_at,
            "rule": asdict(rule),
            "lifts": [[t.text, t.unit] for t in sweep.lifts.lifts],
            "session": secrets.token_hex(8),
            "begun_at": datetime.now(UTC).isoformat(timespec="seconds"),
        }
        stored = live_trace.pieces(self._shop, run.job, run.code)
        with self._lock:
            made = self._attached.setdefault(
                run.code,
                _Attached(live, (run.job, run.port, run.stage), run.code, header, [], stored),
            )
            made.screens += 1
            made.begun = made.active = time.monotonic()
            return made.live

    def detach(self, run: str) -> None:
        """One screen less; the last one ends the trace."""
        with self._lock:
            there = self._attached.get(run)
            if there is None:
                return
            there.screens -= 1
            if there.screens > 0:
                return
        self.flush(run)
        with self._lock:
            self._attached.pop(run, None)

    @contextmanager
    def held(self) -> Iterator[None]:
        """While a sweep is looked at or changed, no line is fed."""
        with self._lock:
            yield

    def flush(self, run: str) -> None:
        """Store what was heard since the last piece."""
        with self._lock:
            there = self._attached.get(run)
            if there is None or not there.entries:
                return
            entries, there.entries = there.entries, []
            there.stored += 1
            number, there.begun = there.stored, time.monotonic()
        data = live_trace.pack(there.header | {"piece": number}, entries)
        caption = f"what the instruments sent during {run}"
        live_trace.store(self._shop, there.place, run, number, data, caption)

    # --- the thread that feeds -----------------------------------------------------------------

    def _pump(self) -> None:
        while not self._stop.is_set() or not self._lines.empty():
            try:
                lines = [self._lines.get(timeout=0.05)]
            except queue.Empty:
                lines = []
            with self._lock:
                while len(lines) < 500 and not self._lines.empty():
                    lines.append(self._lines.get_nowait())
                self._look_at_contact()
                for line in lines:
                    self._hear(line)
            self._store_old_pieces()

    def _hear(self, line: Line) -> None:
        self.handled += 1
        self._seen[line.source].append(line)
        self._zeroing.append(line)
        for there in self._attached.values():
            there.live.feed(line)
            there.entries.extend(there.live.events[there.noted :])
            there.noted = len(there.live.events)
            if there.live.now().step not in _QUIET:
                there.active = line.time
            if line.time - there.active <= _IDLE:
                there.entries.append(line)

    def _look_at_contact(self) -> None:
        now = time.monotonic()
        for reader in self._readers:
            name, standing = reader.instrument.name, reader.standing
            before, self._contact[name] = self._contact[name], standing.contact
            good = standing.contact is Contact.CONNECTED
            if good is (before is Contact.CONNECTED) or standing.contact is Contact.CONNECTING:
                continue
            why = standing.why or "It is connected but sends nothing."
            for there in self._attached.values():
                if good:
                    there.live.contact_made(now, name)
                else:
                    there.live.contact_lost(now, name, why)

    def _store_old_pieces(self) -> None:
        now = time.monotonic()
        for run, there in list(self._attached.items()):
            if there.entries and now - there.begun > _PIECE:
                try:
                    self.flush(run)
                    self.trouble = ""
                except PortwrightError as error:
                    self.trouble = f"The trace cannot be stored. {error}"

    # --- zero ----------------------------------------------------------------------------------

    def take_zero(self) -> Zero:
        """Average what the gauges show with the air off, and keep it.

        Raises
        ------
        InputError
            Nothing was heard, or the air is on.
        """
        with self._lock:
            lines = list(self._zeroing)
        readers = {i.name: instruments.LineReader(i) for i in self.instruments}
        heard: dict[str, list[float]] = {}
        newest = max((line.time for line in lines), default=0.0)
        for line in lines:
            if line.time < newest - _ZERO or line.cut:
                continue
            for name, value in (readers[line.source].read(line.text) or {}).items():
                if name in _ZEROED:
                    heard.setdefault(name, []).append(value)
        if not heard or newest < time.monotonic() - _ZERO:
            raise InputError("The gauges send nothing now.", "Look at the cable, then zero again.")
        values = {name: sum(all_) / len(all_) for name, all_ in heard.items()}
        for name, value in values.items():
            kind = instruments.CHANNELS[name]
            if kind is not None and abs(value) > _ZERO_MOST[kind]:
                shop = Display.of(self._shop.shop())
                shown = (
                    shop.pressure_text(value)
                    if kind is Kind.PRESSURE
                    else f"{shop.flow_text(value)} {shop.flow}"
                )
                raise InputError(
                    f"The {name.replace('_', ' ')} shows {shown}.",
                    "Switch the air off and wait until it is still, then zero again.",
                )
        zero = Zero(values, datetime.now(UTC).isoformat(timespec="seconds"))
        self._shop.save_setting(_ZERO_SETTING, {"values": values, "at": zero.taken_at})
        with self._lock:
            for there in self._attached.values():
                there.live.zero = dict(values)
                there.live.events.append(Event(newest, "zero", dict(values)))
                there.live.go_on()
        return zero
