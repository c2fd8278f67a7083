"""Tests of the receiver: decoder, sequence tracker and mapper together; and of formats and addresses."""

from __future__ import annotations

import msgpack
import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.decoders.base import FORMATS, DecodedRecord, Decoder, RawValue
from adapters.decoders.labelled_csv import LabelledCsvDecoder
from adapters.decoders.struct_layout import default_layout
from adapters.factory import decoder_for, encoder_for, link_for, receiver_for
from adapters.links.tcp import TcpClientLink, TcpServerLink
from adapters.links.udp import UdpLink
from adapters.links.zeromq import ZmqLink
from adapters.mapping.mapper import Mapper
from adapters.receiver import Receiver
from rules.faults import LinkError
from rules.signals.book import load_book
from rules.signals.model import Quality

SIGNALS = load_book("twin_jet").signals
CALLS = ("push_approved", "start_approved")


def packed(**fields: RawValue) -> bytes:
    """Make a MessagePack record; `__` in a name means a point."""
    data: bytes = msgpack.packb({name.replace("__", "."): value for name, value in fields.items()})
    return data


def all_values() -> dict[str, RawValue]:
    """Give a value for every signal of the book, and calls."""
    values: dict[str, RawValue] = {}
    for name, signal in SIGNALS.items():
        if signal.words:
            values[name] = signal.words[-1]
        elif signal.is_numeric:
            values[name] = float(round((signal.low + 2 * signal.high) / 3))
        else:
            values[name] = "04L"
    return values | {"call.push_approved": 1.5, "call.start_approved": None}


@pytest.mark.parametrize("form", FORMATS)
def test_every_signal_travels_in_every_format_without_a_map(form: str) -> None:
    """Fields with the signals' own names arrive as those signals in each wire format, with the calls."""
    expected = all_values()
    encoder = encoder_for(form, table=default_layout(SIGNALS, CALLS))
    receiver = receiver_for(SIGNALS, format_name=form, calls=CALLS, link="sim")
    frames = [
        frame
        for number in range(8)
        for data in encoder.encode(2.0 + number * 0.05, number, expected)
        for frame in receiver.receive(data, number * 0.05)
    ]
    received = {sample.name: sample.value for sample in frames[0].changes}
    assert received == {name: value for name, value in expected.items() if not name.startswith("call.")}
    assert {sample.quality for sample in frames[0].changes} == {Quality.FRESH}
    assert frames[0].calls == ("push_approved",)
    assert [len(frame.changes) for frame in frames[1:]] == [0] * 7
    assert frames[-1].sim_s == pytest.approx(2.35)
    assert receiver.health.frames == 8
    assert receiver.health.rejected == 0


def test_late_and_duplicate_frames_are_not_used() -> None:
    """Datagrams 1 3 2 3 4 give three frames; the late one and the duplicate are only counted."""
    receiver = receiver_for(SIGNALS)
    results = [
        receiver.receive(packed(time=number * 0.1, sequence=number, fuel__total=float(number)), 0.1 * at)
        for at, number in enumerate((1, 3, 2, 3, 4))
    ]
    assert [[frame.changes[0].value for frame in frames] for frames in results] == [
        [1.0],
        [3.0],
        [],
        [],
        [4.0],
    ]
    assert (receiver.sequence.counts.reordered, receiver.sequence.counts.duplicated) == (1, 1)


@pytest.mark.parametrize("form", FORMATS)
def test_an_unused_frame_hides_no_change(form: str) -> None:
    """A value that came first in a late frame is a change when a new frame has it."""
    encoder = encoder_for(form, table=default_layout(SIGNALS))
    receiver = receiver_for(SIGNALS, format_name=form)
    records = [(1, 1.0), (2, 1.0), (3, 1.0), (4, 1.0), (5, 1.0), (7, 1.0), (6, 2.0), (8, 2.0)]
    sent = [
        data
        for number, fuel in records
        for data in encoder.encode(number * 0.1, number, {"fuel.total": fuel})
    ]
    frames = [frame for data in sent for frame in receiver.receive(data, 0.0)]
    fuel = [sample.value for frame in frames for sample in frame.changes if sample.name == "fuel.total"]
    assert fuel == [1.0, 2.0]
    assert receiver.sequence.counts.reordered == 1


def test_a_heading_confirms_a_reset() -> None:
    """After a repeated heading, the first row with a time of 0 is a reset."""
    receiver = Receiver(LabelledCsvDecoder(), Mapper(SIGNALS))
    heading = b"<LABELS> ,Time,fuel.total\n"
    epochs = [
        frame.epoch for at, row in enumerate((heading, b"99.95,5", b"100,5", heading, b"0,5", b"0.05,5"))
        for frame in receiver.receive(row, at * 0.05)
    ]  # fmt: skip
    assert epochs == [0, 0, 1, 1]


