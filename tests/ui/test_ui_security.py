"""Who gets in: passphrase, sessions, other sites, guests."""

from __future__ import annotations

import asyncio
import json
import re
import socket
import subprocess
import sys
import urllib.error
import urllib.request
import zipfile
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from urllib.parse import urlencode

import pytest
from playwright.sync_api import expect
from starlette.types import Message, Receive, Scope, Send

from portwright.errors import InputError, NotFoundError, UnknownNameError
from portwright.services import passphrase, shop_file, shop_log, tokens, users
from portwright.ui import links
from portwright.ui.security import LARGEST_UPLOAD, Guard, allowed_host, host_name
from tests.ui.conftest import (
    Server,
    Tablet,
    free_port,
    plain_environment,
    ready,
    serious_violations,
    wait_for,
)

PHRASE = "grey cast iron"
JOB = "TH-26-041"


class _NoRedirect(urllib.request.HTTPRedirectHandler):
    def redirect_request(self, *_: object) -> None:
        return None


def ask(
    address: str,
    data: bytes | None = None,
    headers: Mapping[str, str] | None = None,
) -> tuple[int, Mapping[str, str], str]:
    """Status, headers and body, whatever the status."""
    request = urllib.request.Request(address, data, dict(headers or {}))  # noqa: S310
    try:
        with urllib.request.build_opener(_NoRedirect).open(request, timeout=180) as answer:
            return answer.status, dict(answer.headers), answer.read().decode()
    except urllib.error.HTTPError as error:
        with error:
            return error.code, dict(error.headers), error.read().decode()


@pytest.fixture(scope="module")
def lan(serve: Callable[..., Server], demo_shop: Path) -> Server:
    with shop_file.open_shop(demo_shop) as shop:
        passphrase.set_passphrase(shop, PHRASE)
    return serve(demo_shop, lan=True)


@pytest.fixture(scope="module")
def own(serve: Callable[..., Server]) -> Server:
    return serve()


def test_the_network_stays_shut_without_a_passphrase(tmp_path: Path) -> None:
    from portwright.ui.app import create_app

    with (
        shop_file.create_shop(tmp_path / "new.shop") as shop,
        pytest.raises(InputError, match="only with a shop passphrase"),
    ):
        create_app(shop, lan=True)


def test_the_passphrase_is_kept_as_argon2id(tmp_path: Path) -> None:
    with shop_file.create_shop(tmp_path / "new.shop") as shop:
        with pytest.raises(InputError, match="fewer than"):
            passphrase.set_passphrase(shop, "short")
        passphrase.set_passphrase(shop, PHRASE)
        assert str(shop.setting("passphrase")).startswith("$argon2id$")
        assert passphrase.matches(shop, PHRASE)
        assert not passphrase.matches(shop, PHRASE + "s")
    assert PHRASE.encode() not in (tmp_path / "new.shop").read_bytes()


def test_sessions_end(tmp_path: Path) -> None:
    with shop_file.create_shop(tmp_path / "new.shop") as shop:
        passphrase.set_passphrase(shop, PHRASE)
        token = passphrase.open_session(shop, now=0.0)
        last = passphrase.SESSION_HOURS * 3600.0
        assert passphrase.session_valid(shop, token, now=last - 1.0)
        assert not passphrase.session_valid(shop, token, now=last + 1.0)
        assert not passphrase.session_valid(shop, "", now=0.0)
        kept = passphrase.open_session(shop, now=0.0)
        passphrase.close_session(shop, token)
        assert not passphrase.session_valid(shop, token, now=0.0)
        assert passphrase.session_valid(shop, kept, now=0.0)
        passphrase.set_passphrase(shop, "another phrase")
        assert not passphrase.session_valid(shop, kept, now=0.0)


def test_failed_attempts_make_a_device_wait() -> None:
    attempts = passphrase.Attempts(per_device=2, in_all=3, window=100.0)
    attempts.failed("a", now=0.0)
    assert attempts.wait("a", now=1.0) == 0.0
    attempts.failed("a", now=10.0)
    assert attempts.wait("a", now=20.0) == 80.0  # the first failure is 100 s old then
    assert attempts.wait("b", now=20.0) == 0.0
    attempts.failed("b", now=20.0)
    assert attempts.wait("c", now=30.0) == 70.0  # three in all
    assert attempts.wait("a", now=101.0) == 0.0


