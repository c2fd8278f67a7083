"""Conditions for cautions, from the real state of the systems.

Takes: the panel.  Gives: the names of the conditions that the alerting display would show.
"""

from __future__ import annotations

from collections.abc import Iterator

from mock_sim.common.panel import Panel
from mock_sim.twin_jet.fuel import PUMPS, WING_PUMPS

IMBALANCE_KG = 500.0
DOORS = (
    "1.left",
    "2.left",
    "1.right",
    "2.right",
    "hold.1",
    "hold.2",
    "bay",
)
CAUTION_WORDS = {
    "bleed.trip.1": "on",
    "bleed.trip.2": "on",
    "controls.flap.asymmetry": "yes",
    "fuel.filter_bypass.1": "on",
    "fuel.filter_bypass.2": "on",
    "controls.autobrake_disarm": "yes",
    "gear.disagree": "on",
    "gear.antiskid": "off",
    "ice.windshield.left": "off",
    "ice.windshield.right": "off",
    "ice.air_data.left": "off",
    "ice.air_data.right": "off",
    "inertial.left.aligned": "no",
    "inertial.right.aligned": "no",
    "autoflight.yaw_damper": "off",
    "cabin.mode": "manual",
    "cabin.emergency_lights": "off",
    "fuel.crossfeed": "open",
}
"""Cautions that one word on the panel makes."""


def cautions(panel: Panel) -> set[str]:
    """Return the names of all active caution conditions.

    Args:
        panel: the aeroplane's panel.
    """
    words = panel.words
    found = {name for name, word in CAUTION_WORDS.items() if words[name] == word}
    found.update(_doors(panel))
    found.update(_fuel(panel))
    for k in "12":
        found.update(_engine_systems(panel, k))
    return found


def _doors(panel: Panel) -> Iterator[str]:
    """Yield each door that is not closed and locked."""
    for door in DOORS:
        if panel.words[f"door.{door}"] == "open":
            yield f"door.{door}"
    for exit_ in "12":
        if panel.words[f"door.overwing.{exit_}"] == "open":
            yield f"door.overwing.{exit_}"


def _fuel(panel: Panel) -> Iterator[str]:
    """Yield low fuel pressure at any wing pump or at a centre pump that is on, and imbalance."""
    wing = {pump for pumps in WING_PUMPS.values() for pump in pumps}
    for pump in PUMPS:
        light = f"fuel.pump.{pump}.low_pressure"
        if panel.words[light] == "on" and (pump in wing or panel.switch[f"fuel.pump.{pump}.switch"] == "on"):
            yield light
    if abs(panel.numbers["fuel.tank.left"] - panel.numbers["fuel.tank.right"]) > IMBALANCE_KG:
        yield "fuel.imbalance"


def _engine_systems(panel: Panel, k: str) -> Iterator[str]:
    """Yield the conditions of one engine and its hydraulic system and generator."""
    words = panel.words
    if all(words[f"hydraulics.{k}.pump.{kind}.low_pressure"] == "on" for kind in ("engine", "electric")):
        yield f"hydraulics.{k}"
    if words[f"electrical.generator.{k}.online"] == "no":
        yield f"electrical.generator.{k}"
    if words[f"electrical.coupling.{k}"] == "released":
        yield f"electrical.coupling.{k}"
    if words[f"engine.{k}.low_oil_pressure"] == "on":
        yield f"engine.{k}.oil"
    if words[f"engine.{k}.reverser_unlocked"] == "on" and panel.dial[f"engine.{k}.thrust_lever"] >= 0.0:
        yield f"engine.{k}.reverser"
    selected = panel.switch[f"ice.engine.{k}"] == "on"
    if selected != (words[f"ice.engine.valve.{k}"] == "open"):
        yield f"ice.engine.valve.{k}"
