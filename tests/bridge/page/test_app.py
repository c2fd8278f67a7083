"""Tests of bridge.page.app: addresses, the key, what is refused, and the headers of every answer."""

from __future__ import annotations

from collections.abc import AsyncIterator

import httpx
import msgspec
import pytest

from bridge.page.app import SECURITY_HEADERS, PageApp
from bridge.page.auth import AccessKey
from bridge.page.views.registry import VIEWS
from bridge.runtime.control import MAX_REQUEST_BYTES
from bridge.runtime.registry import DeviceRegistry
from rules.packs.model import Pack
from tests.bridge.page.page_builders import FlownDevice, RenderedHtml

KEY = AccessKey("a-key-for-tests")
HERE = "http://127.0.0.1:47811"


@pytest.fixture
def bays(paged: Pack) -> list[FlownDevice]:
    """Two devices."""
    return [
        FlownDevice(paged, name=name, title=title) for name, title in (("bay_1", "Bay 1"), ("bay_2", "Bay 2"))
    ]


@pytest.fixture
async def page(bays: list[FlownDevice]) -> AsyncIterator[httpx.AsyncClient]:
    """A client of the page of both."""
    async with client(list(bays)) as one:
        yield one


def client(flown: list[FlownDevice], at: str = HERE) -> httpx.AsyncClient:
    """A client without a network."""
    app = PageApp(DeviceRegistry([one.device for one in flown]), KEY).asgi
    return httpx.AsyncClient(transport=httpx.ASGITransport(app), base_url=at)


def asked(verb: str = "remark", name: str = "", reason: str = "words") -> bytes:
    """A request's body."""
    return msgspec.json.encode({"verb": verb, "name": name, "reason": reason})


def keyed(key: str = KEY.text) -> dict[str, str]:
    """The header with a key."""
    return {"Authorization": f"Bearer {key}"}


@pytest.mark.parametrize("view", [view.id for view in VIEWS])
async def test_every_view_is_served_with_its_title_and_the_caution(
    page: httpx.AsyncClient, view: str
) -> None:
    """Each view has a heading of its own, every panel it names, the word on simulation, and is marked in the bar."""
    answer = await page.get(f"/bay_1/{view}")
    assert answer.status_code == 200
    seen = RenderedHtml(answer.text)
    assert [tag for tag, _ in seen.tags].count("h1") == 1
    assert "For flight simulation only" in seen.words
    found = next(one for one in VIEWS if one.id == view)
    assert {"head", "aloud", *found.panels, *found.aside} == set(seen.attribute("data-panel"))
    assert seen.attribute("aria-current") == ["page"]


async def test_a_single_device_is_shown_at_once(paged: Pack) -> None:
    """With one device the first page leads to it, and a device's address to its first view."""
    async with client([FlownDevice(paged, name="sim")]) as one:
        first = await one.get("/")
        assert (first.status_code, first.headers["location"]) == (307, "/sim/")
        assert (await one.get("/sim/")).headers["location"] == f"/sim/{VIEWS[0].id}"


async def test_several_devices_have_a_page_of_all(page: httpx.AsyncClient, bays: list[FlownDevice]) -> None:
    """Each device has its card, kept up to date under a name of its own."""
    bays[1].frame(0.0)
    answer = await page.get("/")
    seen = RenderedHtml(answer.text)
    assert seen.attribute("data-panel") == ["device_bay_1", "device_bay_2"]
    assert "Bay 2 At the stand" in seen.words
    assert "For flight simulation only" in seen.words


@pytest.mark.parametrize("path", ["/bay_3/", "/bay_3/ahead", "/bay_1/nowhere", "/bay_3/stream", "/a/b/c"])
async def test_what_is_not_there_is_said_on_a_page(page: httpx.AsyncClient, path: str) -> None:
    """An address of nothing gives a page that says so and leads back; what was asked for is not repeated."""
    answer = await page.get(path)
    assert answer.status_code == 404
    assert "Not here" in answer.text
    assert 'href="/"' in answer.text


@pytest.mark.parametrize(
    "headers",
    [
        {},
        keyed(""),
        keyed("a-key-for-test"),
        {"Authorization": KEY.text},
        {"Authorization": f"Basic {KEY.text}"},
    ],
)
async def test_without_the_key_nothing_is_changed(
    page: httpx.AsyncClient, bays: list[FlownDevice], headers: dict[str, str]
) -> None:
    """No key, a wrong one or one in another form is refused, and the session is as it was."""
    answer = await page.post("/bay_1/do", content=asked("end"), headers=headers)
    assert answer.status_code == 403
    assert answer.json()["accepted"] is False
    assert bays[0].device.session.state == "running"


