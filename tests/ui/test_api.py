"""The HTTP API: its description is kept, tokens are, and a client in plain Python works."""

from __future__ import annotations

import contextlib
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
import schemathesis
import uvicorn
from fastapi import FastAPI
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from schemathesis.checks import not_a_server_error
from schemathesis.core.result import Ok
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)
from starlette.applications import Starlette
from starlette.routing import Mount

from portwright.archive.archive import Archive
from portwright.services import tokens
from portwright.services.tokens import Scope
from portwright.ui.api.service import make_api
from tests.archive import archive_values as values
from tests.ui.conftest import free_port

EXAMPLE = Path(__file__).resolve().parents[2] / "examples" / "bench_client.py"


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Archive]:
    path = tmp_path_factory.mktemp("api") / "api.shop"
    with Archive.create(path) as made:
        made.save(values.shop())
        yield made


@pytest.fixture(scope="module")
def keys(shop: Archive) -> dict[str, dict[str, str]]:
    return {
        scope.value: {"Authorization": f"Bearer {tokens.make(shop, scope.value, scope)}"}
        for scope in Scope
    }


@contextlib.contextmanager
def served(api: FastAPI) -> Iterator[str]:
    """Address of an API that a real server serves."""
    port = free_port()
    app = Starlette(routes=[Mount("/api", api)])
    server = uvicorn.Server(uvicorn.Config(app, port=port, log_level="error"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    try:
        while not server.started:
            thread.join(0.05)
        yield f"http://127.0.0.1:{port}"
    finally:
        server.should_exit = True
        thread.join()


@pytest.fixture(scope="module")
def address(shop: Archive) -> Iterator[str]:
    with served(make_api(shop)) as address:
        yield address


@pytest.fixture(scope="module")
def client(address: str) -> Iterator[httpx.Client]:
    with httpx.Client(base_url=f"{address}/api", timeout=600.0) as made:
        yield made


CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
]


def test_it_does_what_its_description_says(address: str, keys: dict[str, dict[str, str]]) -> None:
    described = schemathesis.openapi.from_url(f"{address}/api/openapi.json")
    operations = [found.ok() for found in described.get_all_operations() if isinstance(found, Ok)]
    assert len(operations) == 12

    @settings(max_examples=70, deadline=None, suppress_health_check=list(HealthCheck))
    @given(st.data())
    def answers(data: st.DataObject) -> None:
        case = data.draw(data.draw(st.sampled_from(operations)).as_strategy())
        answer = case.call(headers=keys["write"])
        case.validate_response(answer, checks=CHECKS)

    answers()


def test_scopes_allow_their_part_and_no_more(
    client: httpx.Client, keys: dict[str, dict[str, str]], shop: Archive
) -> None:
    run = {"port": "I1", "stage": "S0", "bench": "B2"}
    assert client.get("/jobs/J-1", headers=keys["read"]).json()["number"] == "J-1"
    refused = client.post("/jobs/J-1/runs", json=run, headers=keys["read"])
    assert refused.status_code == 403
    assert refused.json()["error"]["code"] == "not-allowed"
    code = client.post("/jobs/J-1/runs", json=run, headers=keys["enter"]).json()["code"]
    place = f"/jobs/J-1/runs/{code}/readings"
    reading = {"lift": "1 mm", "flow": "20,5 cfm"}
    first = client.post(place, json=reading, headers=keys["enter"])
    again = client.post(place, json=reading, headers=keys["enter"])
    assert (first.status_code, first.json()) == (201, again.json())
    other = client.post(place, json=reading | {"flow": "99 cfm"}, headers=keys["enter"])
    assert other.status_code == 409
    assert len(shop.set_aside("J-1", code)) == 1
    assert client.post("/jobs", json={"number": "J-7"}, headers=keys["enter"]).status_code == 403
    assert client.post("/jobs", json={"number": "J-7"}, headers=keys["write"]).status_code == 201
    assert shop.changes(1)[0].who == "token write"


def test_without_a_token_that_works_nothing_is_told(shop: Archive) -> None:
    token = tokens.make(shop, "short-lived", Scope.READ)
    bearer = {"Authorization": f"Bearer {token}"}
    with served(make_api(shop)) as address:
        jobs = f"{address}/api/jobs"
        assert httpx.get(jobs).status_code == 401
        assert httpx.get(jobs, headers=bearer).status_code == 200
        tokens.revoke(shop, "short-lived")
        assert token not in str(shop.setting("tokens"))
        answers = [httpx.get(jobs, headers=bearer).status_code for _ in range(6)]
    assert answers == [401] * 5 + [429]


def test_the_description_needs_nothing_from_elsewhere(client: httpx.Client) -> None:
    described = client.get("/openapi.json").json()
    assert described["openapi"].startswith("3.1")
    text = client.get("/docs").text
    assert "http:" not in text
    assert "https:" not in text
    assert "<script" not in text
    for path in described["paths"]:
        assert f"/api{path}" in text


def test_the_example_client_enters_a_sweep(
    address: str, shop: Archive, keys: dict[str, dict[str, str]]
) -> None:
    token = keys["enter"]["Authorization"].split()[1]
    said = subprocess.run(
        [
            *(sys.executable, str(EXAMPLE), address, token),
            *("J-2", "I1", "S0", "B2", "1 mm=20.5 cfm", "2 mm=41.0 cfm"),
        ],
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    code = said.partition(":")[0]
    assert "2 readings stored" in said
    assert [r.flow.text for r in shop.run(f"J-2/{code}").readings if r.flow] == ["20.5", "41.0"]
