"""Tests of sending a flight: each format, network faults, and the pace on a manual clock."""

from __future__ import annotations

import socket
from collections.abc import Callable

import pytest

from adapters.decoders.base import DecodedRecord, Decoder, Reject
from adapters.decoders.json_text import JsonDecoder
from adapters.decoders.key_value import KeyValueDecoder
from adapters.decoders.labelled_csv import LabelledCsvDecoder
from adapters.decoders.msgpack_map import MsgpackDecoder
from adapters.decoders.packed_struct import PackedStructDecoder
from adapters.decoders.struct_layout import default_layout
from adapters.mapping.mapper import Mapper
from adapters.receiver import Receiver
from mock_sim.run import Flight
from mock_sim.scenario import Scenario
from mock_sim.send import ClockPause, NetworkFaults, SendSummary, send_flight, send_to
from mock_sim.send.formats import FORMATS, encoder_for
from mock_sim.send.links import MemoryOutput
from rules.faults import InputFaults
from rules.signals.book import load_books
from rules.signals.model import Value
from tests.mock_sim.send.manual_clock import ManualClock

SHORT = Scenario.model_validate(
    {
        "name": "short",
        "title": "Short",
        "world": {"flight.outside_air_temperature": 6},
        "trip": {},
        "longest_s": 60,
        "ends": [{"done": "captain.on"}],
        "seats": {
            "ground": [{"key": "clear", "takes_s": 3, "calls": ["ground_clear"]}],
            "captain": [
                {"key": "on", "takes_s": 10, "set": {"electrical.battery.switch": "on"}, "calls": ["ready"]}
            ],
        },
    }
)
SIGNALS = load_books(["twin_jet"])
CALLS = ["ground_clear", "ready"]
DECODERS: dict[str, Callable[[], Decoder]] = {
    "labelled_csv": LabelledCsvDecoder,
    "key_value": KeyValueDecoder,
    "json": JsonDecoder,
    "msgpack": MsgpackDecoder,
    "packed_struct": lambda: PackedStructDecoder(default_layout(SIGNALS, CALLS)),
}


async def fly(
    wire: str,
    *,
    speed: float = 0.0,
    faults: NetworkFaults | None = None,
    seed: int = 0,
    pause_s: float = 0.0,
) -> tuple[MemoryOutput, SendSummary, ManualClock]:
    """Send the short flight into memory."""
    out, clock = MemoryOutput(), ManualClock()
    clock_faults = [ClockPause(2, pause_s)] if pause_s else []
    flight = Flight(SHORT, rate_hz=10, noise=False)
    sent = await send_flight(
        flight,
        encoder_for(wire, SIGNALS, CALLS),
        [out],
        speed=speed,
        network_faults=faults,
        seed=seed,
        clock_faults=clock_faults,
        clock=clock,
    )
    return out, sent, clock


@pytest.mark.parametrize("wire", list(DECODERS))
async def test_a_flight_is_read_back(wire: str) -> None:
    """Every frame is decoded; the last one carries the state, and both calls with their times."""
    out, sent, _ = await fly(wire)
    decoder = DECODERS[wire]()
    read = [record for record in map(decoder.decode, out.messages) if isinstance(record, DecodedRecord)]
    assert len(read) == sent.frames > 80
    last = dict(zip(read[-1].names, read[-1].values, strict=True))
    assert last["electrical.battery.switch"] == "on"
    assert last["sequence"] == len(read) - 1
    ready = last["call.ready"]
    assert isinstance(ready, float)
    assert ready == pytest.approx((sent.frames - 1) / 10, abs=0.11)
    first = dict(zip(read[0].names, read[0].values, strict=True))
    assert first.get("call.ready") is None
    assert first["electrical.battery.switch"] == "off"


@pytest.mark.parametrize("wire", list(DECODERS))
async def test_the_receiver_gets_state_and_calls(wire: str) -> None:
    """Through decoder, order and map the last state is the aeroplane's, every signal of it, and each call comes once."""
    out, _, _ = await fly(wire)
    receiver = Receiver(DECODERS[wire](), Mapper(SIGNALS))
    frames = [frame for data in out.messages for frame in receiver.receive(data, 0.0)]
    state: dict[str, Value | None] = {}
    for frame in frames:
        state |= {sample.name: sample.value for sample in frame.changes}
    assert [call for frame in frames for call in frame.calls] == CALLS
    last = list(Flight(SHORT, rate_hz=10, noise=False))[-1].state
    blank = {name for name, value in last.items() if value == ""}
    assert {name for name in last if state.get(name) != pytest.approx(last[name])} <= blank


async def test_a_call_survives_the_loss_of_its_frame() -> None:
    """With half of the frames lost, the last one still holds the call made long before."""
    out, sent, _ = await fly("json", faults=NetworkFaults(loss=0.5), seed=3)
    assert sent.network_faults["loss"] > 20
    decoded = JsonDecoder().decode(out.messages[-1])
    assert isinstance(decoded, DecodedRecord)
    called_s = dict(zip(decoded.names, decoded.values, strict=True))["call.ground_clear"]
    assert isinstance(called_s, float)
    assert 2 < called_s < 4


async def test_broken_datagrams_become_rejects_or_other_values_and_never_raise() -> None:
    """Garbage and cut datagrams are refused by the decoder, the others are read."""
    out, sent, _ = await fly("json", faults=NetworkFaults(garbage=0.2, truncate=0.2), seed=4)
    results = list(map(JsonDecoder().decode, out.messages))
    rejects = sum(isinstance(result, Reject) for result in results)
    assert rejects == sent.network_faults["garbage"] + sent.network_faults["truncate"]
    assert len(results) == sent.datagrams == len(out.messages)


async def test_network_faults_depend_on_the_seed() -> None:
    """The same seed sends the same bytes."""
    much = NetworkFaults(loss=0.1, reorder=0.1, corrupt=0.1, jitter_s=0.3)
    one, two, other = [(await fly("msgpack", faults=much, seed=seed))[0].messages for seed in (5, 5, 6)]
    assert one == two
    assert one != other


@pytest.mark.parametrize(("speed", "pause_s"), [(1.0, 0.0), (10.0, 0.0), (10.0, 5.0)])
async def test_a_flight_lasts_its_length_over_the_speed(speed: float, pause_s: float) -> None:
    """A flight takes its duration divided by the speed, and a pause makes it longer."""
    _, sent, clock = await fly("msgpack", speed=speed, pause_s=pause_s)
    assert clock.time_s - 1000 == pytest.approx((sent.frames - 1) / 10 / speed)
    assert sent.frames >= 85 + 10 * pause_s
    assert sent.late_s == pytest.approx(0)


def test_every_format_has_an_encoder_of_its_name() -> None:
    """Each name makes an encoder that says the same name; another is answered with the nearest."""
    assert set(FORMATS) == set(DECODERS)
    assert all(encoder_for(name).format == name for name in FORMATS)
    with pytest.raises(InputFaults, match="did you mean msgpack"):
        encoder_for("msgpak")


async def test_one_call_opens_sends_and_closes() -> None:
    """A flight goes over real UDP to a receiver, as fast as possible, and the summary has the number sent."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as receiver:
        receiver.bind(("127.0.0.1", 0))
        receiver.settimeout(5)
        address = f"udp://127.0.0.1:{receiver.getsockname()[1]}"
        sent = await send_to(Flight(SHORT, rate_hz=1), [address], "msgpack", speed=0)
        record = MsgpackDecoder().decode(receiver.recv(65535))
    assert isinstance(record, DecodedRecord)
    assert record.values[record.names.index("sequence")] == 0
    assert sent.datagrams == sent.frames
