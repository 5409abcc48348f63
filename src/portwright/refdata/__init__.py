"""Data that ships with Portwright, each set labelled with where it came from."""

from __future__ import annotations

from contextlib import AbstractContextManager
from importlib import resources
from pathlib import Path

from portwright.errors import UnknownNameError


def demo_names() -> tuple[str, ...]:
    """File names of the demo shop, all invented data, sorted."""
    folder = resources.files(__name__).joinpath("demo")
    return tuple(sorted(f.name for f in folder.iterdir() if f.name.endswith(".csv")))


def demo_file(name: str) -> AbstractContextManager[Path]:
    """One file of the demo shop as a path, for the length of a ``with`` block.

    Parameters
    ----------
    name : str
        File name, one of :func:`demo_names`.

    Raises
    ------
    UnknownNameError
        No such file in the demo shop.
    """
    if name not in demo_names():
        raise UnknownNameError("demo file", name, demo_names())
    return resources.as_file(resources.files(__name__).joinpath("demo", name))
