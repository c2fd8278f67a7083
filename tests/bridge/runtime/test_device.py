"""Tests of bridge.runtime.device: sessions of a device, and faults of a link's address or format."""

from __future__ import annotations

import pytest

from adapters.decoders.base import FORMATS
from bridge.runtime.device import Device, build_device
from bridge.runtime.device_events import SessionCreated
from bridge.session.requests import Request
from bridge.session.session import Session
from bridge.session.session_events import KINDS, SessionEnded, SessionEvent, SessionStarted
from bridge.terminal.live_view import render_device
from rules.faults import InputFaults, LinkError
from rules.packs.model import Pack
from tests.bridge.builders import TRIP, FrameSender, device_on_memory_link, feed, rendered_text
from tests.contract.waiting import ManualClock


@pytest.mark.parametrize("form", FORMATS)
def test_every_format_makes_a_device(pack: Pack, form: str) -> None:
    """Each wire format makes a device."""
    assert (
        build_device(pack, TRIP, "udp://127.0.0.1:0", wire_format=form).source.address == "udp://127.0.0.1:0"
    )


def test_an_unknown_format_is_refused_with_the_known_ones(pack: Pack) -> None:
    """An unknown format is refused with the known ones and the nearest."""
    with pytest.raises(InputFaults, match="unknown format msgpak") as caught:
        build_device(pack, TRIP, "udp://127.0.0.1:0", wire_format="msgpak")
    assert all(form in str(caught.value) for form in FORMATS)
    assert "did you mean msgpack?" in str(caught.value)


@pytest.mark.parametrize(
    "address",
    [
        "",
        "udp://",
        "udp://1",
        "udp://127.0.0.1:99999",
        "ftp://127.0.0.1:5",
        "udp://[::1",
        "udp://0.0.0.0:5000",
    ],
)
def test_an_invalid_address_is_refused_at_once(pack: Pack, address: str) -> None:
    """An invalid address is refused when the device is built, not when the link is opened."""
    with pytest.raises(LinkError):
        build_device(pack, TRIP, address)


def verdict(device: Device) -> str:
    """Return the verdict of the beacon's item."""
    return device.session.snapshot().items["flow.before.beacon"].verdict


def test_verdicts_are_unknown_without_data_and_recover(pack: Pack, clock: ManualClock) -> None:
    """Without data a met item becomes unknown, the screen says that its signal is out of date, and new data make it met again."""
    device, _ = device_on_memory_link(pack, clock)
    sender = FrameSender()
    feed(device, sender.datagram(0.0), clock())
    assert verdict(device) == "met"
    clock.now_s += 60
    device.runner.tick()
    assert verdict(device) == "unknown"
    assert "beacon is out of date" in rendered_text(render_device(device))
    feed(device, sender.datagram(0.1), clock())
    assert verdict(device) == "met"


def test_the_next_session_starts_empty_with_the_updated_trip_sheet(pack: Pack, clock: ManualClock) -> None:
    """The next session has the updated trip values, but no findings and no data."""
    device, _ = device_on_memory_link(pack, clock)
    feed(device, FrameSender().datagram(0.0, {"lights.beacon": "off"}), 0.0)
    device.session.judge.update_trip({"trip.v1": 131.0})
    device.start_session("Second")
    assert device.session.trip_values == {"trip.v1": 131.0}
    assert (device.session.name, device.journal.phases, device.session.snapshot().phase) == (
        "Second",
        [],
        "",
    )
    assert [past.name for past in device.past_sessions] == ["Session 1"]


def test_a_callback_gets_every_session_before_its_first_event(pack: Pack, clock: ManualClock) -> None:
    """The callback gets the present session at once, and the next one before its start event; each has its own id."""
    device, _ = device_on_memory_link(pack, clock)
    sessions: list[Session] = []
    events: list[SessionEvent] = []

    def prepare(created: SessionCreated) -> None:
        sessions.append(created.session)
        created.session.bus.subscribe(events.append, *KINDS, one_session=True)

    device.on_each_session(prepare)
    device.handle(Request("start_session", "second"))
    assert sessions[0] is not sessions[1] is device.session
    assert len({session.uuid for session in sessions}) == 2
    assert [type(event) for event in events] == [SessionEnded, SessionStarted]
