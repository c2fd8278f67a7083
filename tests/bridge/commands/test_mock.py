"""Tests of `holdshort mock`: datagrams on a real socket, and its output."""

from __future__ import annotations

import json
import socket
from collections.abc import Iterator
from itertools import islice

import pytest

from adapters.decoders.base import FORMATS
from bridge.demo.wire_encoder import make_encoder
from bridge.runtime.device import build_device
from mock_sim.run import Flight
from mock_sim.send.frames import FlightFrames
from rules.packs.load_pack import SHIPPED_DIR, load_pack
from rules.packs.model import Pack
from rules.packs.trip_sheet import load_trip_sheet
from rules.signals.model import Quality
from tests.bridge.builders import TRIP, FrameSender, feed
from tests.bridge.conftest import Command


@pytest.fixture(scope="module")
def twin_jet() -> Pack:
    """Load the pack of the twin jet."""
    return load_pack("twin_jet")


@pytest.fixture
def receiving_socket() -> Iterator[socket.socket]:
    """Give a socket with a receive buffer for several minutes of flight."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as receiver:
        receiver.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4 << 20)
        receiver.bind(("127.0.0.1", 0))
        receiver.settimeout(10)
        yield receiver


def test_a_flight_is_sent_to_a_socket(
    command: Command, receiving_socket: socket.socket, twin_jet: Pack
) -> None:
    """The mock's datagrams arrive on a socket, from time 0 on; its JSON has the slips and the counts of what it sent."""
    address = f"udp://127.0.0.1:{receiving_socket.getsockname()[1]}"
    result = command("mock", "--to", address, "--rate", 1, "--speed", 0, "--json", "--slip", "trim_wrong")
    output = json.loads(result.out)
    assert result.code == 0
    assert [slip["id"] for slip in output["slips"]] == ["trim_wrong"]
    assert output["summary"]["datagrams"] == output["summary"]["frames"] > 500
    device = build_device(twin_jet, TRIP, "udp://127.0.0.1:0")
    for second in range(30):
        feed(device, receiving_socket.recv(65536), float(second))
    assert device.session.snapshot().sim_s == 29.0


@pytest.mark.parametrize("form", FORMATS)
def test_a_watch_decodes_every_wire_format_of_the_mock(twin_jet: Pack, form: str) -> None:
    """In every wire format a watch of the twin jet decodes the mock's frames with all signals and calls."""
    flight, encoder = Flight("departure", rate_hz=1.0), make_encoder(form)
    device = build_device(twin_jet, TRIP, "udp://127.0.0.1:0", wire_format=form)
    for frame in islice(FlightFrames(flight.scenario, flight, rate_hz=1.0), 330):
        for data in encoder.encode(frame.clock_s, frame.number, frame.fields):
            feed(device, data, frame.clock_s)
    health, samples = device.source.health, device.session.snapshot().samples
    assert health.frames == 330
    assert (health.rejected, health.mapping.unknown_words, health.mapping.unknown_fields) == (0, 0, {})
    # A packed record cannot tell an empty text (no runway entered yet) from none.
    assert set(health.mapping.examples.values()) <= ({"no value"} if form == "packed_struct" else set())
    assert sum(sample.quality is Quality.FRESH for sample in samples.values()) > 200
    assert samples["lights.beacon"].value == "on"
    assert [call.call for call in device.journal.calls][:3] == [call.name for call in flight.crew.calls][:3]
    assert device.journal.calls


def test_the_simulator_cannot_change_the_trip_sheet(twin_jet: Pack) -> None:
    """A sender's value for the trip sheet's V1 is counted as unknown, and the trip sheet is unchanged."""
    trip_sheet = load_trip_sheet(SHIPPED_DIR / "twin_jet" / "trip_demo.yaml")
    device = build_device(twin_jet, trip_sheet, "udp://127.0.0.1:0")
    feed(device, FrameSender().datagram(0.0, {"trip.v1": 99.0}), 0.0)
    assert device.session.snapshot().samples["trip.v1"].value == 128.0
    assert list(device.source.health.mapping.unknown_fields) == ["trip.v1"]


def test_slips_are_printed_as_sentences(command: Command, receiving_socket: socket.socket) -> None:
    """Without --json each slip has one line with its time and seat."""
    address = f"udp://127.0.0.1:{receiving_socket.getsockname()[1]}"
    result = command("mock", "--to", address, "--rate", 1, "--speed", 0, "--slip", "trim_wrong")
    assert result.code == 0
    assert "The captain sets the stabiliser trim to 4.2 instead of 5.2." in result.out


def test_a_missing_tcp_receiver_is_reported(command: Command) -> None:
    """Without a receiver the error gives a hint: exit code 2."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        result = command("mock", "--to", f"tcp://127.0.0.1:{free.getsockname()[1]}", "--speed", 0)
    assert result.code == 2
    assert "is the receiver running?" in result.err
