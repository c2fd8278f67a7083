"""A trivial aeroplane for tests of the crew: every control is a signal that reads its own position."""

from __future__ import annotations

from mock_sim.scenario import AeroplaneInterface
from rules.signals.model import Signal, SignalKind, Value


def switch(name: str) -> Signal:
    """A signal with two words."""
    return Signal(name, SignalKind.SWITCH, 0, name, "", words=("off", "on"))


SIGNALS = {
    "pump": switch("pump"),
    "lamp": switch("lamp"),
    "lever": Signal("lever", SignalKind.QUANTITY, 0, "lever", "", unit="deg", low=0.0, high=40.0),
    "speed": Signal("speed", SignalKind.QUANTITY, 0, "speed", "", unit="kt", low=0.0, high=200.0),
    "runway": Signal("runway", SignalKind.TEXT, 0, "runway", "", max_length=4),
}
KNOWN = AeroplaneInterface({name: SIGNALS[name] for name in ("pump", "lamp", "lever", "runway")}, SIGNALS)


class FakeCockpit:
    """Stores every setting, and their order."""

    def __init__(self) -> None:
        self.values: dict[str, Value] = {
            "pump": "off",
            "lamp": "off",
            "lever": 0.0,
            "speed": 0.0,
            "runway": "",
        }
        self.history: list[tuple[str, Value]] = []

    def set(self, name: str, value: Value) -> None:
        """Put a control somewhere."""
        self.values[name] = value
        self.history.append((name, value))

    def get(self, name: str) -> Value:
        """Read a signal."""
        return self.values[name]
