"""Tests of the budgets for what a sender sends: over them a record is refused and counted, and memory stays bounded."""

from __future__ import annotations

import json
import tracemalloc
from collections import Counter
from collections.abc import Callable

import msgpack
import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.decoders.base import (
    FORMATS,
    MAX_FIELDS,
    MAX_NAME_LENGTH,
    MAX_NAMES_LENGTH,
    MAX_RECORD_BYTES,
    MAX_RECORDS,
    ColumnHeading,
)
from adapters.decoders.labelled_csv import LabelledCsvDecoder
from adapters.decoders.struct_layout import default_layout
from adapters.factory import encoder_for, receiver_for
from adapters.receiver import MAX_PACKET_S, MAX_TIME_S
from rules.signals.book import load_book

SIGNALS = load_book("twin_jet").signals
MEMORY_BYTES = 40_000_000
"""What one receiver may keep of everything that it was sent; before there was a limit, 42 datagrams took 3.4 GB."""

Hostile = Callable[[int], bytes]


def dumps(fields: object) -> bytes:
    """Encode as JSON without blanks."""
    return json.dumps(fields, separators=(",", ":")).encode()


def nested_long(number: int) -> bytes:
    """One long name around many short ones: joined they have 85 MB."""
    return dumps({f"{number}{'k' * 25_000}": dict.fromkeys(map(str, range(3500)), 1)})


def nested_allowed(number: int) -> bytes:
    """As many names of another layout each time as are allowed."""
    return dumps({"time": number, f"{number}_{'k' * 20}": dict.fromkeys(map(str, range(MAX_FIELDS - 2)), 1)})


def flat(number: int) -> bytes:
    """Another flat layout each time."""
    return dumps({"time": number, **{f"{number}_{n}": 1 for n in range(4000)}})


def long_list(number: int) -> bytes:
    """One long name before each number of a list."""
    data: bytes = msgpack.packb({f"{number}{'k' * 60_000}": [1] * 4000})
    return data


def calls(number: int) -> bytes:
    """Other calls each time."""
    return dumps({"time": number, **{f"call.{number}_{n}": 0.5 for n in range(2500)}})


def signals(number: int) -> bytes:
    """Another choice of signals each time, so that no layout comes twice."""
    names = list(SIGNALS)
    return dumps({"time": 1.0 + number / 1e6, **{names[(number * 7 + n) % len(names)]: 1 for n in range(9)}})


def headings(number: int) -> bytes:
    """Another heading each time."""
    return f"<LABELS> ,Time,{','.join(f'l{number}_{n}' for n in range(4000))}".encode()


HOSTILE: list[tuple[str, Hostile, int]] = [
    ("json", nested_long, 60),
    ("json", nested_allowed, 80),
    ("json", flat, 80),
    ("json", calls, 80),
    ("json", signals, 3000),
    ("msgpack", long_list, 60),
    ("labelled_csv", headings, 80),
]


@pytest.mark.parametrize(("form", "datagram", "count"), HOSTILE, ids=[each[1].__name__ for each in HOSTILE])
def test_memory_stays_bounded(form: str, datagram: Hostile, count: int) -> None:
    """Whatever layouts a sender invents, a receiver keeps a bounded amount of them, and still reads good records."""
    receiver = receiver_for(SIGNALS, format_name=form)
    tracemalloc.start()
    try:
        for number in range(count):
            data = datagram(number)
            assert len(data) <= MAX_RECORD_BYTES
            receiver.receive(data, number / 10)
        kept, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert kept < MEMORY_BYTES
    assert peak < 2 * MEMORY_BYTES


@pytest.mark.parametrize("form", FORMATS)
def test_good_records_are_read_beside_refused_ones(form: str) -> None:
    """A refused record changes nothing for the next one of the same sender."""
    receiver = receiver_for(SIGNALS, format_name=form)
    encoder = encoder_for(form, table=default_layout(SIGNALS, ()))
    for number in range(20):
        receiver.receive(nested_long(number), number / 10)
        for data in encoder.encode(number / 10, number, {"lights.beacon": "on"}):
            receiver.receive(data, number / 10)
    assert receiver.health.frames == 20
    assert receiver.health.rejected == 20


