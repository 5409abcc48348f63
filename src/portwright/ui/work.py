"""Work that takes longer than a blink, kept away from the loop that serves every tablet."""

from __future__ import annotations

import asyncio
import contextvars
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from typing import ParamSpec, TypeVar

P = ParamSpec("P")
T = TypeVar("T")

# Readings have a thread of their own: checks and comparisons may fill all others, and several
# threads that want to write only wait for each other.
_readings = ThreadPoolExecutor(1, thread_name_prefix="readings")
# Work of seconds and minutes has its own as well: pages are read with the usual ones.
SLOW_AT_ONCE = 8
_slow = ThreadPoolExecutor(SLOW_AT_ONCE, thread_name_prefix="slow work")


async def in_thread(function: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
    """Result of ``function`` run beside the event loop."""
    return await asyncio.to_thread(function, *args, **kwargs)


async def at_length(function: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
    """As :func:`in_thread`, for work that a person watches and may stop."""
    return await _run(_slow, function, *args, **kwargs)


async def at_the_bench(function: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
    """As :func:`in_thread`, for the few milliseconds that somebody at the bench waits for."""
    return await _run(_readings, function, *args, **kwargs)


async def _run(
    pool: ThreadPoolExecutor, function: Callable[P, T], *args: P.args, **kwargs: P.kwargs
) -> T:
    # a pool's thread knows nobody; who asked goes with the work, so that roles and log hold there
    asked_by = contextvars.copy_context()
    loop = asyncio.get_running_loop()
    return await loop.run_in_executor(pool, partial(asked_by.run, function, *args, **kwargs))
