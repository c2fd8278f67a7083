"""Tests of kinds of faults that users of similar programs have reported in public.

The thread named in each test reports the kind of fault; the input is our own smallest form of it.
"""

from __future__ import annotations

import asyncio
import socket
import time
from collections.abc import Sequence

import msgpack
import pytest
import zmq
import zmq.asyncio

from adapters.decoders.base import FORMATS
from adapters.decoders.json_text import JsonDecoder
from adapters.decoders.struct_layout import default_layout
from adapters.factory import encoder_for, link_for, receiver_for
from adapters.links.base import LinkLimits
from adapters.links.udp import UdpLink
from adapters.links.zeromq import ZmqLink
from adapters.mapping.load_map import MapFile, parse_map
from adapters.receiver import Receiver
from rules.faults import InputFaults, LinkError
from rules.signals.book import load_book
from rules.signals.model import Quality, Sample
from rules.source import parse_source
from tests.contract.waiting import ManualClock, wait_until

SIGNALS = load_book("twin_jet").signals


def mapped(text: str) -> MapFile:
    """Load a map from its text."""
    return parse_map(parse_source(f"map:\n{text}", "m.yaml"), SIGNALS)


def changes(receiver: Receiver, datagrams: Sequence[bytes]) -> list[Sample]:
    """List the changes of some datagrams, which arrive every 0.1 s."""
    return [
        sample
        for at, data in enumerate(datagrams)
        for frame in receiver.receive(data, at * 0.1)
        for sample in frame.changes
    ]


def test_labels_were_sent_before_we_listened() -> None:
    """JSBSim-Team/jsbsim#320: without its heading a row is read in the order of the map file, and the status text says so."""
    csv = mapped("  {format: labelled_csv, columns: [Time, N2], fields: {engine.1.n2: N2}}")
    receiver = receiver_for(SIGNALS, map_file=csv)
    assert [(sample.name, sample.value) for sample in changes(receiver, [b"0.05, 61.5\n"])] == [
        ("engine.1.n2", 61.5)
    ]
    assert "no column heading received; using the order of the map file" in receiver.health.status_text(0.0)


async def test_the_sender_speaks_another_transport() -> None:
    """JSBSim-Team/jsbsim#63: a UDP link that stays empty because the sender uses TCP names what it listens to."""
    clock = ManualClock()
    link = link_for("udp://127.0.0.1:0", JsonDecoder(), clock=clock)
    async with link:
        clock.now_s += 10.0
        assert (
            "nothing has arrived: does the sender use udp, this address and this port?"
            in link.status_text(clock())
        )


@pytest.mark.parametrize("row", [b"0,5;359,9", b"0,5,359,9", b"0;5;9", b"0,05;0,12;359,9\n"])
def test_numbers_with_a_decimal_comma(row: bytes) -> None:
    """JSBSim-Team/jsbsim PR#799: rows with decimal commas are refused with that hint."""
    receiver = receiver_for(
        SIGNALS, map_file=mapped("  {format: labelled_csv, columns: [Time, A], fields: {fuel.total: A}}")
    )
    assert changes(receiver, [row]) == []
    (reject,) = receiver.health.examples.values()
    assert "decimal comma" in reject.hint


@pytest.mark.parametrize("form", FORMATS)
def test_a_damaged_datagram_does_not_affect_the_next(form: str) -> None:
    """ArduPilot/pymavlink#881: after any damaged datagram the next one is read in full."""
    encoder = encoder_for(form, table=default_layout(SIGNALS))
    receiver = receiver_for(SIGNALS, format_name=form)
    good = [
        data
        for number in range(7)
        for data in encoder.encode(number * 0.1, number, {"fuel.total": 1.0 + number})
    ]
    for at, data in enumerate(good[:-1]):
        receiver.receive(data, at * 0.1)
    for cut in range(1, len(good[-1]) - 1, 7):
        receiver.receive(b"\xfd" + good[-1][:cut] + b"\xfd", 1.0)
    assert [frame.changes[0].value for frame in receiver.receive(good[-1], 1.1)] == [7.0]


def test_a_truncated_row_is_refused() -> None:
    """Knio/pynmea2#128: a row that ends in 35 of 359.5 is refused as too short."""
    receiver = receiver_for(
        SIGNALS,
        map_file=mapped("  {format: labelled_csv, columns: [Time, H, F], fields: {flight.heading: H}}"),
    )
    assert changes(receiver, [b"1,35"]) == []
    assert receiver.health.rejects == {"row too short": 1}


