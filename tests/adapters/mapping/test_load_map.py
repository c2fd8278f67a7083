"""Tests of map files and of the faults in them."""

from __future__ import annotations

from math import isfinite
from pathlib import Path

import pytest

from adapters.decoders.base import MAX_FIELDS, MAX_NAME_LENGTH
from adapters.encode.packed_struct import PackedStructEncoder
from adapters.factory import receiver_for
from adapters.mapping.load_map import MapFile, load_map, parse_map, shipped_maps
from rules.faults import InputFaults
from rules.signals.book import load_book
from rules.source import parse_source

SIGNALS = load_book("twin_jet").signals

COMPLETE_MAP = """
map:
  title: Invented jet
  format: labelled_csv
  time: {from: CLOCK_MS, unit: ms, bits: 32}
  sequence: {from: COUNT, bits: 16}
  paused: HELD
  columns: [CLOCK_MS, COUNT, HELD, N2, SPEED, FLAGS, FLAP, BRAKE, FUEL, FUEL_OK, PUSH]
  calls: {push_approved: PUSH}
  fields:
    engine.1.n2: N2
    flight.airspeed: {from: SPEED, unit: m/s}
    lights.beacon: {from: FLAGS, bit: 0}
    cockpit.door: {position: 6, bit: 1, invert: true}
    controls.flap.lever: {from: FLAP, words: {0: 0, 1: 8, 2: 20}}
    controls.slat.position: {from: FLAP, words: {0: retracted, 0.1..1: extended, 1..: full}}
    gear.parking_brake: {from: BRAKE, threshold: {at_least: 0.5, then: set, else: released}}
    fuel.total: {from: FUEL, unit: lb, valid: {from: FUEL_OK, is: [1, 3]}}
"""


def faults(text: str) -> list[str]:
    """Load a map with faults, and write each as `line: what | expected | hint`."""
    with pytest.raises(InputFaults) as caught:
        parse_map(parse_source(text, "m.yaml"), SIGNALS)
    return [
        f"{fault.place.line}: {fault.what} | {fault.expected} | {fault.hint}" for fault in caught.value.faults
    ]


def loaded(text: str) -> MapFile:
    """Load a map without faults."""
    return parse_map(parse_source(text, "m.yaml"), SIGNALS)


def test_every_part_of_a_map_has_its_effect() -> None:
    """Names, positions, bits, units, words, ranges, thresholds, inversion, validity, calls, clock: each has its effect."""
    receiver = receiver_for(SIGNALS, map_file=loaded(COMPLETE_MAP))
    frames = receiver.receive(b"4294967290,65535,0,60,75,3,1,0.7,1000,1,\n", 0.0)
    frames += receiver.receive(b"4,0,1,60,75,0,2,0.2,1000,2,4294967.29\n", 0.1)
    first = {sample.name: sample.value for sample in frames[0].changes}
    assert first.pop("flight.airspeed") == pytest.approx(145.788, abs=1e-3)
    assert first.pop("fuel.total") == pytest.approx(453.592, abs=1e-3)
    assert first == {
        "engine.1.n2": 60.0, "lights.beacon": "on", "cockpit.door": "unlocked", "controls.flap.lever": 8.0,
        "controls.slat.position": "extended", "gear.parking_brake": "set",
    }  # fmt: skip
    second = {sample.name: sample.value for sample in frames[1].changes}
    assert second == {
        "lights.beacon": "off", "cockpit.door": "locked", "controls.flap.lever": 20.0,
        "controls.slat.position": "full", "gear.parking_brake": "released", "fuel.total": None,
    }  # fmt: skip
    assert frames[1].sim_s == pytest.approx(4294967.300)
    assert frames[1].calls == ("push_approved",)
    assert receiver.health.paused
    assert (receiver.sequence.counts.lost, receiver.sequence.epoch) == (0, 0)


def test_every_fault_is_reported_at_its_line() -> None:
    """All faults of a map are reported together, each at its place, with the expected content and a hint."""
    found = faults("""
map:
  format: json
  time: {from: T, unit: kg}
  fields:
    engine.1.n3: N2
    flight.airspeed: {from: V, unit: kg}
    lights.beacon: {from: B, words: {0: "of", 1: "on"}}
    fuel.total: {from: F, invert: true}
    gear.lever: {from: G, scale: 2}
    gear.parking_brake: {from: P, threshold: {at_least: 1, then: "on", else: released}}
    controls.flap.lever: {from: FL, words: {2..1: 5, 3: 99}}
    cockpit.door: {from: D, unit: V}
""")
    lines = [fault.split(":")[0] for fault in found]
    assert lines == ["4", "6", "7", "8", "9", "10", "11", "12", "12", "13"]
    assert found[1] == "6: unknown signal engine.1.n3 | a signal of the book | did you mean engine.1.n2?"
    assert "'kg' does not convert to 'kt'" in found[2]
    assert found[3] == "8: lights.beacon cannot be 'of' | off or on | did you mean off?"


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("map: {format: jsonn, fields: {}}", "'jsonn'"),
        ("map: {fields: {}}", "format is missing"),
        ("map: {format: json, feilds: {}}", "did you mean fields?"),
        (
            "map: {format: json, fields: {fuel.total: {from: A, position: 2}}}",
            "either from: NAME or position: NUMBER",
        ),
        ("map: {format: json, fields: {fuel.total: {unit: kg}}}", "either from: NAME or position: NUMBER"),
        ("map: {format: json, fields: {fuel.total: {position: 0}}}", "1 or more"),
        ("map: {format: json, fields: {fuel.total: {from: A, scale: 0}}}", "scale is 0"),
        ("map: {format: json, fields: {fuel.total: {from: A, scale: true}}}", "a number"),
        ("map: {format: json, fields: {gear.lever: {from: A, words: {0: true}}}}", "text"),
        ("map: {format: json, columns: [a]}", "columns go with format: labelled_csv"),
        ("map: {format: packed_struct}", "struct goes with format: packed_struct"),
        ("map: {format: packed_struct, struct: {endian: little, fields: {a: f99}}}", "'f99' is not a type"),
        ("map: {format: packed_struct, struct: {endian: native, fields: {a: f32}}}", "little"),
        (
            "map: {format: packed_struct, struct: {endian: big, header: {time: 'text:4'}, fields: {a: f32}}}",
            "a number",
        ),
        (
            "map: {format: packed_struct, struct: {endian: big, header: {tiem: f64}, fields: {a: f32}}}",
            "unknown header part tiem",
        ),
        (
            "map: {format: packed_struct, struct: {endian: big, magic: AB, header: {magic: u8}, fields: {a: f32}}}",
            "text:2",
        ),
        ("- 1", "a mapping"),
        ("", "a mapping"),
    ],
)
def test_a_fault_of_form_is_reported(text: str, part: str) -> None:
    """A file that is not a map is refused, with the expected form."""
    assert part in " / ".join(faults(text))


