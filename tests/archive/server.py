"""A PostgreSQL server of the tests' own: made, used and gone, as a user without rights."""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NoReturn

import pytest

_USER = "nobody"  # the server refuses to run as root


def _cannot(reason: str) -> NoReturn:
    if os.environ.get("PORTWRIGHT_REQUIRE_POSTGRES") == "1":
        pytest.fail(reason)
    pytest.skip(reason)


def _programs() -> Path:
    """Folder of the server's programs; distributions put them off the path."""
    found = shutil.which("initdb")
    folders = [Path(found).resolve().parent] if found else []
    folders += sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
    for folder in folders:
        if (folder / "initdb").exists() and (folder / "postgres").exists():
            return folder
    _cannot("no PostgreSQL server found (Debian: apt-get install postgresql)")


@contextlib.contextmanager
def running(*, durable: bool = True) -> Iterator[str]:
    """Address of a server that runs meanwhile, without a database name.

    Where nothing is pulled out on purpose it need not wait for the disk (``durable=False``).
    """
    if os.name == "nt":
        _cannot("a throw-away server needs a system that can change users")
    programs = _programs()
    as_user: dict[str, Any] = {}
    if os.geteuid() == 0:
        import pwd  # not on Windows

        as_user = {"user": _USER, "group": pwd.getpwnam(_USER).pw_gid}
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    with tempfile.TemporaryDirectory(prefix="portwright-pg-") as outer:
        Path(outer).chmod(0o755)
        folder = Path(outer) / "data"
        folder.mkdir()
        if as_user:
            shutil.chown(folder, _USER)
        make = ["initdb", "-D", str(folder), "-U", "portwright", "-A", "trust", "-E", "UTF8"]
        _run(programs, [*make, "--locale=C", "--no-sync"], as_user)
        settings = ["-p", str(port), "-k", str(folder), "-c", "listen_addresses=127.0.0.1"]
        if not durable:
            for name in ("fsync", "synchronous_commit", "full_page_writes"):
                settings += ["-c", f"{name}=off"]
        with (folder.parent / "log").open("wb") as log:
            server = subprocess.Popen(
                [str(programs / "postgres"), "-D", str(folder), *settings],
                stdout=log,
                stderr=log,
                stdin=subprocess.DEVNULL,
                cwd="/",
                **as_user,
            )
        try:
            ready = [str(programs / "pg_isready"), "-h", "127.0.0.1", "-p", str(port), "-t", "60"]
            while subprocess.run(ready, capture_output=True, check=False).returncode:
                if server.poll() is not None:
                    _cannot("the server did not start")
            yield f"postgresql://portwright@127.0.0.1:{port}"
        finally:
            # ends open connections too; without writing everything down where nobody needs it
            server.send_signal(signal.SIGINT if durable else signal.SIGQUIT)
            server.wait()


def _run(programs: Path, command: list[str], as_user: dict[str, Any]) -> None:
    done = subprocess.run(
        [str(programs / command[0]), *command[1:]],
        capture_output=True,
        check=False,
        cwd="/",
        **as_user,
    )
    if done.returncode:
        _cannot(f"{command[0]}: {done.stderr.decode(errors='replace')[-300:]}")