async def test_with_the_key_it_is_done_on_that_device_alone(
    page: httpx.AsyncClient, bays: list[FlownDevice]
) -> None:
    """A change reaches the device of the address and no other."""
    answer = await page.post("/bay_2/do", content=asked("rename_session", "Morning"), headers=keyed())
    assert (answer.status_code, answer.json()["accepted"]) == (200, True)
    assert [bay.device.session.name for bay in bays] == ["Session 1", "Morning"]


async def test_a_refusal_says_why(page: httpx.AsyncClient) -> None:
    """What cannot be done is answered with the sentence of the refusal."""
    answer = await page.post("/bay_1/do", content=asked("call", "push_aproved"), headers=keyed())
    assert answer.status_code == 409
    assert "did you mean push_approved?" in answer.json()["text"]


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"hello",
        b"\xff\xfe",
        b"{}",
        b"[" * 3000,
        asked("fire"),
        b'{"verb":"call","name":3}',
        b'{"verb":"call","name":"x","rank":1}',
    ],
)
async def test_what_is_no_request_is_not_understood(page: httpx.AsyncClient, body: bytes) -> None:
    """Bytes that are no request get a sentence and change nothing."""
    answer = await page.post("/bay_1/do", content=body, headers=keyed())
    assert answer.status_code == 400
    assert answer.json()["text"].startswith("not understood")


async def test_too_long_is_told_before_it_is_read_whole(page: httpx.AsyncClient) -> None:
    """A body beyond the limit is refused, and what comes after the limit is not waited for."""
    given = 0

    async def endless() -> AsyncIterator[bytes]:
        nonlocal given
        while given < 100 * MAX_REQUEST_BYTES:
            given += 8192
            yield b"x" * 8192

    answer = await page.post("/bay_1/do", content=endless(), headers=keyed())
    assert answer.status_code == 413
    assert given <= MAX_REQUEST_BYTES + 8192


async def test_only_changes_are_posted_and_only_pages_got(page: httpx.AsyncClient) -> None:
    """The door for changes takes no GET, and a view no POST."""
    assert (await page.get("/bay_1/do")).status_code == 404  # to GET it is a view that there is not
    assert (await page.post("/bay_1/ahead", headers=keyed())).status_code == 405


@pytest.mark.parametrize(
    "host", ["example.com", "evil.example:47811", "", "localhost.evil.example", "127.0.0.1.evil.example"]
)
async def test_a_name_that_is_not_ours_is_turned_away(page: httpx.AsyncClient, host: str) -> None:
    """A page elsewhere whose name was made to lead here sees nothing and changes nothing."""
    assert (await page.get("/bay_1/ahead", headers={"Host": host})).status_code == 421
    answer = await page.post("/bay_1/do", content=asked(), headers={**keyed(), "Host": host})
    assert answer.status_code == 421


@pytest.mark.parametrize(
    "host", ["127.0.0.1:47811", "localhost:47811", "localhost", "[::1]:47811", "192.0.2.7", "10.1.2.3:80"]
)
async def test_an_address_or_localhost_is_ours(page: httpx.AsyncClient, host: str) -> None:
    """Numbers and localhost are answered, on any port."""
    assert (await page.get("/bay_1/ahead", headers={"Host": host})).status_code == 200


async def test_a_change_from_another_site_is_turned_away(page: httpx.AsyncClient) -> None:
    """A request that a page of another origin makes is refused though it had the key."""
    headers = {**keyed(), "Origin": "http://evil.example"}
    assert (await page.post("/bay_1/do", content=asked(), headers=headers)).status_code == 421
    same = {**keyed(), "Origin": HERE}
    assert (await page.post("/bay_1/do", content=asked(), headers=same)).status_code == 200


@pytest.mark.parametrize(
    "path", ["/", "/bay_1/ahead", "/nowhere/", "/static/page.js", "/static/none.js", "/bay_1/do"]
)
async def test_every_answer_has_our_headers(page: httpx.AsyncClient, path: str) -> None:
    """No answer may be framed, kept, sniffed or made to load something from elsewhere."""
    answer = await page.get(path)
    for name, value in SECURITY_HEADERS.items():
        assert answer.headers[name] == value


async def test_nothing_is_fetched_from_elsewhere(page: httpx.AsyncClient) -> None:
    """Every address in every page leads to this server."""
    for view in VIEWS:
        seen = RenderedHtml((await page.get(f"/bay_1/{view.id}")).text)
        links = [*seen.attribute("href"), *seen.attribute("src")]
        assert [link for link in links if not link.startswith(("/", "#", "?"))] == []


@pytest.mark.parametrize("path", ["/static/%2e%2e/app.py", "/static/..%2f..%2fcli.py"])
async def test_files_beside_the_static_ones_are_not_served(page: httpx.AsyncClient, path: str) -> None:
    """No way leads out of the folder."""
    assert (await page.get(path)).status_code == 404
