"""Work that takes longer than a blink, kept away from the loop that serves every tablet."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import ParamSpec, TypeVar

P = ParamSpec("P")
T = TypeVar("T")


async def in_thread(function: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
    """Result of ``function`` run beside the event loop."""
    return await asyncio.to_thread(function, *args, **kwargs)
