"""Fuzz targets of the wire: decoders, framing, the sequence tracker, and the whole way to a frame.

Takes: any bytes.  Gives: nothing; a wrong result raises.
"""

from __future__ import annotations

import json
import math
import struct
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

from adapters.decoders.base import ColumnHeading, DecodedRecord, RawValue, Reject
from adapters.decoders.struct_layout import default_layout
from adapters.factory import decoder_for, encoder_for, receiver_for
from adapters.links.framing import Framing, FramingError, StreamSplitter
from adapters.mapping.load_map import parse_map
from adapters.receiver import Receiver
from adapters.sequence import FrameStatus, SequenceTracker
from rules.signals.book import load_book
from rules.signals.model import Frame
from rules.source import parse_source
from tests.fuzz.target import BrokenPromiseError, FuzzTarget, RunInput

SEPARATOR = b"\n\xff\xfe\n"
"""Between two datagrams of one input: no format has these bytes."""
VECTORS = Path(__file__).parent.parent / "adapters" / "vectors" / "formats.json"
SIGNALS = load_book("twin_jet").signals
LAYOUT = default_layout({name: SIGNALS[name] for name in [*SIGNALS][:40]})
FIELDS: list[dict[str, RawValue]] = [
    {"flight.airspeed": 120.5, "gear.parking_brake": "set", "engine.1.running": True, "call.push_approved": 3.0},
    {"flight.airspeed": None, "gear.parking_brake": "released", "engine.1.running": False, "paused": 1},
    {"flight.airspeed": -1e300, "gear.lever": "no such word"},
]  # fmt: skip
MAP = """
map:
  title: Made for the fuzzer
  format: key_value
  signals: [twin_jet]
  time: {from: T, unit: ms}
  sequence: {from: N, bits: 8}
  paused: P
  calls: {push_approved: PUSH}
  fields:
    flight.airspeed: {from: IAS, unit: m/s, valid: {from: OK, bit: 1}}
    gear.parking_brake: {from: SW, bit: 3, invert: true}
    flight.heading: {from: HDG, unit: rad}
    controls.flap.lever: {from: FLAP, scale: 2, offset: -1}
    engine.1.fuel_lever: {from: FUEL, threshold: {at_least: 0.5, then: open, else: closed}}
"""


def decode_all(format_name: str, data: bytes) -> None:
    """Decode each datagram with one decoder: always one of three results, with a value for each name."""
    decoder = decoder_for(format_name, table=LAYOUT if format_name == "packed_struct" else None)
    for datagram in data.split(SEPARATOR):
        decoder.is_essential(datagram)
        for record in decoder.split(datagram):
            check_decoded(decoder.decode(record))


def check_decoded(decoded: DecodedRecord | ColumnHeading | Reject) -> None:
    """Check that a record has one finite value for each name, and a refusal its reason."""
    if isinstance(decoded, DecodedRecord):
        if len(decoded.names) != len(decoded.values):
            raise BrokenPromiseError(f"{len(decoded.values)} values for {len(decoded.names)} names")
        endless = [v for v in decoded.values if isinstance(v, float) and not math.isfinite(v)]
        if endless:
            raise BrokenPromiseError(f"values that are not finite: {endless}")
    elif isinstance(decoded, Reject) and not decoded.reason:
        raise BrokenPromiseError("refused without a reason")


def split_stream(data: bytes) -> None:
    """Cut a stream in two ways: the messages do not depend on the pieces in which it arrives."""
    if len(data) < 2:
        return
    framing = Framing.LINES if data[0] % 2 else Framing.LENGTHS
    piece = data[1] % 17 + 1
    body = data[2:]
    whole = _messages(framing, [body])
    parts = _messages(framing, [body[at : at + piece] for at in range(0, len(body), piece)])
    if whole != parts:
        raise BrokenPromiseError(f"{framing}: {whole} in one piece, {parts} in pieces of {piece}")


def _messages(framing: Framing, pieces: Sequence[bytes]) -> tuple[list[bytes], int, str]:
    """Give the messages, the number of oversized ones, and the failure of a stream."""
    splitter, messages = StreamSplitter(framing, max_bytes=64), []
    try:
        for piece in pieces:
            messages += splitter.feed(piece)
    except FramingError:
        pass  # it may not be fed after it has failed
    return messages, splitter.oversized, splitter.failure


