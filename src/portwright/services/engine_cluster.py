"""Simulations on the computers of a Dask cluster."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from importlib import import_module
from typing import TYPE_CHECKING, Any

import portwright
from portwright.core.engine.sweep import Piece, run_piece
from portwright.errors import InputError, SolverError

if TYPE_CHECKING:
    from portwright.services.engine_pool import Done, Runner

_PATIENCE = "20s"  # for the scheduler to answer


def _version() -> str:
    return portwright.__version__


@contextmanager
def on_cluster(address: str) -> Iterator[Runner]:
    """Workers of a cluster, once they are known to run the same version of the program.

    Parameters
    ----------
    address : str
        Of the scheduler, like "tcp://192.168.1.20:8786".

    Raises
    ------
    InputError
        The package is missing, nobody answers, there are no workers or they run another version.
    """
    try:
        distributed: Any = import_module("distributed")  # half typed: taken as it is
    except ImportError as error:
        raise InputError(
            "Work on a cluster needs the package 'distributed', which is not installed.",
            "Install it: pip install 'portwright[cluster]'. Without --cluster the cores of this "
            "computer are used.",
        ) from error
    try:
        client = distributed.Client(address, timeout=_PATIENCE, set_as_default=False)
    except (OSError, ValueError, TimeoutError) as error:
        raise InputError(
            f"No scheduler answers at '{address}'.",
            "Start one there with 'dask scheduler', and workers with 'dask worker ADDRESS'.",
        ) from error
    with client:
        _check(client, address)
        yield lambda pieces: _there(distributed, client, pieces)


def _check(client: Any, address: str) -> None:
    try:
        versions: dict[str, str] = client.run(_version)
    except Exception as error:
        raise InputError(
            f"The workers of '{address}' cannot run Portwright: {error}",
            "Install the same version there.",
        ) from error
    if not versions:
        raise InputError(f"The scheduler at '{address}' has no workers.", "Start some.")
    other = {v for v in versions.values() if v != portwright.__version__}
    if other:
        raise InputError(
            f"Workers of '{address}' run version {', '.join(sorted(other))}, "
            f"this is {portwright.__version__}.",
            "Install the same version there: answers of two versions must not be mixed.",
        )


def _there(distributed: Any, client: Any, pieces: Sequence[Piece]) -> Done:
    # the same piece asked for twice is still two pieces: no guessing whether a call is pure
    waiting = [client.submit(run_piece, piece, pure=False) for piece in pieces]
    try:
        for future in distributed.as_completed(waiting, loop=client.loop):
            yield future.result()
    except (distributed.KilledWorker, OSError) as error:
        raise SolverError(
            f"The cluster lost a piece of work: {error}",
            "See that its workers are alive, then ask again: what is done is kept.",
        ) from error
    finally:
        client.cancel(waiting)