@pytest.mark.parametrize(
    ("header", "own_only", "network"),
    [
        ("127.0.0.1:8080", True, True),
        ("localhost", True, True),
        ("[::1]:8080", True, True),
        ("192.168.1.20:8080", False, True),
        ("8.8.8.8", False, False),
        ("shop.example", False, False),
        ("127.0.0.1.example", False, False),
        ("", False, False),
        ("[", False, False),
    ],
)
def test_only_own_names_are_answered(header: str, own_only: bool, network: bool) -> None:
    assert allowed_host(host_name(header), lan=False) is own_only
    assert allowed_host(host_name(header), lan=True) is network


def test_foreign_names_and_sites_are_turned_away(own: Server) -> None:
    assert ask(own.address, headers={"Host": "shop.example"})[0] == 421
    assert ask(own.address)[0] == 200
    assert ask(own.address, headers={"Origin": "http://shop.example"})[0] == 403
    photo = f"{own.address}/photo?job=x"
    assert ask(photo, b"x", {"Origin": "http://shop.example"})[0] == 403
    assert ask(photo, b"x")[0] == 403  # neither origin nor fetch metadata: not a page of ours
    same = {"Origin": own.address}
    status, _, words = ask(photo, b"x", same)
    assert (status, words) == (403, "the page is out of date; reload it.")


def open_socket(server: Server, origin: str) -> str:
    """First line of the answer to a socket's opening, with or without an Origin."""
    lines = [
        "GET /_nicegui_ws/socket.io/?EIO=4&transport=websocket HTTP/1.1",
        f"Host: 127.0.0.1:{server.port}",
        "Connection: Upgrade",
        "Upgrade: websocket",
        "Sec-WebSocket-Version: 13",
        "Sec-WebSocket-Key: AAAAAAAAAAAAAAAAAAAAAA==",
        *([f"Origin: {origin}"] if origin else []),
    ]
    with socket.create_connection(("127.0.0.1", server.port), timeout=180) as raw:
        raw.sendall(("\r\n".join(lines) + "\r\n\r\n").encode())
        return raw.recv(200).partition(b"\r\n")[0].decode()


def test_a_socket_from_another_site_is_refused(own: Server) -> None:
    assert " 101 " in open_socket(own, own.address)
    assert " 403 " in open_socket(own, "http://shop.example")
    assert " 403 " in open_socket(own, "")
    polling = f"{own.address}/_nicegui_ws/socket.io/?EIO=4&transport=polling"
    assert ask(polling, headers={"Origin": "http://shop.example"})[0] == 403


def test_large_bodies_are_refused(own: Server) -> None:
    headers = {"Origin": own.address, "Content-Length": str(26 * 1024 * 1024)}
    assert ask(f"{own.address}/photo?job=x", b"", headers)[0] == 413


def test_a_body_is_counted_as_it_comes_in() -> None:
    """Also where no length was claimed, as in a chunked upload."""
    got = 0

    async def app(_: Scope, receive: Receive, __: Send) -> None:
        nonlocal got
        while (message := await receive())["type"] == "http.request":
            got += len(message["body"])

    async def receive() -> Message:
        return {"type": "http.request", "body": bytes(1024 * 1024), "more_body": True}

    async def send(_: Message) -> None:
        raise AssertionError("nothing is answered")

    headers = [(b"host", b"127.0.0.1:8080"), (b"origin", b"http://127.0.0.1:8080")]
    scope = {"type": "http", "method": "POST", "path": "/photo", "headers": headers}
    guarded = Guard(app, lan=False, session_who=lambda *_: None)(scope, receive, send)
    with ThreadPoolExecutor(1) as beside:  # the browser has this thread's event loop
        beside.submit(asyncio.run, guarded).result()
    assert got == LARGEST_UPLOAD


def test_every_answer_carries_the_headers(own: Server) -> None:
    for path in ("/", "/assets/portwright.css", "/guest/none", "/nothing"):
        _, headers, body = ask(own.address + path)
        policy = headers["content-security-policy"]
        assert "default-src 'self'" in policy
        assert "frame-ancestors 'none'" in policy
        assert "unsafe-inline" not in policy.partition("script-src")[2].partition(";")[0]
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "same-origin"
        assert headers["x-frame-options"] == "DENY"
        for tag in re.findall(r"<script[^>]*", body):
            assert "nonce=" in tag


def test_strangers_get_nothing_but_the_form(lan: Server) -> None:
    page = {"Accept": "text/html"}
    for path in ("/", "/jobs", f"/job?number={JOB}", "/shop"):
        status, headers, body = ask(lan.address + path, headers=page)
        assert (status, headers["location"]) == (303, "/login")
        assert JOB not in body
    assert ask(lan.address + "/photo/1")[0] == 401
    status, _, _ = ask(f"{lan.address}/_nicegui_ws/socket.io/?EIO=4&transport=polling")
    assert status == 401


