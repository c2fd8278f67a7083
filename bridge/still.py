"""A still picture of the aeroplane: one file of values instead of a link.

    {"signals": {"lights.beacon": "on", "fuel.total": 8200, "hydraulics.1.pressure": "206.8 bar"},
     "calls": ["push_approved"]}

The short form has the signals at the top, with calls as `"call.push_approved": true`.  Numbers are in the
unit of the signal book, or written with their own.

Takes: a JSON or YAML file and the pack's signals and calls.  Gives: one Frame, or every fault in the file.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from rules.faults import Fault, InputFaults
from rules.packs.model import Pack
from rules.signals.model import Frame, Quality, Sample, Signal, Value
from rules.signals.state import bearable
from rules.signals.units import UnitFault, convert
from rules.source import Source, did_you_mean, read_source

SECTIONS = ("signals", "calls")


def read_still(path: Path, pack: Pack) -> Frame:
    """Read a still picture.

    Args:
        path: the file.
        pack: gives the signals and calls that may stand in it.

    Returns:
        One frame at simulator time 0 that carries every value of the file.

    Raises:
        InputFaults: the file is missing, is not JSON or YAML, or has values that no such signal can have.
    """
    source = read_source(path)
    faults: list[Fault] = []
    samples: list[Sample] = []
    calls: list[str] = []
    for at, name, given in _entries(source, faults):
        if name.startswith("call."):
            _take_call(source, at, name.removeprefix("call."), given, pack.calls, calls, faults)
        else:
            _take_signal(source, at, name, given, pack.signals, samples, faults)
    if faults:
        raise InputFaults(faults)
    carried = tuple(sample.name for sample in samples)
    return Frame(str(path), 0.0, 0.0, 0, carried, tuple(samples), tuple(calls))


Path_ = tuple[str | int, ...]


def _entries(source: Source, faults: list[Fault]) -> list[tuple[Path_, str, Any]]:
    data = source.data
    if not isinstance(data, dict):
        faults.append(
            Fault(source.place(()), "this is not a set of signals", 'an object such as {"signals": {...}}')
        )
        return []
    nested = isinstance(data.get("signals"), dict)
    if not nested:
        return [((key,), key, value) for key, value in data.items() if key != "calls"] + _called(
            source, faults
        )
    faults.extend(
        Fault(
            source.place((key,), key=True),
            f"unknown section {key}",
            "signals or calls",
            did_you_mean(key, SECTIONS),
        )
        for key in data
        if key not in SECTIONS
    )
    return [(("signals", key), key, value) for key, value in data["signals"].items()] + _called(
        source, faults
    )


def _called(source: Source, faults: list[Fault]) -> list[tuple[Path_, str, Any]]:
    calls = source.data.get("calls", [])
    if not isinstance(calls, list):
        faults.append(
            Fault(source.place(("calls",)), "calls is not a list", 'a list such as ["push_approved"]')
        )
        return []
    return [(("calls", index), f"call.{name}", True) for index, name in enumerate(calls)]


def _take_call(
    source: Source,
    at: Path_,
    name: str,
    given: object,
    known: Mapping[str, object],
    calls: list[str],
    faults: list[Fault],
) -> None:
    if name not in known:
        faults.append(
            Fault(source.place(at), f"unknown call {name}", "a call of the pack", did_you_mean(name, known))
        )
    elif given:
        calls.append(name)


def _take_signal(
    source: Source,
    at: Path_,
    name: str,
    given: object,
    known: Mapping[str, Signal],
    samples: list[Sample],
    faults: list[Fault],
) -> None:
    signal = known.get(name)
    if signal is None:
        hint = did_you_mean(name, known)
        faults.append(
            Fault(source.place(at, key=True), f"unknown signal {name}", "a signal of the pack's books", hint)
        )
        return
    try:
        value = _value(signal, given)
    except UnitFault as fault:
        faults.append(Fault(source.place(at), f"{name}: {fault}", f"a number in {signal.unit}"))
        return
    if value is None or not bearable(signal, value):
        faults.append(Fault(source.place(at), f"{name} cannot be {given!r}", _wanted(signal)))
        return
    samples.append(Sample(name, value, Quality.FRESH, 0.0))


def _value(signal: Signal, given: object) -> Value | None:
    """The value in the signal's unit; None where it is of no such kind."""
    if not signal.numeric:
        return given if isinstance(given, str) else None
    if isinstance(given, str):
        number, _, unit = given.strip().partition(" ")
        try:
            return convert(float(number), unit.strip(), signal.unit)
        except ValueError as error:
            if isinstance(error, UnitFault):
                raise
            return None
    return float(given) if isinstance(given, int | float) and not isinstance(given, bool) else None


def _wanted(signal: Signal) -> str:
    if signal.words:
        return "one of " + ", ".join(signal.words)
    if signal.numeric:
        return f"a number from {signal.low:g} to {signal.high:g} {signal.unit}".strip()
    return f"text of at most {signal.longest} characters"
