"""Tests of bridge.commands.paging: what the terminal says of the page, and which options are refused."""

from __future__ import annotations

import io
import stat
from pathlib import Path

import httpx
import pytest

from bridge.commands.paging import paged
from bridge.floor import Floor
from bridge.page.serve import OFF
from bridge.screen import console_for
from rules.faults import InputFaults, LinkError
from rules.packs.model import Pack
from tests.bridge.making import rig_of
from tests.contract.until import Clock


@pytest.fixture
def floor(pack: Pack, clock: Clock) -> Floor:
    """One device."""
    return Floor([rig_of(pack, clock)[0]])


async def test_the_terminal_says_where_the_page_is_and_which_key_changes_it(floor: Floor) -> None:
    """The address that is said is served, the key that is said opens it, and how a tablet gets it is said."""
    out = io.StringIO()
    async with paged(floor, "127.0.0.1:0", None, console_for(out)) as address, httpx.AsyncClient() as client:
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


async def test_off_serves_nothing(floor: Floor) -> None:
    """Without a page nothing is listened at and nothing is said."""
    out = io.StringIO()
    async with paged(floor, OFF, None, console_for(out)) as address:
        assert (address, out.getvalue()) == ("", "")


async def test_a_key_is_kept_from_one_run_to_the_next(floor: Floor, tmp_path: Path) -> None:
    """The key file is made once, for its owner alone, and holds from then on."""
    kept, said = tmp_path / "key", []
    for _ in range(2):
        out = io.StringIO()
        async with paged(floor, "127.0.0.1:0", kept, console_for(out)):
            said.append(out.getvalue().partition("#key=")[2].split()[0])
    assert said[0] == said[1] == kept.read_text().strip()
    assert stat.S_IMODE(kept.stat().st_mode) == 0o600


@pytest.mark.parametrize("at", ["", "127.0.0.1", ":80", "127.0.0.1:http", "127.0.0.1:70000"])
async def test_what_is_no_address_is_refused(floor: Floor, at: str) -> None:
    """Host and port are both needed; the fault says how they are written."""
    with pytest.raises(InputFaults, match="HOST:PORT"):
        async with paged(floor, at, None, console_for(io.StringIO())):
            raise AssertionError


async def test_a_taken_port_is_said_with_what_to_do(floor: Floor) -> None:
    """Two pages cannot have one port; the second says how to choose another."""
    async with paged(floor, "127.0.0.1:0", None, console_for(io.StringIO())) as address:
        port = address.rstrip("/").rpartition(":")[2]
        with pytest.raises(LinkError, match="Choose another with --page"):
            async with paged(floor, f"127.0.0.1:{port}", None, console_for(io.StringIO())):
                raise AssertionError
