"""Tests of bridge.page.app: routes, the access key, refusals, static files, and the headers of every response."""

from __future__ import annotations

import re
from collections.abc import AsyncIterator
from urllib.parse import urljoin

import httpx
import msgspec
import pytest

from bridge.page.app import SECURITY_HEADERS, WRONG_KEY_WAIT_S, PageApp
from bridge.page.auth import AccessKey
from bridge.page.views.registry import VIEWS, PageView
from bridge.runtime.control import MAX_REQUEST_BYTES
from bridge.runtime.registry import DeviceRegistry
from rules.packs.model import Pack
from tests.bridge.page.page_builders import FlownDevice, RenderedHtml

KEY = AccessKey("a-key-for-tests")
WAITS: list[float] = []
"""The waits after wrong keys."""
HERE = "http://127.0.0.1:47811"


@pytest.fixture
def bays(paged: Pack) -> list[FlownDevice]:
    """Two devices."""
    return [
        FlownDevice(paged, name=name, title=title) for name, title in (("bay_1", "Bay 1"), ("bay_2", "Bay 2"))
    ]


@pytest.fixture
async def page(bays: list[FlownDevice]) -> AsyncIterator[httpx.AsyncClient]:
    """A client of the page of both devices."""
    async with client(list(bays)) as one:
        yield one


async def no_wait(seconds: float) -> None:
    """Wait no time after a wrong key."""
    WAITS.append(seconds)


def client(flown: list[FlownDevice], at: str = HERE) -> httpx.AsyncClient:
    """Build a client that needs no network."""
    app = PageApp(DeviceRegistry([one.device for one in flown]), KEY, wait=no_wait).asgi
    return httpx.AsyncClient(transport=httpx.ASGITransport(app), base_url=at)


def request_body(verb: str = "remark", name: str = "", reason: str = "words") -> bytes:
    """Encode the body of a request."""
    return msgspec.json.encode({"verb": verb, "name": name, "reason": reason})


def key_header(key: str = KEY.text) -> dict[str, str]:
    """Build the header with a key."""
    return {"Authorization": f"Bearer {key}"}


@pytest.mark.parametrize("view", [view.id for view in VIEWS])
async def test_every_view_is_served_with_its_title_and_the_caution(
    page: httpx.AsyncClient, view: str
) -> None:
    """Each view has one heading, all its panels, the caution, and a marked button."""
    answer = await page.get(f"/bay_1/{view}")
    assert answer.status_code == 200
    seen = RenderedHtml(answer.text)
    assert [tag for tag, _ in seen.tags].count("h1") == 1
    assert "For flight simulation only" in seen.words
    found = next(one for one in VIEWS if one.id == view)
    assert {"head", "live_region", *found.panels, *found.aside} == set(seen.attribute("data-panel"))
    assert seen.attribute("aria-current") == ["page"]


async def test_a_single_device_is_shown_at_once(paged: Pack) -> None:
    """With one device, the first page redirects to it, and a device's address to its first view."""
    async with client([FlownDevice(paged, name="sim")]) as one:
        first = await one.get("/")
        assert (first.status_code, first.headers["location"]) == (307, "/sim/")
        assert (await one.get("/sim/")).headers["location"] == f"/sim/{VIEWS[0].id}"


async def test_several_devices_have_a_page_of_all(page: httpx.AsyncClient, bays: list[FlownDevice]) -> None:
    """Each device has a card, which is a panel of its own."""
    bays[1].frame(0.0)
    answer = await page.get("/")
    seen = RenderedHtml(answer.text)
    assert seen.attribute("data-panel") == ["device_bay_1", "device_bay_2"]
    assert "Bay 2 At the stand" in seen.words
    assert "For flight simulation only" in seen.words


@pytest.mark.parametrize("path", ["/bay_3/", "/bay_3/ahead", "/bay_1/nowhere", "/bay_3/stream", "/a/b/c"])
async def test_unknown_addresses_get_an_error_page(page: httpx.AsyncClient, path: str) -> None:
    """An unknown address gets a page with a link back; the page does not repeat the address."""
    answer = await page.get(path)
    assert answer.status_code == 404
    assert "Not found" in answer.text
    assert 'href="/"' in answer.text