def test_the_first_frame_after_a_reset_has_every_value() -> None:
    """After a reset of the clock, the first frame has every value and a new epoch."""
    receiver = receiver_for(SIGNALS)
    receiver.receive(packed(time=100.0, sequence=7, fuel__total=5.0, lights__beacon="on"), 0.0)
    (frame,) = receiver.receive(packed(time=0.0, sequence=8, fuel__total=5.0, lights__beacon="on"), 0.1)
    assert (frame.epoch, frame.sim_s, len(frame.changes)) == (1, 0.0, 2)
    assert "1 reset" in receiver.health.status_text(0.1)


def test_rejects_are_counted_by_reason_with_an_example() -> None:
    """Each reason has a count and an example with an excerpt of the bytes."""
    receiver = receiver_for(SIGNALS, format_name="json")
    for data in (b"{", b'{"a":1,"a":2}', b"", b'{"a":3,"a":4}'):
        assert receiver.receive(data, 0.0) == []
    assert receiver.health.rejects == {"not json": 1, "duplicate key": 2, "empty datagram": 1}
    assert '\'{"a":3,"a":4}\'' in str(receiver.health.examples["duplicate key"])
    assert receiver.health.datagrams == 4


def test_the_status_text_distinguishes_no_data_silence_and_unreadable_data() -> None:
    """The text differs before the first datagram, during reception, in silence, and for unreadable bytes."""
    receiver = receiver_for(SIGNALS, format_name="json")
    assert receiver.health.status_text(0.0) == "nothing has arrived yet"
    receiver.receive(b"\x81\xa1a\x01", 0.0)
    assert receiver.health.status_text(0.1).startswith("packets received, none can be decoded: not json")
    assert "looks like msgpack" in receiver.health.status_text(0.1)
    receiver.receive(b'{"fuel.total":1}', 1.0)
    assert receiver.health.status_text(1.0).startswith("receiving; 1 refused")
    assert receiver.health.brief_text(1.0) == "receiving"
    assert receiver.health.status_text(5.0) == receiver.health.brief_text(5.0) == "no data for 4 s"


def test_the_status_text_shows_that_data_has_become_unreadable() -> None:
    """Two seconds after the last readable datagram, the text says that none can be decoded."""
    receiver = receiver_for(SIGNALS, format_name="json")
    receiver.receive(b'{"fuel.total":1}', 0.0)
    for at in range(1, 7):
        receiver.receive(b"{", at * 0.5)
    assert receiver.health.status_text(3.0).startswith("packets received, none can be decoded")


def test_several_records_in_one_datagram_are_several_frames() -> None:
    """A datagram of three lines gives three frames in their order."""
    receiver = receiver_for(SIGNALS, format_name="key_value")
    frames = receiver.receive(b"t=1 fuel.total=1\nt=1.1 fuel.total=2\nt=1.2 fuel.total=2\n", 0.0)
    assert [(frame.sim_s, len(frame.changes)) for frame in frames] == [(1.0, 1), (1.1, 1), (1.2, 0)]


def test_a_missing_heading_is_reported() -> None:
    """The status text reports a missing heading until the heading arrives."""
    receiver = Receiver(LabelledCsvDecoder(["Time", "fuel.total"]), Mapper(SIGNALS))
    assert receiver.receive(b"1,5", 0.0)[0].changes[0].value == 5.0
    assert "no column heading received; using the order of the map file" in receiver.health.status_text(0.0)
    receiver.receive(b"<LABELS> ,Time,fuel.total\n", 0.1)
    assert "no column heading" not in receiver.health.status_text(0.1)


def test_a_pause_is_reported() -> None:
    """Frames with a constant time are a pause, and still carry their signals."""
    receiver = receiver_for(SIGNALS)
    for number in range(30):
        frames = receiver.receive(packed(time=5.0, sequence=number, fuel__total=1.0), number * 0.1)
        assert frames[0].carried == ("fuel.total",)
    assert receiver.health.status_text(2.9).startswith("receiving, simulation paused")


def test_a_wrong_decoder_cannot_stop_reception() -> None:
    """Records of a third-party decoder whose names and values do not match are refused one by one."""

    class WrongDecoder(Decoder):
        format = "wrong"

        def parse(self, data: bytes) -> DecodedRecord:
            values: list[RawValue] = [1.0, 2.0]
            return DecodedRecord(("time", "fuel.total"), values[: len(data)])

    receiver = Receiver(WrongDecoder(), Mapper(SIGNALS))
    assert receiver.receive(b"x", 0.0) == []
    assert receiver.health.rejects == {"unusable field values": 1}
    assert "1 values for 2 names" in receiver.health.status_text(0.0)


