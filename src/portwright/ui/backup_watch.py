"""Makes backups while the app is served, as the shop's plan says."""

from __future__ import annotations

import asyncio
import contextlib

from portwright.errors import PortwrightError
from portwright.services import backups
from portwright.services.shop_file import ShopFile
from portwright.ui.work import in_thread

LOOK_EVERY = 60.0  # [s]


async def watch(shop: ShopFile) -> None:
    """Look from time to time whether a backup is due and make it; ends with the app."""
    while True:
        with contextlib.suppress(PortwrightError):  # kept in the state, which the Shop screen shows
            if not shop.read_only and await in_thread(backups.due, shop):
                await in_thread(backups.make, shop)
        await asyncio.sleep(LOOK_EVERY)