def test_metres_per_second_on_a_knots_signal() -> None:
    """canboat/canboat#118: the unit is part of the map, and 75 m/s is 145.8 kt."""
    receiver = receiver_for(
        SIGNALS, map_file=mapped("  {format: json, fields: {flight.airspeed: {from: v, unit: m/s}}}")
    )
    (sample,) = changes(receiver, [b'{"v":75}'])
    assert sample.value == pytest.approx(145.788, abs=1e-3)


async def test_sending_to_a_dead_port_does_not_end_reception() -> None:
    """python/cpython#127057: after an ICMP refusal on the same socket, datagrams still arrive."""
    async with UdpLink() as link:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as dead:
            dead.bind(("127.0.0.1", 0))
            dead_address = dead.getsockname()
        assert link._socket is not None
        link._socket.sendto(b"hello", dead_address)
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
            sender.sendto(b"still here", ("127.0.0.1", link.port))
        assert (await anext(link)).data == b"still here"


async def test_a_second_bridge_does_not_steal_the_port() -> None:
    """python/cpython#81409: the second of two bridges on one port fails with a sentence."""
    async with UdpLink() as first:
        with pytest.raises(LinkError, match="in use by another program; stop that one"):
            async with UdpLink(port=first.port):
                pass


async def test_a_burst_without_a_reader_is_counted() -> None:
    """python/asyncio#360: after a burst, used, dropped and lost datagrams add up to the sent ones."""
    receiver = receiver_for(SIGNALS)
    async with UdpLink(limits=LinkLimits(max_queued=10)) as link:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
            for number in range(300):
                if number == 1:
                    receiver.receive((await anext(link)).data, 0.0)
                data = msgpack.packb({"time": number * 0.05, "sequence": number, "fuel.total": 1.0})
                sender.sendto(data, ("127.0.0.1", link.port))
        await wait_until(lambda: link.counts.received == 300)
        rest = [await anext(link) for _ in range(10)]
    frames = [frame for each in rest for frame in receiver.receive(each.data, 1.0, each.dropped)]
    assert [frame.sim_s for frame in frames] == pytest.approx([number * 0.05 for number in range(290, 300)])
    assert [frame.missing_from_s for frame in frames] == [pytest.approx(0.05), *[None] * 9]
    assert receiver.sequence.counts.lost == link.counts.dropped == rest[0].dropped == 289


async def test_two_datagrams_before_a_read_are_both_delivered() -> None:
    """rthalley/dnspython PR#1250: a second datagram that arrives before the read is not dropped."""
    async with UdpLink() as link:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
            for data in (b"one", b"two"):
                sender.sendto(data, ("127.0.0.1", link.port))
        assert [(await anext(link)).data for _ in range(2)] == [b"one", b"two"]


async def test_the_first_published_message_may_be_missed() -> None:
    """zeromq/libzmq#2826: a link that missed the first message is waiting."""
    clock = ManualClock()
    context = zmq.asyncio.Context()
    publisher = context.socket(zmq.PUB)
    publisher.setsockopt(zmq.LINGER, 0)
    port = publisher.bind_to_random_port("tcp://127.0.0.1")
    await publisher.send(b"1")
    async with ZmqLink(f"tcp://127.0.0.1:{port}", clock=clock) as link:
        assert "open, nothing has arrived yet" in link.status_text(clock())
    publisher.close()
    context.term()


async def test_closing_without_a_peer_does_not_hang() -> None:
    """zeromq/pyzmq#102: closing a subscription whose publisher is absent ends at once."""
    async with asyncio.timeout(5):
        async with ZmqLink("tcp://127.0.0.1:9"):
            pass


@pytest.mark.parametrize("record", [{1: 2.0}, {b"a": 2.0}, {"a": b"x" * 50_000}, {"a": {1: 2}}])
def test_keys_and_values_of_other_kinds_are_refused(record: dict[object, object]) -> None:
    """msgpack/msgpack-python#296: number keys and binary values are refused by name, and reception continues."""
    receiver = receiver_for(SIGNALS)
    assert changes(receiver, [msgpack.packb(record)]) == []
    assert set(receiver.health.rejects) <= {
        "key is not text",
        "unsupported type of value",
    }
    assert changes(receiver, [msgpack.packb({"fuel.total": 5.0})])


def test_on_and_off_in_a_map_file_stay_words() -> None:
    """yaml/pyyaml#613: on and off stay words, as keys and as values."""
    file = mapped("  format: key_value\n  fields:\n    lights.beacon: {from: B, words: {on: off, off: on}}")
    assert [
        sample.value for sample in changes(receiver_for(SIGNALS, map_file=file), [b"B=on", b"B=off"])
    ] == ["off", "on"]