@given(st.lists(st.binary(max_size=80), max_size=10), st.sampled_from(FORMATS))
def test_no_bytes_raise_through_a_receiver(datagrams: list[bytes], form: str) -> None:
    """Any bytes are counted and raise nothing."""
    receiver = receiver_for(SIGNALS, format_name=form)
    for at, data in enumerate(datagrams):
        receiver.receive(data, float(at))
    assert receiver.health.datagrams == len(datagrams)
    assert receiver.health.status_text(0.0)
    assert receiver.health.as_dict()["bytes"] == sum(map(len, datagrams))


def test_addresses_become_links() -> None:
    """Each scheme gives its link, with the decoder's framing and essential datagrams."""
    csv = LabelledCsvDecoder()
    assert isinstance(link_for("udp://127.0.0.1:5139", csv), UdpLink)
    group = link_for("udp://239.1.2.3:5139?interface=127.0.0.1", csv)
    assert isinstance(group, UdpLink)
    assert group.is_multicast
    assert isinstance(link_for("tcp://127.0.0.1:5139", csv), TcpClientLink)
    assert isinstance(link_for("tcp-listen://127.0.0.1:5139", csv), TcpServerLink)
    assert isinstance(link_for("zmq://127.0.0.1:5563?topic=state", csv), ZmqLink)
    assert group.limits.is_essential(b"<LABELS> ,Time")


@pytest.mark.parametrize(
    ("address", "part"),
    [
        ("upd://127.0.0.1:1", "did you mean udp://?"),
        ("127.0.0.1:5139", "expected udp://"),
        ("udp://127.0.0.1", "has no valid host and port"),
        ("udp://:5139", "has no valid host and port"),
        ("udp://127.0.0.1:99999", "has no valid host and port"),
        ("udp://somewhere:5139", "not an IPv4 address"),
        ("udp://0.0.0.0:5139", "expected the addresses that may send"),
        ("tcp-listen://192.0.2.1:5139", "expected the addresses that may send"),
        ("tcp://127.0.0.1:0", "no valid host and port, expected an address such as tcp://"),
        ("zmq://127.0.0.1:0", "no valid host and port, expected an address such as zmq://"),
        ("zmq://*:5555", "names no host"),
        ("zmq://127.0.0.1:5555?topik=state", "unknown option topik, expected topic; did you mean topic?"),
        ("zmq://127.0.0.1:5555?topic=", "the option topic without a value"),
        ("tcp://127.0.0.1:5139?interface=127.0.0.1", "unknown option interface, tcp:// has no options"),
        ("udp://127.0.0.1:5139?framing=lines", "unknown option framing, expected interface"),
        ("udp://127.0.0.1:5139/state", "more than host, port and options, expected udp://127.0.0.1:5139"),
        ("udp://127.0.0.1:5139#state", "more than host, port and options"),
        ("udp://me@127.0.0.1:5139", "more than host, port and options"),
        ("udp://239.1.2.3:5139?interface=192.0.2.1", "expected the addresses that may send"),
    ],
)
def test_an_invalid_address_is_refused(address: str, part: str) -> None:
    """An invalid address, or one that other machines could reach, is refused with the expected form."""
    with pytest.raises(LinkError) as caught:
        link_for(address, LabelledCsvDecoder())
    assert part in str(caught.value)


def test_an_unknown_format_is_refused() -> None:
    """An unknown format is refused with "did you mean"."""
    with pytest.raises(ValueError, match=r"did you mean msgpack\?"):
        decoder_for("msgpak")
    with pytest.raises(ValueError, match="unknown format"):
        decoder_for("packed_struct")


def test_missing_records_travel_with_the_next_frame() -> None:
    """A frame says from which time on records before it are missing, lost on the way or dropped by our queue."""
    receiver = receiver_for(SIGNALS)
    assert receiver.receive(packed(time=10.0, sequence=1, fuel__total=1.0), 0.0)[0].missing_from_s is None
    (after,) = receiver.receive(packed(time=12.5, sequence=6), 0.1)
    assert after.missing_from_s == pytest.approx(10.5)
    assert after.missing_records == 4
    receiver.receive(b"unreadable", 0.15, dropped=1)
    assert receiver.receive(packed(time=14.5), 0.2)[0].missing_from_s == pytest.approx(13.5)
    assert receiver.receive(packed(time=15.0), 0.3)[0].missing_from_s is None
