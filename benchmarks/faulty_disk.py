"""A disk that forgets what was not synchronised, or stops taking writes: SQLite's own file layer.

SQLite reaches files through a table of functions.  A copy of the system's table is put in front
of it as the default: every write, synchronisation and deletion is written down before it is passed
on, and may be refused from a chosen one on.  From what was written down, :func:`power_cut` makes
the files as they could lie on the disk had the power failed at any moment: what was synchronised is
there; of the rest any part may be, torn at sectors.
"""

from __future__ import annotations

import contextlib
import ctypes
import ctypes.util
import random
import sqlite3
import sys
from collections.abc import Iterator, Mapping, Sequence
from ctypes import CFUNCTYPE, POINTER, Structure, c_char_p, c_int, c_int64, c_void_p
from dataclasses import dataclass, field
from pathlib import Path

SECTOR = 512  # smallest piece a disk writes whole [bytes]

_Write = CFUNCTYPE(c_int, c_void_p, c_void_p, c_int, c_int64)
_Truncate = CFUNCTYPE(c_int, c_void_p, c_int64)
_Sync = CFUNCTYPE(c_int, c_void_p, c_int)
_Close = CFUNCTYPE(c_int, c_void_p)
_Open = CFUNCTYPE(c_int, c_void_p, c_void_p, c_void_p, c_int, c_void_p)
_Delete = CFUNCTYPE(c_int, c_void_p, c_char_p, c_int)


class _Methods(Structure):
    """``sqlite3_io_methods``, versions 1 to 3."""

    _fields_ = (
        ("iVersion", c_int),
        ("xClose", c_void_p),
        ("xRead", c_void_p),
        ("xWrite", c_void_p),
        ("xTruncate", c_void_p),
        ("xSync", c_void_p),
        ("others", c_void_p * 13),
    )


class _File(Structure):
    _fields_ = (("pMethods", POINTER(_Methods)),)


class _Vfs(Structure):
    """``sqlite3_vfs``, versions 1 to 3."""

    _fields_ = (
        ("iVersion", c_int),
        ("szOsFile", c_int),
        ("mxPathname", c_int),
        ("pNext", c_void_p),
        ("zName", c_char_p),
        ("pAppData", c_void_p),
        ("xOpen", c_void_p),
        ("xDelete", c_void_p),
        ("others", c_void_p * 14),
    )


@dataclass(frozen=True, slots=True)
class Written:
    """Bytes handed to the disk; ``data`` None for a change of length to ``offset``."""

    path: str
    offset: int
    data: bytes | None


@dataclass(frozen=True, slots=True)
class Synced:
    """The disk confirmed all that was written to this file so far."""

    path: str


@dataclass(frozen=True, slots=True)
class Deleted:
    """The file was removed."""

    path: str


@dataclass(frozen=True, slots=True)
class Acknowledged:
    """A person was told that this is stored."""

    token: str


Event = Written | Synced | Deleted | Acknowledged


@dataclass(slots=True)
class Disk:
    """What happened on the disk, and when it stops taking writes.

    Parameters
    ----------
    refuse_with : int
        SQLite result code given from then on; 0 while everything is taken.
    refuse_after : int
        Writes still taken before that.
    """

    events: list[Event] = field(default_factory=list)
    refuse_with: int = 0
    refuse_after: int = 0
    keep: bool = True

    def note(self, event: Event) -> None:
        """Write down one event."""
        if self.keep:
            self.events.append(event)

    def refusal(self) -> int:
        """Result code for the next write, 0 when it is taken."""
        if not self.refuse_with:
            return 0
        if self.refuse_after > 0:
            self.refuse_after -= 1
            return 0
        return self.refuse_with


def library() -> ctypes.CDLL | None:
    """The SQLite that Python itself uses, where it is a library of its own."""
    names: list[str] = []
    if sys.platform == "linux":
        maps = Path("/proc/self/maps").read_text(encoding="utf-8").splitlines()
        names = [line.split()[-1] for line in maps if "libsqlite3" in line][:1]
    elif sys.platform == "win32":
        names = ["sqlite3.dll"]
    else:
        found = ctypes.util.find_library("sqlite3")
        names = [found] if found else []
    for name in names:
        with contextlib.suppress(OSError):
            opened = ctypes.CDLL(name)
            opened.sqlite3_libversion.restype = c_char_p
            if opened.sqlite3_libversion().decode() == sqlite3.sqlite_version:
                return opened
    return None


@contextlib.contextmanager
def faulty(near: Path) -> Iterator[Disk]:
    """Put the layer in front for files whose path begins with ``near``; taken away at the end.

    Raises
    ------
    RuntimeError
        This Python has SQLite built in, where nothing can be put in front.
    """
    sqlite = library()
    if sqlite is None:
        raise RuntimeError("this Python has no SQLite library of its own")
    sqlite.sqlite3_vfs_find.restype = POINTER(_Vfs)
    real = sqlite.sqlite3_vfs_find(None)
    disk = Disk()
    layer = _Layer(real, disk, str(near.resolve()))
    if sqlite.sqlite3_vfs_register(ctypes.byref(layer.table), 1):
        raise RuntimeError("the layer could not be put in front")
    try:
        yield disk
    finally:
        sqlite.sqlite3_vfs_register(real, 1)
        sqlite.sqlite3_vfs_unregister(ctypes.byref(layer.table))
        _KEPT.append(layer)  # a connection closed late still finds its functions