@pytest.mark.parametrize(
    "headers",
    [
        {},
        key_header(""),
        key_header("a-key-for-test"),
        {"Authorization": KEY.text},
        {"Authorization": f"Basic {KEY.text}"},
    ],
)
async def test_a_change_without_the_key_is_refused(
    page: httpx.AsyncClient, bays: list[FlownDevice], headers: dict[str, str]
) -> None:
    """No key, a wrong key or another form of key is refused, and the session does not change."""
    WAITS.clear()
    answer = await page.post("/bay_1/do", content=request_body("end"), headers=headers)
    assert answer.status_code == 403
    # Who gives a key and has a wrong one waits, so that keys cannot be tried quickly.
    given = headers.get("Authorization", "").partition(" ")[2]
    assert [WRONG_KEY_WAIT_S] * bool(given) == WAITS
    assert answer.json()["accepted"] is False
    assert bays[0].device.session.state == "running"


async def test_a_change_with_the_key_reaches_one_device(
    page: httpx.AsyncClient, bays: list[FlownDevice]
) -> None:
    """A change reaches only the device of the address."""
    answer = await page.post(
        "/bay_2/do", content=request_body("rename_session", "Morning"), headers=key_header()
    )
    assert (answer.status_code, answer.json()["accepted"]) == (200, True)
    assert [bay.device.session.name for bay in bays] == ["Session 1", "Morning"]


async def test_a_refusal_says_why(page: httpx.AsyncClient) -> None:
    """A refused request is answered with the reason."""
    answer = await page.post("/bay_1/do", content=request_body("call", "push_aproved"), headers=key_header())
    assert answer.status_code == 409
    assert "did you mean push_approved?" in answer.json()["text"]


async def test_an_unknown_author_is_refused(page: httpx.AsyncClient) -> None:
    """A request by somebody who may not make one is answered with a list of those who may."""
    body = msgspec.json.encode({"verb": "call", "name": "push_approved", "by": "nobody"})
    answer = await page.post("/bay_1/do", content=body, headers=key_header())
    assert answer.status_code == 409
    assert "unknown seat or role nobody, expected captain, first_officer, ground" in answer.json()["text"]


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"hello",
        b"\xff\xfe",
        b"{}",
        b"[" * 3000,
        request_body("fire"),
        b'{"verb":"call","name":3}',
        b'{"verb":"call","name":"x","rank":1}',
    ],
)
async def test_invalid_bodies_are_refused(page: httpx.AsyncClient, body: bytes) -> None:
    """A body that is no request gets an error text and changes nothing."""
    answer = await page.post("/bay_1/do", content=body, headers=key_header())
    assert answer.status_code == 400
    assert answer.json()["text"].startswith("not understood")


async def test_a_long_body_is_refused_before_it_is_read(page: httpx.AsyncClient) -> None:
    """A body over the limit is refused without reading the rest."""
    given = 0

    async def endless() -> AsyncIterator[bytes]:
        nonlocal given
        while given < 100 * MAX_REQUEST_BYTES:
            given += 8192
            yield b"x" * 8192

    answer = await page.post("/bay_1/do", content=endless(), headers=key_header())
    assert answer.status_code == 413
    assert given <= MAX_REQUEST_BYTES + 8192


async def test_methods_of_the_routes(page: httpx.AsyncClient) -> None:
    """The route for changes accepts no GET, and a view no POST."""
    assert (await page.get("/bay_1/do")).status_code == 404  # for GET it is an unknown view
    assert (await page.post("/bay_1/ahead", headers=key_header())).status_code == 405


@pytest.mark.parametrize(
    "host", ["example.com", "evil.example:47811", "", "localhost.evil.example", "127.0.0.1.evil.example"]
)
async def test_foreign_host_names_are_refused(page: httpx.AsyncClient, host: str) -> None:
    """A foreign name that resolves to this machine gets no page and can change nothing."""
    assert (await page.get("/bay_1/ahead", headers={"Host": host})).status_code == 421
    answer = await page.post("/bay_1/do", content=request_body(), headers={**key_header(), "Host": host})
    assert answer.status_code == 421


@pytest.mark.parametrize(
    "host", ["127.0.0.1:47811", "localhost:47811", "localhost", "[::1]:47811", "192.0.2.7", "10.1.2.3:80"]
)
async def test_addresses_and_localhost_are_accepted(page: httpx.AsyncClient, host: str) -> None:
    """Numeric addresses and localhost are accepted on any port."""
    assert (await page.get("/bay_1/ahead", headers={"Host": host})).status_code == 200


