"""Tests of `holdshort demo`: each slip is found as its kind, a correct crew gets no notice, and no process is left."""

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


def flown(slips: list[str]) -> tuple[DemoFlight, list[dict[str, Any]]]:
    """The demo's flight, handed from sender to device without a socket: the show, and the slips that were done."""
    show = mock_flight(slips, 22.0, SEED)
    flight, encoder = Flight("departure", slips, SEED), make_encoder("msgpack")
    for frame in FlightFrames(flight.scenario, flight):
        for data in encoder.encode(frame.clock_s, frame.number, frame.fields):
            show.device.session.receive(data, frame.clock_s)
    return show, [slip._asdict() for slip in flight.slip_records()]


def check_slips(slips: list[dict[str, Any]], found: dict[str, list[FindingKind]]) -> None:
    """Check that the first finding of each slip has the slip's kind."""
    assert len(slips) >= 6
    wrong = {
        slip["id"]: found[slip["id"]] for slip in slips if found[slip["id"]][:1] != [KINDS[str(slip["kind"])]]
    }
    assert not wrong


def test_each_scripted_slip_is_found_as_what_it_is() -> None:
    """Of the demo's slips each is found, of the kind that it is."""
    show, slips = flown(["demo"])
    device = show.device
    check_slips(
        slips,
        {
            slip["id"]: [one.kind for one in findings_of_slip(slip, device.journal, device.pack)]
            for slip in slips
        },
    )


def test_a_clean_crew_hears_nothing() -> None:
    """Without slips there is no finding and no notice, and the flight comes to its last phase."""
    show, slips = flown([])
    assert slips == []
    assert show.device.journal.findings == {}
    assert show.device.journal.notices == []
    assert len(show.device.journal.phases) >= 8


@pytest.mark.demo
def test_the_demo_itself_prints_one_object_with_every_slip_found() -> None:
    """The real thing, once: two processes, UDP, real time; into a pipe it prints one JSON object and nothing else."""
    code, out, err = asyncio.run(_run("demo", "--headless", "--json"))
    assert (code, err) == (0, "")
    said = json.loads(out)
    assert {"slips", "findings", "notices"} <= set(said)
    keys = {"kind", "item", "gate", "seat", "sim_s", "actual", "wanted", "lead_s"}
    assert all(keys <= set(finding) for finding in said["findings"])
    assert said["notices"]
    findings = msgspec.convert(said["findings"], list[Finding])
    journal = Journal({finding.number: finding for finding in findings})
    pack = mock_flight([], 22.0, SEED).device.pack
    check_slips(
        said["slips"],
        {slip["id"]: [one.kind for one in findings_of_slip(slip, journal, pack)] for slip in said["slips"]},
    )
    assert said["link"]["rejects"] == {}
    assert "For flight simulation only." in said["caution"]


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
    """The processes that a process started and that still run."""
    try:
        return [int(word) for word in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]
    except FileNotFoundError:
        return []


def _gone(pid: int) -> bool:
    """Whether a process has ended."""
    try:
        os.kill(pid, 0)
        return "\nState:\tZ" in Path(f"/proc/{pid}/status").read_text()
    except (ProcessLookupError, FileNotFoundError):
        return True


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
async def test_an_interrupted_demo_leaves_no_process_behind(number: signal.Signals) -> None:
    """Stopped by a signal the demo says so, ends with 1, and its sender is gone."""
    demo = await _start("demo", "--headless", "--json")
    try:
        await wait_until(lambda: bool(_children(demo.pid)), WITHIN_S)
        (sender,) = _children(demo.pid)
        demo.send_signal(number)
        out, err = await asyncio.wait_for(demo.communicate(), WITHIN_S)
        assert (demo.returncode, out) == (1, b"")
        assert err.decode().strip() == "stopped before the end of the flight"
        await wait_until(lambda: _gone(sender), WITHIN_S)
    finally:
        if demo.returncode is None:
            demo.kill()
            await demo.communicate()


async def test_a_sender_that_dies_ends_the_demo() -> None:
    """When its sender is killed the demo says so and ends with 1."""
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
    assert "no slip 'nosuch'" in err
    assert "Traceback" not in err
