"""Fire protection: detection, its test, handles and bottles.

Takes: the fault that lights a fire, handles, the test switch.  Gives: warnings and the state of the bottles.
"""

from __future__ import annotations

from mock_sim.common.panel import Panel, Part, choice_control
from mock_sim.twin_jet.electrical import Electrical

TEST_S = 4.0
WARNINGS = {
    "engine_1": "fire.engine.1.warning",
    "engine_2": "fire.engine.2.warning",
    "apu": "fire.apu.warning",
    "cargo": "fire.cargo.warning",
}

PART = Part(
    controls={
        "fire.engine.1.handle": "normal",
        "fire.engine.2.handle": "normal",
        "fire.apu.handle": "normal",
        "fire.cargo.arm": "off",
        "fire.test": "off",
        "fire.bottle.1": "charged",
        "fire.bottle.2": "charged",
        "fault.fire": "none",
    },
    drives={**dict.fromkeys(WARNINGS.values(), "off"), "fire.test": "off"},
    extra=(choice_control("fault.fire", ("none", *WARNINGS), "Where it burns"),),
)


class Fire:
    """Detectors.  The test runs for some seconds after its switch is pressed."""

    def __init__(self, panel: Panel, electrical: Electrical) -> None:
        self._panel = panel
        self._electrical = electrical
        self._test_s = 0.0

    def step(self, dt_s: float) -> None:
        """Advance the test and the warnings."""
        panel = self._panel
        powered = self._electrical.battery or self._electrical.any_dc
        if panel.switch["fire.test"] == "on":
            self._test_s += dt_s
            if self._test_s >= TEST_S:
                panel.switch["fire.test"] = "off"
        else:
            self._test_s = 0.0
        testing = panel.switch["fire.test"] == "on" and powered
        panel.words["fire.test"] = "on" if testing else "off"
        for place, light in WARNINGS.items():
            burns = panel.switch["fault.fire"] == place and powered
            panel.words[light] = "on" if burns or testing else "off"
