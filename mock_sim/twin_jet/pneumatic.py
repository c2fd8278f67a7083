"""Bleed air: two ducts, their sources and users, the cross-bleed valve, and the packs.

Takes: bleed and pack switches, engine speed, APU, start valves.  Gives: duct pressures, pack flow, bleed trips.
"""

from __future__ import annotations

from mock_sim.common.dynamics import clamp, lag
from mock_sim.common.panel import Panel, Part, choice_control
from mock_sim.twin_jet.apu import Apu
from mock_sim.twin_jet.electrical import Electrical

SIDES = {"left": "1", "right": "2"}
APU_PSI = 42.0
GROUND_AIR_PSI = 40.0
PACK_DRAW_PSI = {"off": 0.0, "normal": 8.0, "boost": 11.0}
STARTER_DRAW_PSI = 8.0
WING_DRAW_PSI = 3.0
FLOW_PSI = 10.0

PART = Part(
    controls={
        "bleed.engine.1.switch": "on",
        "bleed.engine.2.switch": "on",
        "bleed.apu.switch": "off",
        "bleed.cross_bleed": "automatic",
        "bleed.ground_air": "disconnected",
        "air.pack.left.switch": "off",
        "air.pack.right.switch": "off",
        "air.recirculation_fan": "off",
        "air.trim_air": "off",
        "air.bay_cooling": "normal",
        "fault.bleed.1": "none",
        "fault.bleed.2": "none",
    },
    drives={
        "bleed.duct.left": 0.0,
        "bleed.duct.right": 0.0,
        "bleed.trip.1": "off",
        "bleed.trip.2": "off",
        "air.pack.left.flow": "no",
        "air.pack.right.flow": "no",
    },
    extra=tuple(
        choice_control(f"fault.bleed.{k}", ("none", "trip"), f"The bleed of engine {k} trips") for k in "12"
    ),
)


class Pneumatic:
    """Ducts and packs."""

    def __init__(self, panel: Panel, electrical: Electrical, apu: Apu) -> None:
        self._panel = panel
        self._electrical = electrical
        self._apu = apu

    def step(self, dt_s: float) -> None:
        """Advance ducts and packs."""
        for k in "12":
            tripped = self._panel.switch[f"fault.bleed.{k}"] == "trip" and self._electrical.any_dc
            self._panel.words[f"bleed.trip.{k}"] = "on" if tripped else "off"
        self._ducts(dt_s)
        self._packs()

    def _ducts(self, dt_s: float) -> None:
        """Update the pressure of both ducts, joined or separate."""
        numbers = self._panel.numbers
        supply = {side: self._supply(side) for side in SIDES}
        load = {side: self._load(side) for side in SIDES}
        if self._ducts_joined():
            feeders = sum(1 for psi in supply.values() if psi > 5.0)
            best, shared = max(supply.values()), sum(load.values()) / max(1, feeders)
            supply, load = dict.fromkeys(SIDES, best), dict.fromkeys(SIDES, shared)
        for side in SIDES:
            target = max(0.0, supply[side] - load[side])
            name = f"bleed.duct.{side}"
            pressure = lag(numbers[name], target, 0.7, dt_s)
            numbers[name] = 0.0 if target == 0.0 and pressure < 0.05 else pressure

    def _ducts_joined(self) -> bool:
        """Return True while the cross-bleed valve is open; automatic opens it when a pack or an engine bleed is off."""
        switch = self._panel.switch
        selector = switch["bleed.cross_bleed"]
        if selector != "automatic":
            return selector == "open"
        packs = any(switch[f"air.pack.{side}.switch"] == "off" for side in SIDES)
        return packs or any(switch[f"bleed.engine.{k}.switch"] == "off" for k in "12")

    def _supply(self, side: str) -> float:
        """Return the best pressure of a side's own sources, psi."""
        offers = [self._engine_supply(SIDES[side])]
        if side == "left" and self._apu.supplies_bleed:
            offers.append(APU_PSI)
        if side == "right" and self._panel.switch["bleed.ground_air"] == "connected":
            offers.append(GROUND_AIR_PSI)
        return max(offers)

    def _engine_supply(self, k: str) -> float:
        """Return the pressure of an engine's bleed, psi; it needs a running engine, its switch and no trip."""
        panel = self._panel
        shut = (
            panel.switch[f"bleed.engine.{k}.switch"] == "off"
            or panel.words[f"bleed.trip.{k}"] == "on"
            or panel.switch[f"fire.engine.{k}.handle"] == "pulled"
            or panel.words[f"engine.{k}.running"] == "no"
        )
        return 0.0 if shut else clamp(30.0 + (panel.numbers[f"engine.{k}.n2"] - 60.0) * 0.5, 0.0, 46.0)

    def _load(self, side: str) -> float:
        """Return the pressure loss by a side's users, psi."""
        panel, k = self._panel, SIDES[side]
        load = PACK_DRAW_PSI[panel.switch[f"air.pack.{side}.switch"]]
        if panel.words[f"engine.{k}.start_valve"] == "open":
            load += STARTER_DRAW_PSI
        if panel.words["ice.wing_valve"] == "open":
            load += WING_DRAW_PSI
        return load

    def _packs(self) -> None:
        """Update the packs: one gives air while it is selected, has pressure, and its valve has power."""
        panel = self._panel
        for side in SIDES:
            flows = (
                panel.switch[f"air.pack.{side}.switch"] != "off"
                and panel.numbers[f"bleed.duct.{side}"] > FLOW_PSI
                and self._electrical.any_ac
            )
            panel.words[f"air.pack.{side}.flow"] = "yes" if flows else "no"