async def test_a_change_from_another_origin_is_refused(page: httpx.AsyncClient) -> None:
    """A request from a page of another origin is refused even with the key."""
    headers = {**key_header(), "Origin": "http://evil.example"}
    assert (await page.post("/bay_1/do", content=request_body(), headers=headers)).status_code == 421
    same = {**key_header(), "Origin": HERE}
    assert (await page.post("/bay_1/do", content=request_body(), headers=same)).status_code == 200


@pytest.mark.parametrize(
    "path", ["/", "/bay_1/ahead", "/nowhere/", "/static/page.js", "/static/none.js", "/bay_1/do"]
)
async def test_every_response_has_the_security_headers(page: httpx.AsyncClient, path: str) -> None:
    """No response may be framed, cached, sniffed, or load anything from other servers."""
    answer = await page.get(path)
    for name, value in SECURITY_HEADERS.items():
        assert answer.headers[name] == value


async def test_pages_load_nothing_from_other_servers(page: httpx.AsyncClient) -> None:
    """Every address in every page is on this server."""
    for view in VIEWS:
        seen = RenderedHtml((await page.get(f"/bay_1/{view.id}")).text)
        links = [*seen.attribute("href"), *seen.attribute("src")]
        assert [link for link in links if not link.startswith(("/", "#", "?"))] == []


@pytest.mark.parametrize(
    "path",
    [
        "/static/%2e%2e/app.py",
        "/static/..%2f..%2fcli.py",
        "/static/views/ahead/view.py",
        "/static/views/ahead/view.html",
        "/static/views/registry.py",
        "/static/views/ahead/",
        "/static/views/%2e%2e/static/base.css",
        "/static/widgets/%2e%2e/app.py",
        "/static/widgets/head/head.html",
    ],
)
async def test_other_files_are_not_served(page: httpx.AsyncClient, path: str) -> None:
    """Only styles and scripts are served, and only from their own folders."""
    assert (await page.get(path)).status_code == 404


@pytest.mark.parametrize(
    "path",
    sorted(
        {
            *(f"/static/{view.style}.css" for view in VIEWS if view.style),
            *(f"/static/{view.script}.js" for view in VIEWS if view.script),
        }
    ),
)
async def test_styles_and_scripts_of_every_view_are_served(page: httpx.AsyncClient, path: str) -> None:
    """The paths in the list of views name files that exist."""
    assert (await page.get(path)).status_code == 200


async def test_every_link_and_import_of_a_page_leads_to_a_file(page: httpx.AsyncClient) -> None:
    """Styles and scripts that pages link, and scripts that scripts import, are served."""
    paths = set[str]()
    for path in ("/", *(f"/bay_1/{view.id}" for view in VIEWS)):
        seen = RenderedHtml((await page.get(path)).text)
        paths |= {link for link in (*seen.attribute("href"), *seen.attribute("src")) if "/static/" in link}
    checked = set[str]()
    while waiting := paths - checked:
        path = waiting.pop()
        answer = await page.get(path)
        assert answer.status_code == 200, path
        checked.add(path)
        if path.endswith(".js"):
            paths |= {urljoin(path, found) for found in re.findall(r'from "([^"]+)"', answer.text)}
    assert len([path for path in checked if path.endswith(".js")]) >= 10


@pytest.mark.parametrize("view", [view for view in VIEWS if view.panels], ids=lambda view: view.id)
@pytest.mark.parametrize("with_stream", [False, True])
async def test_a_view_that_is_fetched_again_shows_the_present(
    bays: list[FlownDevice], view: PageView, *, with_stream: bool
) -> None:
    """No fetch shows the text of an earlier one, whether or not a client shows the same panels."""
    app, bay = PageApp(DeviceRegistry([bay.device for bay in bays]), KEY), bays[0]
    cache = app.panel_caches["bay_1"]
    async with httpx.AsyncClient(transport=httpx.ASGITransport(app.asgi), base_url=HERE) as page:
        with cache.subscribe(cache.names if with_stream else ()) as shown:
            await page.get(f"/bay_1/{view.id}")
            shown.updates()
            bay.frame(1.0, {"lights.beacon": "on", "hydraulics.1.pressure": 3000.0})
            fetched = (await page.get(f"/bay_1/{view.id}")).text
            for name in ("head", *view.panels):
                assert app.renderer.panel_renderer(name, bay.device)() in fetched
            assert ("head" in dict(shown.updates())) is with_stream
