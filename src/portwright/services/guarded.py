"""Reading files that people send, in a process of its own with limits of time and memory.

A file made to harm, or only absurd, then ends that process and not the app every tablet hangs on.
Off until the app switches it on: a command reads one file and ends anyway.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing import get_context
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any, ParamSpec, TypeVar

from portwright.errors import ImportFileError, PortwrightError
from portwright.services.shop_log import Event, note

P = ParamSpec("P")
T = TypeVar("T")

SECONDS = 120.0  # for one file [s]
MEMORY = 2 * 1024**3  # of the process that reads it [bytes]
_LOOK_EVERY = 0.05  # [s]


@dataclass(frozen=True, slots=True)
class _Refused:
    """An error as it travels between processes: its kind and its two sentences."""

    kind: type[PortwrightError]
    message: str
    hint: str

    def error(self) -> PortwrightError:
        made = self.kind.__new__(self.kind)
        PortwrightError.__init__(made, self.message, self.hint)
        return made


def _serve(here: Connection, memory: int) -> None:
    """Work until the other end is gone."""
    _limit_memory(memory)
    with contextlib.suppress(EOFError, OSError):
        while True:
            function, args, kwargs = here.recv()
            try:
                answer: Any = function(*args, **kwargs)
            except PortwrightError as error:
                answer = _Refused(type(error), error.message, error.hint)
            except MemoryError:
                answer = _Refused(ImportFileError, *_too_much("memory"))
            here.send(answer)


def _too_much(what: str) -> tuple[str, str]:
    return (
        f"This file needs more {what} to read than any sheet, scan or photo should.",
        "Check that it is the right file; save a smaller copy of it.",
    )


def _limit_memory(memory: int) -> None:
    """Let the system itself refuse, where it can; elsewhere the other process watches."""
    if sys.platform == "linux":
        import resource  # not on Windows

        used = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0])
        limit = used * resource.getpagesize() + 2 * memory  # address space, of which part is used
        resource.setrlimit(resource.RLIMIT_AS, (limit, limit))


def memory_of(process: int) -> int:
    """Memory a process has in use, 0 where the system does not say. [bytes]"""
    try:
        if sys.platform == "linux":
            pages = int(Path(f"/proc/{process}/statm").read_text(encoding="ascii").split()[1])
            return pages * os.sysconf("SC_PAGE_SIZE")
        if sys.platform == "win32":
            return _windows_memory_of(process)
        told = subprocess.run(  # noqa: S603 - a number of our own
            ["/bin/ps", "-o", "rss=", "-p", str(process)], capture_output=True, check=False
        )
        return int(told.stdout) * 1024
    except (OSError, ValueError, IndexError):
        return 0


class _Counters(ctypes.Structure):
    """``PROCESS_MEMORY_COUNTERS``."""

    _fields_ = (
        ("cb", ctypes.c_uint32),
        ("PageFaultCount", ctypes.c_uint32),
        *((name, ctypes.c_size_t) for name in ("PeakWorkingSetSize", "WorkingSetSize")),
        ("others", ctypes.c_size_t * 6),
    )


def _windows_memory_of(process: int) -> int:
    kernel: Any = ctypes.CDLL("kernel32")
    kernel.OpenProcess.restype = ctypes.c_void_p
    handle = kernel.OpenProcess(0x1000, False, process)  # may only be asked about itself
    if not handle:
        return 0
    try:
        counters = _Counters(cb=ctypes.sizeof(_Counters))
        known = kernel.K32GetProcessMemoryInfo(
            ctypes.c_void_p(handle), ctypes.byref(counters), counters.cb
        )
        return int(counters.WorkingSetSize) if known else 0
    finally:
        kernel.CloseHandle(ctypes.c_void_p(handle))


class Reader:
    """A process that reads files, one at a time; it is ended when one takes too much.

    Parameters
    ----------
    seconds : float
        Longest time for one file. [s]
    memory : int
        Most memory of the process. [bytes]
    """

    def __init__(self, seconds: float = SECONDS, memory: int = MEMORY) -> None:
        self._seconds, self._memory = seconds, memory
        self._turn = threading.Lock()
        self._process: BaseProcess | None = None
        self._there: Connection | None = None
        self.most = 0  # most memory seen in use [bytes]

    def read(self, function: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
        """Result of ``function``, worked out in the other process.

        Raises
        ------
        ImportFileError
            It took too long or too much memory, or the process came to an end over it.
        PortwrightError
            What the function itself raises.
        """
        with self._turn:
            there = self._ready()
            there.send((function, args, kwargs))
            answer = self._answer(there)
        if isinstance(answer, _Refused):
            raise answer.error()
        found: T = answer
        return found

    def _ready(self) -> Connection:
        if self._process is None or self._there is None or not self._process.is_alive():
            context = get_context("spawn")
            self._there, here = context.Pipe()
            self._process = context.Process(
                target=_serve, args=(here, self._memory), daemon=True, name="portwright-reader"
            )
            self._process.start()
            here.close()
            # the first file waits for the program to load, which counts against nobody
        return self._there

    def _answer(self, there: Connection) -> Any:
        process = self._process
        assert process is not None  # noqa: S101 - made just before
        started = time.monotonic()
        while not there.poll(_LOOK_EVERY):
            used = memory_of(process.pid or 0)
            self.most = max(self.most, used)
            if used > self._memory:
                self._end()
                raise ImportFileError(*_too_much("memory"))
            if time.monotonic() - started > self._seconds:
                self._end()
                raise ImportFileError(*_too_much("time"))
        try:
            return there.recv()
        except (EOFError, OSError) as error:
            self._end()
            raise ImportFileError(
                "The program that reads files came to an end over this one.",
                "Save the file again in the program that made it; nothing was stored.",
            ) from error

    def _end(self) -> None:
        if self._process is not None:
            self._process.kill()
            self._process.join()
        if self._there is not None:
            self._there.close()
        self._process = self._there = None

    def close(self) -> None:
        """End the process."""
        with self._turn:
            self._end()


_reader: Reader | None = None


def switch_on() -> None:
    """From now on, files are read by :func:`careful` in a process of their own."""
    global _reader  # noqa: PLW0603 - one for the whole app
    _reader = _reader or Reader()


def switch_off() -> None:
    """End that process."""
    global _reader  # noqa: PLW0603 - one for the whole app
    if _reader is not None:
        _reader.close()
    _reader = None


def careful(function: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
    """Result of a function that reads a file, with limits where the app has switched them on.

    Raises
    ------
    ImportFileError
        The file takes too long or too much memory.
    PortwrightError
        What the function itself raises.
    """
    try:
        return _reader.read(function, *args, **kwargs) if _reader else function(*args, **kwargs)
    except PortwrightError as error:
        note(Event.FILE_REFUSED, error=error)
        raise
