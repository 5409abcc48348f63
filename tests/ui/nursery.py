"""Starts apps from a process that has loaded everything already: a fork instead of ten imports.

Each line of input is one app: shop file, port, "lan" or "own", log file and a module to import
first or "", parted by tabs.  The answer is its process id.  The apps are ended from outside.
"""

from __future__ import annotations

import importlib
import os
import pkgutil
import signal
import sys
from pathlib import Path


def load() -> None:
    """Import all that an app imports when it starts."""
    from portwright.ui import pages

    importlib.import_module("portwright.ui.app")
    for module in pkgutil.iter_modules(pages.__path__):
        importlib.import_module(f"{pages.__name__}.{module.name}")


def live(shop: str, port: str, where: str, log: str, extra: str) -> None:
    """Be one app until killed."""
    with Path(log).open("ab") as out:
        os.dup2(out.fileno(), 1)
        os.dup2(out.fileno(), 2)
    with Path(os.devnull).open("rb") as nothing:
        os.dup2(nothing.fileno(), 0)
    os.chdir(Path(shop).parent)
    from portwright.ui.app import run_app

    if extra:
        importlib.import_module(extra)
    run_app(Path(shop), port=int(port), lan=where == "lan", open_browser=False)


def main() -> None:
    """Bear apps until the input ends."""
    load()
    usual = signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # the system buries the dead
    for line in sys.stdin:
        born = os.fork()
        if born == 0:
            signal.signal(signal.SIGCHLD, usual)
            live(*line.rstrip("\n").split("\t"))
            os._exit(0)
        sys.stdout.write(f"{born}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
