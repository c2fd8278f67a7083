"""The command that starts a stock aeroplane in its own process, and the parser of its output.

The library holds the interpreter lock while it steps: in the receiver's own process most datagrams would be lost.

Takes: aeroplane, port, speed, slips.  Gives: the command, and a `ScheduleEvent` from each of its lines.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from mock_sim.jsbsim.process.slips import check_slips

PACKS = {
    "jet": ("twin_jet", "trip_stock.yaml", "jsbsim_twin_jet"),
    "piston": ("trainer", "trip_stock.yaml", "jsbsim_piston"),
}
"""By aeroplane: the pack that judges it, the trip sheet in that pack, and the map."""

_EVENT_LINE = re.compile(r"\s*(?P<sim_s>\d+\.\d+) (?:slip (?P<slip>\w+): )?(?P<what>.+)")


@dataclass(frozen=True, slots=True)
class ScheduleEvent:
    """An event of the schedule: simulated seconds, its text, and the slip that it is ('' for none)."""

    sim_s: float
    text: str
    slip: str = ""

    def __str__(self) -> str:
        """Return the line to print."""
        return f"{self.sim_s:8.2f} " + (f"slip {self.slip}: " if self.slip else "") + self.text


def flight_command(
    kind: str, port: int | str, speed: float = 20.0, slips: Iterable[str] = (), more: Sequence[str] = ()
) -> list[str]:
    """Return the command that flies a stock aeroplane.

    Args:
        kind: `jet` or `piston`.
        port: The UDP port on 127.0.0.1 to which the library sends.
        speed: Simulated seconds in a second.
        slips: Slips of `SLIPS[kind]`; `demo` and `all` are sets of them.
        more: Further options of `python -m mock_sim.jsbsim.process`.

    Raises:
        InputFaults: this aeroplane has no such slip.
    """
    chosen = sorted(check_slips(kind, slips))
    options = [option for slip in chosen for option in ("--slip", slip)]
    called = [sys.executable, "-m", "mock_sim.jsbsim.process", kind]
    return [*called, "--port", str(port), "--speed", f"{speed:g}", *options, *more]


def parse_event(line: str) -> ScheduleEvent | None:
    """Parse an event from one printed line; None for any other line."""
    found = _EVENT_LINE.fullmatch(line.rstrip())
    return ScheduleEvent(float(found["sim_s"]), found["what"], found["slip"] or "") if found else None
