"""The flights that `holdshort demo` can fly: of the mock simulator, or of the JSBSim library.

Takes: slips, speed, seed.  Gives: the device that watches, and the command of the process that sends.
"""

from __future__ import annotations

import sys
from typing import Any

from adapters.mapping.load_map import load_map
from bridge.common.disclaimer import SHORT_DISCLAIMER
from bridge.runtime.device import Device, build_device
from mock_sim.jsbsim.installation import INSTALL_HINT, jsbsim_installed
from mock_sim.jsbsim.process.command import PACKS, flight_command
from rules.faults import Fault, InputFaults, Place
from rules.packs.load_pack import SHIPPED_DIR, load_pack
from rules.packs.trip_sheet import load_trip_sheet

ANY_UDP_PORT = "udp://127.0.0.1:0"


class DemoFlight:
    """One demonstration: the device that watches, and the command of the process that sends to a port."""

    def __init__(self, title: str, device: Device, command: list[str]) -> None:
        """Use `command`, in which `{port}` becomes the port of the open link."""
        self.title = title
        self.device = device
        self._command = command

    def command(self, port: int) -> list[str]:
        """Fill the port into the sender's command."""
        return [part.replace("{port}", str(port)) for part in self._command]

    def json_fields(self) -> dict[str, Any]:
        """Fields of the JSON output beside the journal's."""
        return {
            "scenario": self.title,
            "link": self.device.source.health.as_dict(),
            "disclaimer": SHORT_DISCLAIMER,
        }


def mock_flight(slips: list[str], speed: float, seed: int) -> DemoFlight:
    """Make the flight of the mock twin jet and its crew.

    Args:
        slips: ids of slips, `demo` or `all`.
        speed: simulated seconds in a real one.
        seed: determines noise and the crew's pace.
    """
    trip = load_trip_sheet(SHIPPED_DIR / "twin_jet" / "trip_demo.yaml")
    device = build_device(load_pack("twin_jet", trip=trip), trip, ANY_UDP_PORT)
    command = [
        sys.executable, "-m", "bridge", "mock", "--to", "udp://127.0.0.1:{port}", "--json",
        "--speed", str(speed), "--seed", str(seed), *(word for name in slips for word in ("--slip", name)),
    ]  # fmt: skip
    return DemoFlight("Lindmere 417, Port Averil runway 14: a mock aeroplane and its crew", device, command)


def jsbsim_flight(slips: list[str], speed: float) -> DemoFlight:
    """Make the flight of the JSBSim library's twin jet.

    Args:
        slips: ids of slips, `demo` or `all`.
        speed: simulated seconds in a real one.

    Raises:
        InputFaults: the JSBSim library is not installed.
    """
    if not jsbsim_installed():
        raise InputFaults([Fault(Place("--real"), "the JSBSim library is not installed", hint=INSTALL_HINT)])
    name, sheet, map_name = PACKS["jet"]
    trip = load_trip_sheet(SHIPPED_DIR / name / sheet)
    rules = load_pack(name, trip=trip)
    device = build_device(rules, trip, ANY_UDP_PORT, map_file=load_map(map_name, rules.signals))
    title = "Lindmere 417, our own scenario, flown by a stock twin jet of the JSBSim library"
    return DemoFlight(title, device, flight_command("jet", "{port}", speed, slips, ["--json"]))