def test_on_and_off_stay_words() -> None:
    """YAML's on, off, yes and no are text, also as keys."""
    receiver = receiver_for(
        SIGNALS,
        map_file=loaded(
            "map: {format: key_value, fields: {lights.beacon: {from: B, words: {no: off, yes: on}}}}"
        ),
    )
    assert receiver.receive(b"B=yes", 0.0)[0].changes[0].value == "on"


def test_truth_values_match_words() -> None:
    """The key `true` of words matches the truth value and the word."""
    text = "map: {format: json, fields: {lights.beacon: {from: B, words: {'true': off, 'false': on}}}}"
    receiver = receiver_for(SIGNALS, map_file=loaded(text))
    assert receiver.receive(b'{"B":true}', 0.0)[0].changes[0].value == "off"
    assert receiver.receive(b'{"B":"false"}', 0.1)[0].changes[0].value == "on"


def test_a_packed_record_is_read_by_the_layout_of_its_map() -> None:
    """A layout in a map file reads the records of its encoder, with their validity bits."""
    text = """
map:
  format: packed_struct
  struct:
    endian: big
    magic: LMRE
    version: 3
    header: {magic: "text:4", version: u8, length: u16, sequence: u32, time: f64, validity: u8}
    fields: {N2: f32, FLAGS: {type: u16, valid_bit: 5}, gap: "pad:3"}
    checksum: crc32
    length_counts: whole
  fields:
    engine.1.n2: N2
    lights.beacon: {from: FLAGS, bit: 2}
"""
    file = loaded(text)
    assert file.struct_layout is not None
    receiver = receiver_for(SIGNALS, map_file=file)
    (data,) = PackedStructEncoder(file.struct_layout).encode(7.0, 1, {"N2": 61.5, "FLAGS": 4})
    assert [sample.value for sample in receiver.receive(data, 0.0)[0].changes] == [61.5, "on"]
    (data,) = PackedStructEncoder(file.struct_layout).encode(7.1, 2, {"N2": 61.5, "FLAGS": None})
    assert [(s.name, s.value) for s in receiver.receive(data, 0.1)[0].changes] == [("lights.beacon", None)]


def test_a_missing_file_or_map_is_a_fault(tmp_path: Path) -> None:
    """A missing file and an unknown name raise InputFaults."""
    with pytest.raises(InputFaults):
        load_map(tmp_path / "none.yaml")
    with pytest.raises(InputFaults, match="unknown map"):
        load_map("no_such_map")


@pytest.mark.parametrize("name", shipped_maps())
def test_every_shipped_map_loads(name: str) -> None:
    """The shipped maps have no fault against the signal books that they name."""
    assert load_map(name).plan.fields


def test_a_map_alone_names_its_books() -> None:
    """Without a pack, the map must name its signal books."""
    text = "map: {format: json, signals: [common], fields: {flight.airspeed: V}}"
    assert "flight.airspeed" in parse_map(parse_source(text, "m.yaml")).signals
    with pytest.raises(InputFaults, match="signals is missing"):
        parse_map(parse_source("map: {format: json, fields: {flight.airspeed: V}}", "m.yaml"))


@pytest.mark.parametrize(
    ("count", "length"), [(MAX_FIELDS + 1, 5), (3, MAX_NAME_LENGTH + 1), (100_000 // 5, 5)]
)
def test_a_map_with_too_many_or_too_long_columns_is_a_fault(count: int, length: int) -> None:
    """What no decoder takes is refused where it is written."""
    columns = ", ".join(f"c{number:0{length - 1}}" for number in range(count))
    (fault, *_) = faults(f"map: {{format: labelled_csv, columns: [{columns}]}}")
    assert "at most" in fault


@pytest.mark.parametrize(
    "form", ["scale: 1e308", "scale: 1e308, offset: 1e308", "offset: -1.7e308, scale: -1e300"]
)
def test_a_number_that_overflows_is_invalid(form: str) -> None:
    """A scale or offset of any size never makes infinity of a number."""
    found = loaded(f"map: {{format: json, time: t, fields: {{fuel.total: {{from: f, {form}}}}}}}")
    receiver = receiver_for(SIGNALS, map_file=found)
    for number, raw in enumerate(("1e300", "-1e300", "1.5")):
        for frame in receiver.receive(f'{{"t": {number}, "f": {raw}}}'.encode(), number):
            assert all(sample.value is None or isfinite(float(sample.value)) for sample in frame.changes)
    assert receiver.health.mapping.invalid > 0
