"""Small scopes for the tests of the language: one signal or two of each kind.

Takes: nothing.  Gives: `SCOPES` by name, and `at`, which places an offset in a one-file text.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from rules.faults import Place
from rules.language.scope import PackLimit, Scope
from rules.signals.model import Signal, SignalKind


def _signal(
    name: str, kind: SignalKind, unit: str = "", low: float = 0, high: float = 0, *words: str
) -> Signal:
    longest = 4 if kind is SignalKind.TEXT else 0
    return Signal(name, kind, 0, name.replace(".", " "), "", unit, low, high, words, longest)


def _switch(name: str, *words: str) -> Signal:
    return _signal(name, SignalKind.SWITCH, "", 0, 0, *(words or ("off", "on")))


def _choice(name: str, *words: str) -> Signal:
    return _signal(name, SignalKind.CHOICE, "", 0, 0, *words)


def _quantity(name: str, unit: str, low: float, high: float) -> Signal:
    return _signal(name, SignalKind.QUANTITY, unit, low, high)


def _angle(name: str) -> Signal:
    return _signal(name, SignalKind.ANGLE, "deg", 0, 360)


_SIGNALS = (
    _switch("lights.beacon"),
    _switch("lights.strobe"),
    _switch("weather.moisture", "no", "yes"),
    _switch("gear.brake", "released", "set"),
    _switch("pump.left.switch"),
    _switch("pump.centre.switch"),
    _switch("pump.right.switch"),
    _switch("pump.left.low_pressure"),
    _switch("pump.centre.low_pressure"),
    _switch("pump.right.low_pressure"),
    _choice("gear.autobrake", "off", "1", "2", "high"),
    _choice("pack.mode", "off", "auto", "high"),
    _choice("door.state", "open", "closed", "locked"),
    _signal("papers.runway", SignalKind.TEXT),
    _signal("panel.runway", SignalKind.TEXT),
    _signal("code", SignalKind.COUNT, "", 0, 7777),
    _signal("trip.code", SignalKind.COUNT, "", 0, 7777),
    _quantity("mach", "1", 0, 1.2),
    _quantity("engine.1.n2", "%", 0, 120),
    _quantity("engine.2.n2", "%", 0, 120),
    _switch("engine.1.lever", "closed", "open"),
    _switch("engine.2.lever", "closed", "open"),
    _quantity("engine.1.egt", "degC", -60, 1300),
    _quantity("engine.2.egt", "degC", -60, 1300),
    _quantity("hydraulic.pressure", "psi", 0, 5000),
    _quantity("fuel.total", "kg", 0, 30000),
    _quantity("fuel.left", "kg", 0, 12000),
    _quantity("fuel.right", "kg", 0, 12000),
    _quantity("trip.fuel", "kg", 0, 30000),
    _quantity("air.outside", "degC", -90, 70),
    _quantity("air.cabin", "degF", -40, 140),
    _quantity("air.ratio", "1", 0, 10),
    _quantity("speed", "kt", 0, 500),
    _quantity("altitude", "ft", -2000, 60000),
    _quantity("climb", "ft/min", -20000, 20000),
    _quantity("pitch", "deg", -90, 90),
    _quantity("elevator", "%", -100, 100),
    _angle("heading"),
    _angle("track"),
)

_SMALL = Scope(
    signals={signal.name: signal for signal in _SIGNALS},
    calls={"push_approved": "push approved", "cleared": "cleared for take-off"},
    limits={
        "start_egt": PackLimit(740, "degC", "start EGT limit"),
        "idle_egt": PackLimit(450, "degC", "idle EGT limit"),
        "full_left": PackLimit(-95, "%", "full left"),
        "imbalance": PackLimit(300, "kg", "imbalance limit"),
        "most_codes": PackLimit(3, "1", "codes"),
        "runway": PackLimit(140, "deg", "runway"),
    },
    items={
        "flow.before_start.pumps": "Fuel pumps",
        "flow.before_start.beacon": "Beacon",
        "flow.after_start.pumps": "Fuel pumps",
        "flow.after_start.bleed": "Bleed",
        "checklist.before_start.1": "Fuel",
    },
    local="before_start",
    speakers=("captain", "first_officer", "ground", "atc"),
)

SCOPES = {
    "small": _SMALL,
    "after start": replace(_SMALL, local="after_start"),
    "taxi": replace(_SMALL, local="taxi"),
    "no left pump": replace(_SMALL, inoperative=("pump.left",)),
    "no pumps": replace(_SMALL, inoperative=("pump",)),
    "no engine 2 speed": replace(_SMALL, inoperative=("engine.2.n2",)),
}


def at(text: str) -> Callable[[int], Place]:
    """Place offsets in a text as if it were the file `case`."""

    def place(offset: int) -> Place:
        before = text[:offset]
        start = before.rfind("\n") + 1
        return Place("case", before.count("\n") + 1, offset - start + 1, text[start:].split("\n", 1)[0])

    return place