_KEPT: list[_Layer] = []


class _Layer:
    """The table of functions, and everything it needs kept alive."""

    def __init__(self, real: ctypes._Pointer[_Vfs], disk: Disk, near: str) -> None:
        self._disk, self._near = disk, near
        self._names: dict[int, str] = {}
        self._real: dict[int, _Methods] = {}
        self._patched: dict[int, _Methods] = {}
        self._open, self._delete = _Open(real.contents.xOpen), _Delete(real.contents.xDelete)
        self._calls = (
            _Open(self.open),
            _Delete(self.delete),
            _Write(self.write),
            _Truncate(self.truncate),
            _Sync(self.sync),
            _Close(self.close),
        )
        self.table = _Vfs.from_buffer_copy(real.contents)
        self._name = b"portwright-faulty"
        self.table.zName = self._name
        self.table.xOpen, self.table.xDelete = (
            ctypes.cast(call, c_void_p) for call in self._calls[:2]
        )

    def open(self, vfs: int, name: int, file: int, flags: int, out: int) -> int:
        code: int = self._open(vfs, name, file, flags, out)
        path = ctypes.string_at(name).decode() if name else ""
        if code == 0 and path.startswith(self._near):
            methods = ctypes.cast(file, POINTER(_File)).contents
            address = ctypes.addressof(methods.pMethods.contents)
            if address not in self._patched:
                self._real[address] = _Methods.from_buffer_copy(methods.pMethods.contents)
                copy = _Methods.from_buffer_copy(methods.pMethods.contents)
                names = ("xWrite", "xTruncate", "xSync", "xClose")
                for field_name, call in zip(names, self._calls[2:], strict=True):
                    setattr(copy, field_name, ctypes.cast(call, c_void_p))
                self._patched[address] = copy
                self._real[ctypes.addressof(copy)] = self._real[address]
            self._names[file] = path
            methods.pMethods = ctypes.pointer(self._patched[address])
        return code

    def delete(self, vfs: int, name: bytes, sync: int) -> int:
        code: int = self._delete(vfs, name, sync)
        if code == 0 and name.decode().startswith(self._near):
            self._disk.note(Deleted(name.decode()))
        return code

    def _methods(self, file: int) -> _Methods:
        found = ctypes.cast(file, POINTER(_File)).contents.pMethods.contents
        return self._real[ctypes.addressof(found)]

    def write(self, file: int, data: int, size: int, offset: int) -> int:
        refused = self._disk.refusal()
        if refused:
            return refused
        code: int = _Write(self._methods(file).xWrite)(file, data, size, offset)
        if code == 0 and self._disk.keep:
            self._disk.note(Written(self._names[file], offset, ctypes.string_at(data, size)))
        return code

    def truncate(self, file: int, size: int) -> int:
        code: int = _Truncate(self._methods(file).xTruncate)(file, size)
        if code == 0:
            self._disk.note(Written(self._names[file], size, None))
        return code

    def sync(self, file: int, flags: int) -> int:
        if self._disk.refuse_with and self._disk.refuse_after <= 0:
            return self._disk.refuse_with
        code: int = _Sync(self._methods(file).xSync)(file, flags)
        if code == 0:
            self._disk.note(Synced(self._names[file]))
        return code

    def close(self, file: int) -> int:
        code: int = _Close(self._methods(file).xClose)(file)
        self._names.pop(file, None)
        return code


@dataclass(slots=True)
class _OnDisk:
    content: bytearray = field(default_factory=bytearray)
    pending: list[Written] = field(default_factory=list)

    def settle(self) -> None:
        for write in self.pending:
            _apply(self.content, write)
        self.pending.clear()


def _apply(content: bytearray, write: Written) -> None:
    if write.data is None:
        del content[write.offset :]
        return
    if len(content) < write.offset:
        content.extend(bytes(write.offset - len(content)))
    content[write.offset : write.offset + len(write.data)] = write.data


def power_cut(
    before: Mapping[str, bytes], events: Sequence[Event], dice: random.Random
) -> dict[str, bytes]:
    """Files as they may lie on the disk when the power fails after these events.

    Parameters
    ----------
    before : mapping of str to bytes
        Files as they were, safely, before the first event.
    """
    files = {path: _OnDisk(bytearray(content)) for path, content in before.items()}
    for event in events:
        if isinstance(event, Written):
            files.setdefault(event.path, _OnDisk()).pending.append(event)
        elif isinstance(event, Synced):
            files.setdefault(event.path, _OnDisk()).settle()
        elif isinstance(event, Deleted):
            files.pop(event.path, None)
    chance = dice.random()  # how much of the rest reached the disk differs from cut to cut
    for file in files.values():
        for write in file.pending:
            if dice.random() < chance:
                _apply(file.content, _torn(write, dice))
    return {path: bytes(file.content) for path, file in files.items()}


def _torn(write: Written, dice: random.Random) -> Written:
    """All of a write or, now and then, only its first sectors."""
    if write.data is None or len(write.data) <= SECTOR or dice.random() < 0.5:
        return write
    sectors = dice.randrange(0, len(write.data) // SECTOR + 1)
    return Written(write.path, write.offset, write.data[: sectors * SECTOR])