def test_the_form_token_is_needed(lan: Server) -> None:
    status, headers, _ = ask(
        f"{lan.address}/login", f"phrase={PHRASE}&form=x".encode(), {"Origin": lan.address}
    )
    assert status == 403
    assert "set-cookie" not in headers


@pytest.mark.browser
def test_a_tablet_logs_in_and_out(lan: Server, open_tablet: Callable[..., Tablet]) -> None:
    tablet = open_tablet()
    page = tablet.page
    page.goto(f"{lan.address}/jobs")
    expect(page.get_by_role("heading", name="Portwright")).to_be_visible()
    assert serious_violations(page) == []
    page.get_by_label("Shop passphrase").fill("wrong by far")
    page.keyboard.press("Enter")
    expect(page.get_by_role("alert")).to_have_text("That is not the passphrase.")
    page.get_by_label("Shop passphrase").fill(PHRASE)
    page.keyboard.press("Enter")
    ready(page)
    (cookie,) = [c for c in tablet.context.cookies() if c.get("name") == "pw_session"]
    assert cookie.get("httpOnly") is True
    assert cookie.get("sameSite") == "Strict"
    page.goto(f"{lan.address}/jobs")
    ready(page)
    page.get_by_role("button", name="Log out").click()
    expect(page.get_by_label("Shop passphrase")).to_be_visible()
    page.goto(f"{lan.address}/jobs")
    expect(page.get_by_label("Shop passphrase")).to_be_visible()


@pytest.mark.browser
def test_an_open_page_ends_with_its_session(
    serve: Callable[..., Server], tmp_path: Path, open_tablet: Callable[..., Tablet]
) -> None:
    path = tmp_path / "ends.shop"
    with shop_file.create_shop(path) as shop:
        passphrase.set_passphrase(shop, PHRASE)
    server = serve(path, lan=True)
    page = open_tablet().page
    page.goto(f"{server.address}/login")
    page.get_by_label("Shop passphrase").fill(PHRASE)
    page.keyboard.press("Enter")
    ready(page)
    with shop_file.open_shop(path) as shop:
        passphrase.set_passphrase(shop, "a new phrase")
    expect(page.get_by_text("Not connected: not saved")).to_be_visible()
    page.reload()
    expect(page.get_by_label("Shop passphrase")).to_be_visible()


@pytest.mark.browser
def test_a_guest_sees_one_result_and_nothing_else(
    lan: Server, demo_shop: Path, open_tablet: Callable[..., Tablet]
) -> None:
    with shop_file.open_shop(demo_shop) as shop:
        token = passphrase.make_guest_link(shop, JOB)
        (link,) = passphrase.guest_links(shop, JOB)
        assert token not in str(shop.setting("guest links"))
    page = open_tablet().page
    page.goto(f"{lan.address}/guest/{token}")
    expect(page.get_by_role("heading", name="Before and after")).to_be_visible()
    expect(page.locator("#chart svg")).to_be_visible()
    expect(page.locator("body")).to_contain_text("± ")
    assert serious_violations(page) == []
    assert page.locator("button, input").count() == 0
    (whole,) = page.locator("a").all()
    whole.click()
    expect(page.get_by_role("heading", name="In plain words")).to_be_visible(timeout=60_000)
    assert page.url == f"{lan.address}/guest/{token}/report"
    assert page.locator("a, button, input").count() == 0
    page.goto(f"{lan.address}/job?number={JOB}")
    expect(page.get_by_label("Shop passphrase")).to_be_visible()
    with shop_file.open_shop(demo_shop) as shop:
        passphrase.withdraw_guest_link(shop, link.key)
        with pytest.raises(NotFoundError, match="does not work any more"):
            passphrase.guest_job(shop, token)
    page.goto(f"{lan.address}/guest/{token}")
    expect(page.get_by_text("This link does not work any more.")).to_be_visible()
    page.goto(f"{lan.address}/guest/{token}/report")
    expect(page.get_by_text("This link does not work any more.")).to_be_visible()


@pytest.mark.browser
def test_links_are_made_and_withdrawn_on_the_job(
    own: Server,
    serve: Callable[..., Server],
    demo_file: Path,
    tmp_path: Path,
    open_tablet: Callable[..., Tablet],
) -> None:
    copy = tmp_path / "links.shop"
    copy.write_bytes(demo_file.read_bytes())
    server = serve(copy)
    page = open_tablet().page
    page.goto(f"{server.address}/job?number={JOB}")
    ready(page)
    page.get_by_role("button", name="Make a link").click()
    link = page.locator("a[href^='/guest/']")
    expect(link).to_be_visible()
    address = link.get_attribute("href") or ""
    assert ask(server.address + address)[0] == 200
    page.get_by_role("button", name="Withdraw").click()
    expect(page.get_by_role("button", name="Withdraw")).to_have_count(0)
    assert ask(server.address + address)[0] == 404