def track_sequence(data: bytes) -> None:
    """Classify numbers, times and arrivals: time of one epoch never goes back, and epochs are counted up."""
    tracker, arrived, last = SequenceTracker(bits=16), 0.0, (0, -math.inf)
    for number, time_s, step_s in struct.iter_unpack("<Hdf", data[: len(data) // 14 * 14]):
        arrived += min(abs(step_s), 100.0) if math.isfinite(step_s) else 0.0
        known_s = time_s if math.isfinite(time_s) else None
        tracked = tracker.classify(number if number % 7 else None, known_s, arrived)
        tracker.paused(arrived)
        if tracked.status in (FrameStatus.NEW, FrameStatus.RESET):
            now = (tracked.epoch, tracked.sim_s)
            if now[0] < last[0] or (now[0] == last[0] and now[1] < last[1]):
                raise BrokenPromiseError(f"epoch and time went from {last} to {now}")
            last = now


def receive_all(make: Callable[[], Receiver], data: bytes) -> None:
    """Receive each datagram: samples are known signals, their numbers finite, and the counts add up."""
    receiver = make()
    for number, datagram in enumerate(data.split(SEPARATOR)):
        for frame in receiver.receive(datagram, number * 0.05):
            _check_frame(frame)
    if receiver.health.rejected > receiver.health.records + receiver.health.datagrams:
        raise BrokenPromiseError("more refused than received")


def _check_frame(frame: Frame) -> None:
    for sample in frame.changes:
        if sample.name not in SIGNALS:
            raise BrokenPromiseError(f"a sample of the unknown signal {sample.name}")
        if isinstance(sample.value, float) and not math.isfinite(sample.value):
            raise BrokenPromiseError(f"{sample.name} is {sample.value}")


def _without_folder(run: RunInput) -> Callable[[Path], RunInput]:
    return lambda _: run


def _decoder_seeds(format_name: str) -> list[bytes]:
    """Vectors of the format, and a short stream of records."""
    vectors = json.loads(VECTORS.read_text(encoding="utf-8"))
    seeds = [bytes.fromhex(case["bytes"]) for case in vectors if case["format"] == format_name]
    table = LAYOUT if format_name == "packed_struct" else None
    encoder = encoder_for(format_name, table=table)
    stream = [part for n, fields in enumerate(FIELDS) for part in encoder.encode(n * 0.05, n, fields)]
    return [*seeds, SEPARATOR.join(stream)]


def _mapped_receiver() -> Receiver:
    return receiver_for(SIGNALS, map_file=parse_map(parse_source(MAP, "map.yaml"), SIGNALS))


FORMATS = ("labelled_csv", "key_value", "json", "msgpack", "packed_struct")
_KEY_VALUES = [b"T=100 IAS=60 OK=1 SW=8 HDG=3.1 FLAP=1", b"T=150 IAS=1e308 OK=0 SW=-1 HDG=x FLAP="]
_SEQUENCE = struct.pack("<HdfHdf", 1, 0.0, 0.05, 2, 0.05, 0.05) + struct.pack("<Hdf", 1, -4.0, 0.1)

TARGETS = [
    *(
        FuzzTarget(f"decoder_{name}", _without_folder(partial(decode_all, name)), partial(_decoder_seeds, name))
        for name in FORMATS
    ),
    *(
        FuzzTarget(
            f"receiver_{name}",
            _without_folder(
                partial(receive_all, partial(receiver_for, SIGNALS, format_name=name, calls=("push_approved",)))
            ),
            partial(_decoder_seeds, name),
        )
        for name in ("labelled_csv", "json", "msgpack")
    ),
    FuzzTarget(
        "receiver_map", _without_folder(partial(receive_all, _mapped_receiver)), lambda: [SEPARATOR.join(_KEY_VALUES)]
    ),
    FuzzTarget("framing", _without_folder(split_stream), lambda: [b"\1\3a\nbc\n\n", b"\0\2\0\0\0\1a\0\0\0\0\0\0\xff\0"]),
    FuzzTarget("sequence", _without_folder(track_sequence), lambda: [_SEQUENCE * 3]),
]  # fmt: skip
