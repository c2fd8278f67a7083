"""Tests of bridge.session.static_state: forms, units and faults of a static state."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.session.static_state import read_static_state
from rules.faults import InputFaults
from rules.packs.model import Pack
from rules.signals.model import Value

LONG = """{"signals": {"lights.beacon": "on", "hydraulics.1.pressure": "206.8 bar", "fuel.total": 8200},
 "calls": ["push_approved"]}"""
SHORT = """
lights.beacon: on
hydraulics.1.pressure: 206.8 bar
fuel.total: 8 200 kg
call.push_approved: true
"""


def write_file(folder: Path, text: str, name: str = "state.json") -> Path:
    """Write a file with this text."""
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def faults(folder: Path, pack: Pack, text: str, name: str = "state.json") -> str:
    """Return the printed faults of a file with this text, without its folder."""
    with pytest.raises(InputFaults) as caught:
        read_static_state(write_file(folder, text, name), pack)
    return str(caught.value).replace(f"{folder}/", "")


@pytest.mark.parametrize(("text", "name"), [(LONG, "state.json"), (SHORT, "state.yaml")])
def test_both_forms_give_the_same_state(tmp_path: Path, pack: Pack, text: str, name: str) -> None:
    """The long and the short form give the same values, in the signals' units, and the same calls."""
    frame, calls = read_static_state(write_file(tmp_path, text, name), pack)
    values: dict[str, Value | None] = {sample.name: sample.value for sample in frame.changes}
    assert values.pop("hydraulics.1.pressure") == pytest.approx(2999.38, abs=0.01)
    assert values == {"lights.beacon": "on", "fuel.total": 8200.0}
    assert (frame.calls, calls) == (("push_approved",), ())
    assert set(frame.carried) == {"lights.beacon", "hydraulics.1.pressure", "fuel.total"}


def test_a_false_call_is_not_entered(tmp_path: Path, pack: Pack) -> None:
    """A call with the value `false` is not entered."""
    frame, calls = read_static_state(write_file(tmp_path, '{"call.push_approved": false}'), pack)
    assert (frame.calls, calls) == ((), ())


@pytest.mark.parametrize(
    "text",
    ['{"call.push_approved": "ground"}', '{"signals": {}, "calls": [{"push_approved": "ground"}]}', '{"signals": {"call.push_approved": "ground"}}'],
)  # fmt: skip
def test_a_call_may_have_its_speaker(tmp_path: Path, pack: Pack, text: str) -> None:
    """A call with its speaker is kept apart from those whose speaker is not known."""
    frame, calls = read_static_state(write_file(tmp_path, text), pack)
    assert (frame.calls, calls) == ((), (("push_approved", "ground"),))


def test_every_fault_is_reported_at_its_place(tmp_path: Path, pack: Pack) -> None:
    """All faults of a file are reported at once, each with line, column, caret, expectation and hint."""
    text = (
        '{"signals": {"lights.beacn": "on",\n "lights.beacon": "maybe",\n "fuel.total": "8 t 1",\n'
        ' "engine.1.n2": "5 kg",\n "trip.v1": 128},\n "calls": ["push_aproved"], "time": 3}'
    )
    assert faults(tmp_path, pack, text) == (
        "state.json:1:14: unknown signal lights.beacn, expected a signal of the pack's books\n"
        '    {"signals": {"lights.beacn": "on",\n'
        "                 ^\n"
        "    hint: did you mean lights.beacon?\n"
        "state.json:2:19: lights.beacon cannot be 'maybe', expected one of off, on\n"
        '     "lights.beacon": "maybe",\n'
        "                      ^\n"
        "state.json:3:16: fuel.total cannot be '8 t 1', expected a number from 0 to 30000 kg\n"
        '     "fuel.total": "8 t 1",\n'
        "                   ^\n"
        "state.json:4:17: engine.1.n2: 'kg' does not convert to '%', expected a number in %\n"
        '     "engine.1.n2": "5 kg",\n'
        "                    ^\n"
        "state.json:5:2: trip.v1 cannot be given here: it comes from the trip sheet, expected what a signal shows\n"
        '     "trip.v1": 128},\n'
        "     ^\n"
        "state.json:6:12: unknown call push_aproved, expected a call of the pack\n"
        '     "calls": ["push_aproved"], "time": 3}\n'
        "               ^\n"
        "    hint: did you mean push_approved?\n"
        "state.json:6:29: unknown section time, expected signals or calls\n"
        '     "calls": ["push_aproved"], "time": 3}\n'
        "                                ^"
    )


@pytest.mark.parametrize(
    ("text", "name", "expected"),
    [
        ('{"fuel.total": NaN}', "a.json", "a bare word 'NaN' in JSON"),
        ("fuel.total: .nan", "a.yaml", "is not a finite number"),
        ("fuel.total: .inf", "a.yaml", "is not a finite number"),
        ('{"fuel.total": 1e300}', "a.json", "fuel.total cannot be 1e+300"),
        ('{"fuel.total": true}', "a.json", "fuel.total cannot be true"),
        ('{"fuel.total": null}', "a.json", "fuel.total cannot be nothing"),
        ('{"fuel.total": "8 200 kgg"}', "a.json", "kgg"),
        ('{"lights.beacon": 1}', "a.json", "lights.beacon cannot be 1"),
        (
            '{"call.push_approved": "grund"}',
            "a.json",
            "unknown speaker grund, expected true, false, or who made it",
        ),
        (
            '{"call.push_approved": 3}',
            "a.json",
            "call.push_approved cannot be 3, expected true, false, or who made it",
        ),
        ('{"calls": [{"push_aproved": "ground"}]}', "a.json", "did you mean push_approved?"),
        ('{"calls": [["push_approved"]]}', "a.json", "unknown call"),
        ('{"calls": "push_approved"}', "a.json", "calls are not a list"),
        ('{"signals": ["lights.beacon"]}', "a.json", "signals are not a mapping"),
        ("1: 2", "a.yaml", "unknown signal 1"),
        ("[1, 2]", "a.json", "this is not a set of signals"),
        ('"on"', "a.json", "this is not a set of signals"),
        ("", "a.json", "a.json:1:1"),
        ('{"signals": {', "a.json", "a.json:1:14"),
        ('{"lights.beacon": "on", "lights.beacon": "off"}', "a.json", "lights.beacon"),
    ],
)
def test_any_invalid_file_raises_a_fault(
    tmp_path: Path, pack: Pack, text: str, name: str, expected: str
) -> None:
    """Any invalid content raises a fault that begins with the file's name, and nothing else."""
    printed = faults(tmp_path, pack, text, name)
    assert expected in printed
    assert printed.startswith(name)


def test_a_missing_or_binary_file_is_a_fault(tmp_path: Path, pack: Pack) -> None:
    """A missing file, a folder and a file that is not text are faults."""
    (tmp_path / "bytes.json").write_bytes(b"\xff\xfe\x00")
    for path in (tmp_path / "none.json", tmp_path, tmp_path / "bytes.json"):
        with pytest.raises(InputFaults):
            read_static_state(path, pack)