def test_a_truth_value_is_not_a_word() -> None:
    """pydantic/pydantic#7820: `true` instead of a word is a fault in a map, and an invalid value in a record."""
    with pytest.raises(InputFaults, match="text"):
        mapped("  {format: json, fields: {gear.autobrake: {from: G, words: {1: true}}}}")
    (sample,) = changes(receiver_for(SIGNALS, format_name="json"), [b'{"gear.autobrake":true}'])
    assert sample.quality is Quality.INVALID


def test_nan_in_one_field_does_not_silence_the_others() -> None:
    """ukhas/habitat#248: a field that is NaN is invalid, and the other fields are used."""
    file = mapped(
        "  {format: labelled_csv, columns: [Time, A, B, C], fields: {engine.1.n1: A, engine.1.n2: B, engine.2.n2: C}}"
    )
    receiver = receiver_for(SIGNALS, map_file=file)
    first = changes(receiver, [b"1,NaN,NaN,1"])
    assert [sample.quality for sample in first] == [Quality.INVALID, Quality.INVALID, Quality.FRESH]
    assert [sample.value for sample in changes(receiver, [b"1.1,20,60,1"])] == [20.0, 60.0]


def test_a_32_bit_clock_of_milliseconds_wraps() -> None:
    """ros-drivers/rosserial#502: the clock continues to rise across the wrap, in one epoch."""
    file = mapped("  {format: json, time: {from: ms, unit: ms, bits: 32}, fields: {fuel.total: F}}")
    receiver = receiver_for(SIGNALS, map_file=file)
    frames = [receiver.receive(b'{"ms":%d,"F":1}' % ms, 0.0)[0] for ms in (4294967290, 4294967295, 4)]
    assert [frame.sim_s - frames[0].sim_s for frame in frames] == pytest.approx([0.0, 0.005, 0.010], abs=1e-5)
    assert {frame.epoch for frame in frames} == {0}


def test_a_reset_of_the_simulator_is_one_reset() -> None:
    """ros/geometry2#43: from 100 s back to 0, state flows again at once, with one new epoch."""
    receiver = receiver_for(SIGNALS)
    frames = [
        frame
        for at, time_s in enumerate((99.9, 100.0, 0.0, 0.1, 0.2))
        for frame in receiver.receive(
            msgpack.packb({"time": time_s, "sequence": at, "fuel.total": 1.0}), at * 0.1
        )
    ]
    assert [frame.epoch for frame in frames] == [0, 0, 1, 1, 1]


def test_headings_beyond_north() -> None:
    """duonginspace/MultitaskAIS#9: 359.9 to 0.1, 360, and -10 are angles on the circle, not on a line."""
    records = [b'{"flight.heading":%s}' % text for text in (b"350", b"360", b"-10", b"370")]
    values = [sample.value for sample in changes(receiver_for(SIGNALS, format_name="json"), records)]
    assert values == [350.0, 0.0, 350.0, 10.0]


def test_reordered_is_not_lost() -> None:
    """esnet/iperf#457: 1 3 2 4 has one late record and no lost one, and 2 does not overwrite the state of 3."""
    receiver = receiver_for(SIGNALS)
    records = [msgpack.packb({"time": n * 0.1, "sequence": n, "fuel.total": float(n)}) for n in (1, 3, 2, 4)]
    assert [sample.value for sample in changes(receiver, records)] == [1.0, 3.0, 4.0]
    assert (receiver.sequence.counts.reordered, receiver.sequence.counts.lost) == (1, 0)


def test_two_columns_of_the_same_name() -> None:
    """mafintosh/csv-parser#224: a duplicate label feeds nothing and is reported; positions still work."""
    rows = [b"<LABELS> ,Time,n2,n2\n", b"1,20,60\n"]
    by_name = receiver_for(SIGNALS, map_file=mapped("  {format: labelled_csv, fields: {engine.1.n2: n2}}"))
    assert changes(by_name, rows) == []
    assert "duplicate label n2; bind it by position" in by_name.health.status_text(0.1)
    by_position = mapped("  {format: labelled_csv, fields: {engine.1.n2: 2, engine.2.n2: 3}}")
    assert [sample.value for sample in changes(receiver_for(SIGNALS, map_file=by_position), rows)] == [
        20.0,
        60.0,
    ]


def test_a_missing_field_is_reported() -> None:
    """JSBSim 1.3.3 leaves out a column whose property is not there: its signal stays absent, and the field's name is reported."""
    receiver = receiver_for(
        SIGNALS, map_file=mapped("  {format: json, fields: {fuel.total: F, engine.1.egt: EGT}}")
    )
    assert [sample.name for sample in changes(receiver, [b'{"F":1}'])] == ["fuel.total"]
    assert "mapped fields not received: EGT" in receiver.health.status_text(0.0)


def test_the_default_clock_is_the_monotonic_one() -> None:
    """Deadlines do not depend on changes of the system's time."""
    assert UdpLink().clock is time.monotonic
