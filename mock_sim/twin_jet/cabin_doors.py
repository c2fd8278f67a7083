"""Doors, cabin, seats and oxygen: controls that read the position that a person gives them.

Takes: the controls of doors and reports, power.  Gives: their positions, and the recorders.
"""

from __future__ import annotations

from mock_sim.common.panel import Panel, Part
from mock_sim.twin_jet.electrical import Electrical

DOORS_AT_THE_STAND = {
    "1.left": "open",
    "2.left": "closed",
    "1.right": "open",
    "2.right": "closed",
    "hold.1": "open",
    "hold.2": "open",
    "bay": "closed",
}
RECORDERS = {"recorder.voice": "voice_recorder", "recorder.flight": "flight_recorder"}
"""Each recorder and its circuit breaker."""

PART = Part(
    controls={
        **{f"door.{door}": word for door, word in DOORS_AT_THE_STAND.items()},
        "door.overwing.1": "closed",
        "door.overwing.2": "closed",
        "door.stairs": "extended",
        "door.slides": "disarmed",
        "cabin.ready": "no",
        "cabin.interphone": "off",
        "seat.harness.captain": "unlocked",
        "seat.harness.first_officer": "unlocked",
        "cockpit.door": "unlocked",
        "cockpit.door_position": "open",
        "cockpit.window.left": "closed",
        "cockpit.window.right": "closed",
        "cabin.emergency_lights": "off",
        "oxygen.crew_pressure": 1650.0,
        "oxygen.passenger": "normal",
        "recorder.voice": "on",
        "recorder.flight": "on",
        "radio.com.1": 121.5,
        "radio.com.2": 121.5,
        "radio.selcal": "off",
    },
    drives={"recorder.voice": "off", "recorder.flight": "off"},
)


class CabinDoors:
    """The recorders, which run while they have power; all other signals read their control."""

    def __init__(self, panel: Panel, electrical: Electrical) -> None:
        self._panel = panel
        self._electrical = electrical

    def step(self, dt_s: float) -> None:  # noqa: ARG002 - a recorder has no memory of its own power
        """Run the recorders that have power."""
        for name, breaker in RECORDERS.items():
            fed = self._electrical.any_ac and self._electrical.supplies(breaker)
            self._panel.words[name] = self._panel.switch[name] if fed else "off"