@pytest.mark.parametrize(
    ("fields", "reason"),
    [
        ({"a" * MAX_NAME_LENGTH: 1}, ""),
        ({"a" * (MAX_NAME_LENGTH + 1): 1}, "name too long"),
        ({"a" * 150: {"b" * (MAX_NAME_LENGTH - 151): 1}}, ""),
        ({"a" * 150: {"b" * (MAX_NAME_LENGTH - 150): 1}}, "name too long"),
        ({"a" * 150: dict.fromkeys(map(str, range(MAX_NAMES_LENGTH // 155)), 1)}, ""),
        ({"a" * 150: dict.fromkeys(map(str, range(MAX_NAMES_LENGTH // 150)), 1)}, "names too long"),
    ],
)
@pytest.mark.parametrize("form", ["json", "msgpack"])
def test_names_have_a_budget(form: str, fields: dict[str, object], reason: str) -> None:
    """A name, and all names of a record, may have so many characters, the names around them included."""
    receiver = receiver_for(SIGNALS, format_name=form)
    receiver.receive(dumps(fields) if form == "json" else msgpack.packb(fields), 0.0)
    assert list(receiver.health.rejects) == ([reason] if reason else [])


def test_a_long_label_is_refused_too() -> None:
    """The names of a heading have the same budget."""
    receiver = receiver_for(SIGNALS, format_name="labelled_csv")
    receiver.receive(b"<LABELS> ,Time," + b"x" * (MAX_NAME_LENGTH + 1), 0.0)
    assert list(receiver.health.rejects) == ["name too long"]


@pytest.mark.parametrize(
    ("form", "line"), [("labelled_csv", b"1\n"), ("key_value", b"a=1\n"), ("json", b"{}\n")]
)
def test_a_datagram_has_a_number_of_records(form: str, line: bytes) -> None:
    """A datagram of more records is refused as a whole, before one of them is read."""
    receiver = receiver_for(SIGNALS, format_name=form)
    receiver.receive(line * (MAX_RECORDS + 1), 0.0)
    assert (receiver.health.records, dict(receiver.health.rejects)) == (0, {"too many records": 1})
    receiver.receive(line * MAX_RECORDS, 0.0)
    assert receiver.health.records == MAX_RECORDS


def test_a_datagram_has_a_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """Records that remain when the time of their datagram is over are refused, and the next datagram is read whole."""
    receiver = receiver_for(SIGNALS, format_name="key_value")
    times = iter(step * MAX_PACKET_S / 3.5 for step in range(10_000))
    monkeypatch.setattr("adapters.receiver.thread_time", lambda: next(times))
    receiver.receive(b"a=1\n" * 20, 0.0)
    assert (receiver.health.records, dict(receiver.health.rejects)) == (4, {"packet takes too long": 1})
    assert "4 of 20 records read in 50 ms" in receiver.health.examples["packet takes too long"].detail
    receiver.receive(b"a=1\n" * 3, 1.0)
    assert receiver.health.records == 7


def _duplicates(labels: list[str]) -> set[str]:
    return {label for label, count in Counter(labels).items() if label and count > 1}


@given(st.lists(st.sampled_from(["a", "b", "c", "d", ""]), min_size=1, max_size=9))
def test_labels_that_occur_twice(labels: list[str]) -> None:
    """Each label of several columns names none of them."""
    heading = LabelledCsvDecoder().decode(b"<LABELS> ," + ",".join([*labels, "end"]).encode())
    assert isinstance(heading, ColumnHeading)
    assert set(heading.ambiguous) == _duplicates(labels)
    assert heading.names[:-1] == tuple("" if label in _duplicates(labels) else label for label in labels)


CLOCKS = [(1.7e12, "ms"), (1.7e15, "us"), (1.7e18, "ns"), (1e300, ""), (-1e300, ""), (2 * MAX_TIME_S, "")]


@pytest.mark.parametrize(("time", "unit"), CLOCKS)
def test_a_clock_in_another_unit_is_refused_with_a_hint(time: float, unit: str) -> None:
    """A time that no simulator has is refused, and the hint names the unit that it is probably in."""
    receiver = receiver_for(SIGNALS, format_name="json")
    receiver.receive(dumps({"time": 5.0, "lights.beacon": "on"}), 0.0)
    assert receiver.receive(dumps({"time": time, "lights.beacon": "off"}), 0.1) == []
    (example,) = receiver.health.examples.values()
    assert example.reason == "not a time in seconds"
    assert (f"looks like Unix time in {unit}" in example.hint) == bool(unit)
    (frame,) = receiver.receive(dumps({"time": 5.2, "lights.beacon": "off"}), 0.2)
    assert [sample.value for sample in frame.changes] == ["off"]


@pytest.mark.parametrize("time", [0.0, -3.0, 1.7e9, MAX_TIME_S])
def test_a_clock_in_seconds_is_used(time: float) -> None:
    """Unix time in seconds, and times before the start, are clocks like any other."""
    receiver = receiver_for(SIGNALS, format_name="json")
    assert receiver.receive(dumps({"time": time, "lights.beacon": "on"}), 0.0)
