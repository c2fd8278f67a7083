"""Tests of bridge.page.announce: what the terminal says of the page, and which options are refused."""

from __future__ import annotations

import io
import stat
from pathlib import Path

import httpx
import pytest

from bridge.page.announce import serve_and_announce
from bridge.page.serve import OFF
from bridge.runtime.registry import DeviceRegistry
from bridge.terminal.live_view import make_console
from rules.faults import InputFaults, LinkError
from rules.packs.model import Pack
from tests.bridge.builders import device_on_memory_link
from tests.contract.waiting import ManualClock


@pytest.fixture
def floor(pack: Pack, clock: ManualClock) -> DeviceRegistry:
    """One device."""
    return DeviceRegistry([device_on_memory_link(pack, clock)[0]])


async def test_the_terminal_says_where_the_page_is_and_which_key_changes_it(floor: DeviceRegistry) -> None:
    """The address that is said is served, the key that is said opens it, and how a tablet gets it is said."""
    out = io.StringIO()
    async with (
        serve_and_announce(floor, "127.0.0.1:0", None, make_console(out)) as address,
        httpx.AsyncClient() as client,
    ):
        said = out.getvalue()
        key = said.partition("#key=")[2].split()[0]
        assert (await client.get(f"{address}device/ahead")).status_code == 200
        call = {"verb": "call", "name": "push_approved"}
        answers = [
            await client.post(f"{address}device/do", json=call, headers={"Authorization": f"Bearer {given}"})
            for given in (key, "another")
        ]
    assert [answer.status_code for answer in answers] == [200, 403]
    assert f"page: {address}#key={key}" in said
    assert "for a tablet in the same network: --page 0.0.0.0:" in said


async def test_off_serves_nothing(floor: DeviceRegistry) -> None:
    """Without a page nothing is listened at and nothing is said."""
    out = io.StringIO()
    async with serve_and_announce(floor, OFF, None, make_console(out)) as address:
        assert (address, out.getvalue()) == ("", "")


async def test_a_key_is_kept_from_one_run_to_the_next(floor: DeviceRegistry, tmp_path: Path) -> None:
    """The key file is made once, for its owner alone, and holds from then on."""
    kept, said = tmp_path / "key", []
    for _ in range(2):
        out = io.StringIO()
        async with serve_and_announce(floor, "127.0.0.1:0", kept, make_console(out)):
            said.append(out.getvalue().partition("#key=")[2].split()[0])
    assert said[0] == said[1] == kept.read_text().strip()
    assert stat.S_IMODE(kept.stat().st_mode) == 0o600


@pytest.mark.parametrize("at", ["", "127.0.0.1", ":80", "127.0.0.1:http", "127.0.0.1:70000"])
async def test_what_is_no_address_is_refused(floor: DeviceRegistry, at: str) -> None:
    """Host and port are both needed; the fault says how they are written."""
    with pytest.raises(InputFaults, match="HOST:PORT"):
        async with serve_and_announce(floor, at, None, make_console(io.StringIO())):
            raise AssertionError


async def test_a_taken_port_is_said_with_what_to_do(floor: DeviceRegistry) -> None:
    """Two pages cannot have one port; the second says how to choose another."""
    async with serve_and_announce(floor, "127.0.0.1:0", None, make_console(io.StringIO())) as address:
        port = address.rstrip("/").rpartition(":")[2]
        with pytest.raises(LinkError, match="Choose another with --page"):
            async with serve_and_announce(floor, f"127.0.0.1:{port}", None, make_console(io.StringIO())):
                raise AssertionError