def test_a_link_needs_a_job(tmp_path: Path) -> None:
    with (
        shop_file.create_shop(tmp_path / "new.shop") as shop,
        pytest.raises(UnknownNameError),
    ):
        passphrase.make_guest_link(shop, "none")


def test_guessing_is_slowed_down(serve: Callable[..., Server], tmp_path: Path) -> None:
    path = tmp_path / "guess.shop"
    with shop_file.create_shop(path) as shop:
        passphrase.set_passphrase(shop, PHRASE)
    server = serve(path, lan=True)
    form = re.search(r'name="form" value="([^"]+)"', ask(f"{server.address}/login")[2])
    assert form is not None

    def attempt(phrase: str) -> tuple[int, Mapping[str, str]]:
        body = f"form={form[1]}&phrase={phrase.replace(' ', '+')}".encode()
        return ask(f"{server.address}/login", body, {"Origin": server.address})[:2]

    assert [attempt(f"guess number {n}")[0] for n in range(5)] == [403] * 5
    status, headers = attempt(PHRASE)  # even the right one has to wait now
    assert status == 429
    assert 0 < int(headers["retry-after"]) <= 300


def test_the_command_sets_the_passphrase_and_opens_the_door(tmp_path: Path) -> None:
    port = free_port()
    command = [sys.executable, "-m", "portwright.cli.main", "serve", "--port", str(port)]
    command += ["--shop", str(tmp_path / "new.shop"), "--lan", "--set-passphrase", "--no-browser"]
    process = subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, env=plain_environment()
    )
    try:
        assert process.stdin is not None
        process.stdin.write(f"{PHRASE}\n".encode())
        process.stdin.close()
        wait_for(f"http://127.0.0.1:{port}/login", process)
        assert "Shop passphrase" in ask(f"http://127.0.0.1:{port}/login")[2]
        again = subprocess.run(
            [*command[:-2], "--no-browser"],
            capture_output=True,
            encoding="utf-8",
            env=plain_environment(),
            check=False,
        )
        assert again.returncode != 0
        assert f"answers at port {port} already" in again.stderr + again.stdout
    finally:
        process.kill()
        process.wait()
    with shop_file.open_shop(tmp_path / "new.shop") as shop:
        assert passphrase.matches(shop, PHRASE)


def test_the_log_of_a_session_has_no_name_in_it(lan: Server, demo_shop: Path) -> None:
    """People, wrong passphrases, tokens and addresses go by; what happened is logged, not who."""
    name, phrase = "Quixley", "quixley has three words"
    with shop_file.open_shop(demo_shop) as shop:
        users.add(shop, name, users.Role.APPRENTICE, phrase)
        token = tokens.make(shop, name, tokens.Scope.READ)
    form = re.search(r'name="form" value="([^"]+)"', ask(f"{lan.address}/login")[2])
    assert form is not None
    cookie = ""
    for tried in ("not the phrase of quixley", phrase):
        words = urlencode({"form": form[1], "name": name, "phrase": tried}).encode()
        status, headers, _ = ask(f"{lan.address}/login", words, {"Origin": lan.address})
        cookie = headers.get("set-cookie", "").partition(";")[0]
    assert status == 303
    assert cookie
    page = {"Cookie": cookie, "Accept": "text/html"}
    assert ask(f"{lan.address}/job?number={name}", headers=page)[0] == 200
    with_token = {"Authorization": f"Bearer {token}"}
    assert ask(f"{lan.address}/api/jobs/{name}", headers=with_token)[0] == 404
    assert ask(f"{lan.address}/api/shop", headers={"Authorization": "Bearer quixley"})[0] == 401
    said = shop_log.log_path(demo_shop).read_text(encoding="utf-8")
    events = [json.loads(line)["event"] for line in said.splitlines()]
    for event in ("app started", "log-in refused", "log-in", "token refused"):
        assert event in events
    for never in (name, phrase, token, cookie.partition("=")[2], "127.0.0.1", JOB):
        assert never.lower() not in said.lower()


