"""Tablets without their drawing: each loads the bench page and speaks to the app over its socket.

What a browser draws costs more processor than what the app does; on a machine that has to run
both, this shows the app's part.
"""

from __future__ import annotations

import ast
import asyncio
import json
import random
import re
import time
import urllib.request
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import socketio

IMPOSSIBLE = "0"  # refused at once: the way there and back without question and disk
_ESCAPED = (("&#36;", "$"), ("&#96;", "`"), ("&gt;", ">"), ("&lt;", "<"), ("&amp;", "&"))


@dataclass(frozen=True)
class _Page:
    """What a loaded page says about itself."""

    query: dict[str, Any]
    pad: int
    listener: str


def _load(address: str, code: str) -> _Page:
    with urllib.request.urlopen(f"{address}/bench?run={code}") as answer:  # noqa: S310
        html = answer.read().decode("utf-8")
    elements = re.search(r"parseElements\(String\.raw`(.*?)`\)", html, re.DOTALL)
    query = re.search(r"query: (\{.*?\}),\n", html)
    if elements is None or query is None:
        raise RuntimeError("the page does not look as expected")
    text = elements[1]
    for escaped, sign in _ESCAPED:
        text = text.replace(escaped, sign)
    for number, element in json.loads(text).items():
        listeners = {e["type"]: e["listener_id"] for e in element.get("events", [])}
        if "number_pad" in str(element.get("component") or element.get("tag")):
            return _Page(ast.literal_eval(query[1]), int(number), listeners["commit"])
    raise RuntimeError("no pad on the page")


class _Tablet:
    """One socket that enters readings as the pad does."""

    def __init__(self, address: str, code: str) -> None:
        self._address, self._page = address, _load(address, code)
        self._socket = socketio.AsyncClient()
        self._answers: asyncio.Queue[dict[str, Any]] = asyncio.Queue()
        self._socket.on("update", self._updated)

    async def connect(self) -> None:
        own = {"tab_id": f"t{random.random()}", "document_id": f"d{random.random()}"}  # noqa: S311
        query = {**self._page.query, **own, "old_tab_id": ""}
        pairs = "&".join(
            f"{k}={str(v).lower() if isinstance(v, bool) else v}" for k, v in query.items()
        )
        await self._socket.connect(
            f"{self._address}?{pairs}",
            headers={"Origin": self._address},
            socketio_path="/_nicegui_ws/socket.io",
            transports=["websocket"],
        )

    async def _updated(self, message: dict[str, Any]) -> None:
        element = message.get(str(self._page.pad)) or message.get(self._page.pad)
        answer = (element or {}).get("props", {}).get("answer")
        if answer and answer.get("token"):
            await self._answers.put(answer)

    async def enter(self, lift: str, text: str) -> float:
        """Send a number and wait until it is acknowledged. [ms]"""
        token = f"{random.random()}"  # noqa: S311
        number = {"token": token, "text": text, "unit": "cfm", "lift": lift, "liftUnit": "mm"}
        start = time.perf_counter()
        for keep in (False, True):
            await self._socket.emit(
                "event",
                {
                    "id": self._page.pad,
                    "client_id": self._page.query["client_id"],
                    "listener_id": self._page.listener,
                    "args": [json.dumps(number | {"range": None, "keep": keep})],
                },
            )
            while True:
                answer = await asyncio.wait_for(self._answers.get(), 60.0)
                if answer["token"] == token and not (keep and answer["state"] == "asked"):
                    break
            if answer["state"] == ("refused" if text == IMPOSSIBLE else "saved"):
                return 1e3 * (time.perf_counter() - start)
            start = time.perf_counter()
        raise RuntimeError(f"not saved: {answer}")

    async def close(self) -> None:
        await self._socket.disconnect()


async def _enter_all(
    address: str, work: Sequence[tuple[str, Sequence[tuple[str, str]]]], pause: tuple[float, float]
) -> tuple[list[float], list[float]]:
    tablets = [_Tablet(address, code) for code, _ in work]
    for tablet in tablets:
        await tablet.connect()
    await asyncio.sleep(30.0)  # the earlier sweeps are worked out meanwhile
    saved: list[float] = []
    refused: list[float] = []

    async def sweep(tablet: _Tablet, numbers: Sequence[tuple[str, str]]) -> None:
        for lift, text in numbers:
            for times, typed in ((refused, IMPOSSIBLE), (saved, text)):
                await asyncio.sleep(random.uniform(*pause))  # noqa: S311
                times.append(await tablet.enter(lift, typed))

    await asyncio.gather(*(sweep(t, n) for t, (_, n) in zip(tablets, work, strict=True)))
    for tablet in tablets:
        await tablet.close()
    return saved, refused


def enter_all(
    address: str, work: Sequence[tuple[str, Sequence[tuple[str, str]]]], pause: tuple[float, float]
) -> tuple[list[float], list[float]]:
    """Times from sent to acknowledged, and to refused, all tablets at once. [ms]

    Each reading follows on a number that no bench can show.  That is refused at once, so what it
    takes is the way there and back on this machine as loaded as it is just then.

    Parameters
    ----------
    address : str
    work : sequence of (run code, sequence of (lift, number))
        One for each tablet.
    pause : tuple of float
        Shortest and longest pause before a reading. [s]
    """
    return asyncio.run(_enter_all(address, work, pause))
