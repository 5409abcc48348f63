"""Enter a sweep over the HTTP API: a bench computer with nothing but Python's standard library.

python bench_client.py ADDRESS TOKEN JOB PORT STAGE BENCH "1 mm=20.5 cfm" "2 mm=41.0 cfm" ...
"""

from __future__ import annotations

import json
import sys
import urllib.error
import urllib.request
from typing import Any


class Shop:
    """A shop on the network.

    Parameters
    ----------
    address : str
        As in the browser, ``http://192.168.1.20:8080``.
    token : str
        From ``portwright tokens add``.
    """

    def __init__(self, address: str, token: str) -> None:
        self._address, self._token = address.rstrip("/"), token

    def ask(self, path: str, body: dict[str, Any] | None = None) -> Any:
        """Answer to a request; one with a body stores something.

        Raises
        ------
        RuntimeError
            The shop refused, with its reason.
        """
        request = urllib.request.Request(  # noqa: S310 - the address is the user's own
            f"{self._address}/api/{path}",
            data=None if body is None else json.dumps(body).encode(),
            headers={
                "Authorization": f"Bearer {self._token}",
                "Content-Type": "application/json",
            },
        )
        try:
            with urllib.request.urlopen(request, timeout=60) as answer:  # noqa: S310 - same
                return json.load(answer)
        except urllib.error.HTTPError as refused:
            error = json.load(refused)["error"]
            raise RuntimeError(f"{error['message']} {error['hint']}") from refused


def main(address: str, token: str, job: str, port: str, stage: str, bench: str, *rows: str) -> None:
    """Begin a sweep, store its readings, say what looks wrong."""
    shop = Shop(address, token)
    run = shop.ask(f"jobs/{job}/runs", {"port": port, "stage": stage, "bench": bench})["code"]
    for row in rows:
        lift, _, flow = row.partition("=")
        reading = {"lift": lift, "flow": flow, "test_pressure": "28 inH2O"}
        shop.ask(f"jobs/{job}/runs/{run}/readings", reading)
    stored = shop.ask(f"jobs/{job}/runs/{run}")
    print(f"{run}: {len(stored['readings'])} readings stored")  # noqa: T201 - talks to a person
    for finding in shop.ask(f"jobs/{job}/findings"):
        if finding["run"] == run:
            print(f"{finding['severity']}: {finding['message']}")  # noqa: T201 - same


if __name__ == "__main__":
    main(*sys.argv[1:])
