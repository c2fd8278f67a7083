"""Tests of bridge.page.announce: the lines in the terminal, and invalid options."""

from __future__ import annotations

import io
import stat
from pathlib import Path

import httpx
import pytest

from bridge.page.address import OFF
from bridge.page.announce import serve_and_announce
from bridge.runtime.registry import DeviceRegistry
from bridge.terminal.console import make_console
from rules.faults import InputFaults, LinkError
from rules.packs.model import Pack
from tests.bridge.builders import device_on_memory_link
from tests.contract.waiting import ManualClock


@pytest.fixture
def registry(pack: Pack, clock: ManualClock) -> DeviceRegistry:
    """A registry of one device."""
    return DeviceRegistry([device_on_memory_link(pack, clock)[0]])


async def test_the_terminal_shows_the_address_and_the_key(registry: DeviceRegistry) -> None:
    """The printed address is served, the printed key is accepted, and the option for a tablet is printed."""
    out = io.StringIO()
    async with (
        serve_and_announce(registry, "127.0.0.1:0", None, make_console(out)) as address,
        httpx.AsyncClient() as client,
    ):
        printed = out.getvalue()
        key = printed.partition("#key=")[2].split()[0]
        assert (await client.get(f"{address}device/ahead")).status_code == 200
        call = {"verb": "call", "name": "push_approved"}
        answers = [
            await client.post(f"{address}device/do", json=call, headers={"Authorization": f"Bearer {given}"})
            for given in (key, "another")
        ]
    assert [answer.status_code for answer in answers] == [200, 403]
    assert f"page: {address}#key={key}" in printed
    assert "for a tablet in the same network: --page 0.0.0.0:" in printed


async def test_off_serves_no_page(registry: DeviceRegistry) -> None:
    """Without a page no port is opened and no line is printed."""
    out = io.StringIO()
    async with serve_and_announce(registry, OFF, None, make_console(out)) as address:
        assert (address, out.getvalue()) == ("", "")


async def test_a_key_file_keeps_the_key_between_runs(registry: DeviceRegistry, tmp_path: Path) -> None:
    """The key file is created once, readable by its owner only, and used from then on."""
    key_file, keys = tmp_path / "key", []
    for _ in range(2):
        out = io.StringIO()
        async with serve_and_announce(registry, "127.0.0.1:0", key_file, make_console(out)):
            keys.append(out.getvalue().partition("#key=")[2].split()[0])
    assert keys[0] == keys[1] == key_file.read_text().strip()
    assert stat.S_IMODE(key_file.stat().st_mode) == 0o600


@pytest.mark.parametrize("address", ["", "127.0.0.1", ":80", "127.0.0.1:http", "127.0.0.1:70000"])
async def test_an_invalid_address_is_refused(registry: DeviceRegistry, address: str) -> None:
    """Host and port are both required; the error shows the form."""
    with pytest.raises(InputFaults, match="HOST:PORT"):
        async with serve_and_announce(registry, address, None, make_console(io.StringIO())):
            raise AssertionError


async def test_a_port_in_use_is_reported_with_a_remedy(registry: DeviceRegistry) -> None:
    """The second page on one port fails with a hint to choose another."""
    async with serve_and_announce(registry, "127.0.0.1:0", None, make_console(io.StringIO())) as address:
        port = address.rstrip("/").rpartition(":")[2]
        with pytest.raises(LinkError, match="Choose another with --page"):
            async with serve_and_announce(registry, f"127.0.0.1:{port}", None, make_console(io.StringIO())):
                raise AssertionError
