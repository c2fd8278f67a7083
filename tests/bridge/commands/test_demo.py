"""Tests of `holdshort demo`: each slip is found with its kind, a correct crew gets no notice, no process is left."""

from __future__ import annotations

import asyncio
import json
import os
import signal
import sys
from pathlib import Path
from typing import Any

import msgspec
import pytest

from bridge.demo.demo_flight import DemoFlight, mock_flight
from bridge.demo.wire_encoder import make_encoder
from bridge.session.journal import Journal
from bridge.terminal.summary import findings_of_slip
from mock_sim.run import Flight
from mock_sim.send.frames import FlightFrames
from rules.judge.events import Finding
from rules.packs.model import FindingKind
from tests.bridge.builders import feed
from tests.contract.waiting import wait_until

KINDS = {
    "skip": FindingKind.OMITTED,
    "too_early": FindingKind.TOO_EARLY,
    "undo": FindingKind.UNDONE,
    "wrong_value": FindingKind.WRONG_VALUE,
    "wrong_order": FindingKind.OUT_OF_ORDER,
}
SEED = 1
WITHIN_S = 60.0


def fly_demo(slips: list[str]) -> tuple[DemoFlight, list[dict[str, Any]]]:
    """Pass the demo's frames from sender to device without a socket; return the demo flight and the slips made."""
    demo_flight = mock_flight(slips, 22.0, SEED)
    flight, encoder = Flight("departure", slips, SEED), make_encoder("msgpack")
    for frame in FlightFrames(flight.scenario, flight):
        for data in encoder.encode(frame.clock_s, frame.number, frame.fields):
            feed(demo_flight.device, data, frame.clock_s)
    return demo_flight, [slip._asdict() for slip in flight.slip_records()]


def check_slips(slips: list[dict[str, Any]], found: dict[str, list[FindingKind]]) -> None:
    """Check that the first finding of each slip has the slip's kind."""
    assert len(slips) >= 6
    wrong = {
        slip["id"]: found[slip["id"]] for slip in slips if found[slip["id"]][:1] != [KINDS[str(slip["kind"])]]
    }
    assert not wrong


def test_each_scripted_slip_is_found_with_its_kind() -> None:
    """Each slip of the demo is found, with the right kind."""
    demo_flight, slips = fly_demo(["demo"])
    device = demo_flight.device
    check_slips(
        slips,
        {
            slip["id"]: [finding.kind for finding in findings_of_slip(slip, device.journal, device.pack)]
            for slip in slips
        },
    )


def test_a_correct_crew_gets_no_notice() -> None:
    """Without slips there is no finding and no notice, and the flight reaches its last phase."""
    demo_flight, slips = fly_demo([])
    assert slips == []
    assert demo_flight.device.journal.findings == {}
    assert demo_flight.device.journal.notices == []
    assert len(demo_flight.device.journal.phases) >= 8


@pytest.mark.demo
def test_the_demo_prints_one_json_object_with_every_slip_found() -> None:
    """With two processes, UDP and real time the demo prints one JSON object and nothing else."""
    code, out, err = asyncio.run(_run("demo", "--headless", "--json"))
    assert (code, err) == (0, "")
    output = json.loads(out)
    assert {"slips", "findings", "notices"} <= set(output)
    keys = {"kind", "item", "gate", "seat", "sim_s", "actual", "wanted", "lead_s"}
    assert all(keys <= set(finding) for finding in output["findings"])
    assert output["notices"]
    findings = msgspec.convert(output["findings"], list[Finding])
    journal = Journal({finding.number: finding for finding in findings})
    pack = mock_flight([], 22.0, SEED).device.pack
    check_slips(
        output["slips"],
        {
            slip["id"]: [finding.kind for finding in findings_of_slip(slip, journal, pack)]
            for slip in output["slips"]
        },
    )
    assert output["link"]["rejects"] == {}
    assert "For flight simulation only." in output["disclaimer"]


async def _start(*words: str) -> asyncio.subprocess.Process:
    return await asyncio.create_subprocess_exec(
        sys.executable, "-m", "bridge", *words,
        stdout=asyncio.subprocess.PIPE, stderr=asyncio.subprocess.PIPE,
    )  # fmt: skip


async def _run(*words: str) -> tuple[int | None, str, str]:
    process = await _start(*words)
    out, err = await process.communicate()
    return process.returncode, out.decode(), err.decode()


def _children(pid: int) -> list[int]:
    """Return the running child processes of a process."""
    try:
        return [int(word) for word in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]
    except FileNotFoundError:
        return []


def _has_ended(pid: int) -> bool:
    """Return true if a process has ended."""
    try:
        os.kill(pid, 0)
        return "\nState:\tZ" in Path(f"/proc/{pid}/status").read_text()
    except (ProcessLookupError, FileNotFoundError):
        return True


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
async def test_an_interrupted_demo_leaves_no_process(number: signal.Signals) -> None:
    """A demo that a signal stops prints a message, ends with 1 and ends its sender."""
    demo = await _start("demo", "--headless", "--json")
    try:
        await wait_until(lambda: bool(_children(demo.pid)), WITHIN_S)
        (sender,) = _children(demo.pid)
        demo.send_signal(number)
        out, err = await asyncio.wait_for(demo.communicate(), WITHIN_S)
        assert (demo.returncode, out) == (1, b"")
        assert err.decode().strip() == "stopped before the end of the flight"
        await wait_until(lambda: _has_ended(sender), WITHIN_S)
    finally:
        if demo.returncode is None:
            demo.kill()
            await demo.communicate()


async def test_a_killed_sender_ends_the_demo() -> None:
    """If its sender is killed, the demo prints the reason and ends with 1."""
    demo = await _start("demo", "--headless")
    try:
        await wait_until(lambda: bool(_children(demo.pid)), WITHIN_S)
        os.kill(_children(demo.pid)[0], signal.SIGKILL)
        _, err = await asyncio.wait_for(demo.communicate(), WITHIN_S)
        assert demo.returncode == 1
        assert "the sender was ended by signal 9" in err.decode()
    finally:
        if demo.returncode is None:
            demo.kill()
            await demo.communicate()


async def test_an_unknown_slip_ends_with_2() -> None:
    """The sender reports an unknown slip, and the demo ends with 2."""
    code, out, err = await _run("demo", "--slip", "nosuch", "--headless", "--json")
    assert (code, out) == (2, "")
    assert "unknown slip nosuch" in err
    assert "Traceback" not in err
