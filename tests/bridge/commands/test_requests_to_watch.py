"""Tests of the commands that send a request to a running watch."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from typer.testing import CliRunner

from bridge.cli import app
from bridge.runtime.control import MAX_REQUEST_BYTES, open_control_port
from bridge.session.requests import Reply, Request

SHEET = 'trip:\n  title: Lindmere 417\n  values: {v1: 128 kt, runway: "32"}\n'


class ControlPortStub:
    """A control port in its own thread that records the requests."""

    def __init__(self) -> None:
        """Start without requests and closed."""
        self.requests: list[Request] = []
        self.port = 0
        self.open = threading.Event()
        self._thread = threading.Thread(target=self._run)

    def __enter__(self) -> ControlPortStub:
        """Open the port in its thread."""
        self._thread.start()
        assert self.open.wait(10.0)
        return self

    def __exit__(self, *_: object) -> None:
        """Close the port and end the thread."""
        self._loop.call_soon_threadsafe(self._stop.set)
        self._thread.join(10.0)

    def _run(self) -> None:
        asyncio.run(self._serve())

    async def _serve(self) -> None:
        self._loop, self._stop = asyncio.get_running_loop(), asyncio.Event()
        async with open_control_port(self._answer, 0) as self.port:
            self.open.set()
            await self._stop.wait()

    def _answer(self, request: Request) -> Reply:
        self.requests.append(request)
        return Reply(accepted=request.name != "ready", text=f"received {request.verb}")


@pytest.fixture
def control_port() -> Iterator[ControlPortStub]:
    """Open a control port."""
    with ControlPortStub() as stub:
        yield stub


def run_command(control_port: ControlPortStub, *words: str) -> tuple[int, str]:
    """Run a command against the control port; return its exit code and output."""
    result = CliRunner().invoke(app, [*words, "--control-port", str(control_port.port)])
    return result.exit_code, result.output


def test_waivers_and_their_undo_are_sent(control_port: ControlPortStub) -> None:
    """Item, reason and author arrive; the author is the instructor if none is named, and an undo needs no reason."""
    run_command(control_port, "waive", "flow.a.b", "--reason", "lamp failed", "--by", "captain")
    run_command(control_port, "undo-waiver", "flow.a.b")
    run_command(control_port, "undo-waiver", "flow.a.b", "--reason", "lamp replaced", "--by", "first_officer")
    assert control_port.requests == [
        Request("waive", "flow.a.b", "captain", "lamp failed"),
        Request("undo_waiver", "flow.a.b", "instructor"),
        Request("undo_waiver", "flow.a.b", "first_officer", "lamp replaced"),
    ]


def test_undo_call_sends_the_call(control_port: ControlPortStub) -> None:
    """The call's name and its author arrive; a refusal gives exit code 1."""
    assert run_command(control_port, "undo-call", "stop", "--by", "captain") == (0, "received undo_call\n")
    assert run_command(control_port, "undo-call", "ready") == (1, "received undo_call\n")
    assert control_port.requests == [Request("undo_call", "stop", "captain"), Request("undo_call", "ready")]


def test_amend_sends_the_trip_sheet(control_port: ControlPortStub, tmp_path: Path) -> None:
    """The text and the name of the file arrive complete."""
    path = tmp_path / "sheet.yaml"
    path.write_text(SHEET, encoding="utf-8")
    assert run_command(control_port, "amend", str(path), "--by", "captain") == (0, "received amend\n")
    assert control_port.requests == [Request("amend", "sheet.yaml", "captain", SHEET)]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("trip: {title: x, values: {v1: 128 kg}}", "sheet.yaml:1:"),
        (SHEET + "#" + "x" * MAX_REQUEST_BYTES, f"expected at most {MAX_REQUEST_BYTES}"),
    ],
)
def test_amend_refuses_a_faulty_or_too_long_sheet(
    control_port: ControlPortStub, tmp_path: Path, text: str, expected: str
) -> None:
    """A faulty sheet, or one too long for the control port, is refused and never sent."""
    path = tmp_path / "sheet.yaml"
    path.write_text(text, encoding="utf-8")
    result = CliRunner().invoke(app, ["amend", str(path), "--control-port", str(control_port.port)])
    assert result.exit_code != 0
    assert expected in f"{result.output}{result.exception}"
    assert control_port.requests == []