def test_only_the_owner_sees_health_and_people(lan: Server, demo_shop: Path) -> None:
    with shop_file.open_shop(demo_shop) as shop:
        users.add(shop, "Guest of the shop", users.Role.GUEST, PHRASE)
        session = passphrase.open_session(shop, user="Guest of the shop")
    page = {"Cookie": f"pw_session={session}", "Accept": "text/html"}
    # the last one opens wires and reads folders of the shop's computer while it is written
    for address in (links.HEALTH, links.PEOPLE, links.INSTRUMENTS):
        assert "this is for the owner" in ask(f"{lan.address}{address}", headers=page)[2]


def test_a_form_with_any_signs_in_it_is_refused_and_answered(lan: Server) -> None:
    words = urlencode({"form": "s\u00e9\u732b", "phrase": PHRASE}).encode()
    status, _, body = ask(f"{lan.address}/login", words, {"Origin": lan.address})
    assert (status, "out of date" in body) == (403, True)
    with shop_file.open_shop(lan.shop) as shop:
        session = passphrase.open_session(shop)
    signs = {
        "Cookie": f"pw_session={session}",
        "Origin": lan.address,
        "x-portwright-form": "s\u00e9".encode().decode("latin-1"),
    }
    assert ask(f"{lan.address}{links.PHOTO}?job={JOB}", b"", signs)[0] == 403


def test_health_is_seen_and_the_bundle_saved(
    own: Server, open_tablet: Callable[..., Tablet]
) -> None:
    page = open_tablet().page
    page.goto(f"{own.address}/shop")
    ready(page)
    page.get_by_role("link", name="Look the shop over").click()
    expect(page.get_by_text("Shop file: Good")).to_be_visible()
    expect(page.get_by_text("Backup: See to it")).to_be_visible()
    ready(page)
    assert serious_violations(page) == []
    with page.expect_download() as coming:
        page.get_by_role("button", name="Save the bundle").click()
    with zipfile.ZipFile(coming.value.path()) as bundle:
        assert json.loads(bundle.read("health.json"))["state"] == "look"
        assert b"app started" in bundle.read("log/0.jsonl")


def test_the_owner_lets_people_in_and_out(own: Server, open_tablet: Callable[..., Tablet]) -> None:
    page = open_tablet().page
    page.goto(f"{own.address}{links.PEOPLE}")
    ready(page)
    page.get_by_label("Name", exact=True).fill('Ada "the file" O\'Hara')
    page.get_by_label("Role").select_option("apprentice")
    page.get_by_label("Passphrase").fill("short")
    page.get_by_role("button", name="Let in", exact=True).click()
    refused = page.get_by_role("alertdialog")
    expect(refused).to_contain_text("fewer than 10 characters")
    refused.get_by_role("button", name="OK").click()
    expect(page.get_by_role("alertdialog")).to_have_count(0)
    page.get_by_label("Passphrase").fill(PHRASE)
    page.get_by_role("button", name="Let in", exact=True).click()
    person = page.get_by_role("group", name='Ada "the file"')
    expect(person.get_by_role("heading", name="Ada")).to_be_visible()
    with shop_file.open_shop(own.shop) as shop:
        (known,) = users.users(shop)
        assert (known.name, known.role) == ('Ada "the file" O\'Hara', users.Role.APPRENTICE)
        session = passphrase.open_session(shop, user=known.name, device="192.168.7.7")
    page.reload()
    ready(page)
    expect(page.get_by_text("from 192.168.7.7")).to_be_visible()
    for earlier in ("let in as apprentice", "shop: 1 added"):
        expect(page.get_by_role("cell", name=earlier)).to_be_visible()
    person.get_by_label("Role").select_option("porter")
    expect(page.get_by_role("cell", name="apprentice, now porter")).to_be_visible()
    assert serious_violations(page) == []
    person.get_by_role("button", name="Log out everywhere").click()
    expect(page.get_by_text("None is logged in.")).to_be_visible()
    with shop_file.open_shop(own.shop) as shop:
        assert not passphrase.session_valid(shop, session)
    person.get_by_role("button", name="New passphrase").click()
    ask_phrase = page.get_by_role("dialog")
    ask_phrase.get_by_label("Passphrase").fill("another three words")
    ask_phrase.get_by_role("button", name="Set it").click()
    expect(page.get_by_role("cell", name="new passphrase of Ada")).to_be_visible()
    with shop_file.open_shop(own.shop) as shop:
        assert users.enters(shop, known.name, "another three words")
    person.get_by_role("button", name="Let in no more").click()
    page.get_by_role("button", name="Yes").click()
    expect(page.get_by_role("cell", name="let in no more")).to_be_visible()
    with shop_file.open_shop(own.shop) as shop:
        assert users.users(shop) == []
