"""A whole sector of the mock crew in an aeroplane that the JSBSim library flies, judged in this process.

Takes: slips.  Gives: `SectorFlight`: the pack's judgement, and samples of the flight.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from mock_sim.crew import CrewSlip
from mock_sim.jsbsim.embedded import JsbsimHalyard220
from mock_sim.run import Flight
from rules.judge.judge import Judge
from rules.packs.load_pack import SHIPPED_DIR, load_pack
from rules.packs.model import Pack
from rules.packs.trip_sheet import load_trip_sheet
from rules.signals.model import Value
from tests.packs_flight.recorded_sector import JudgedFlight, State

RATE_HZ = 2.0
SAMPLED_SIGNALS = (
    "flight.on_ground", "flight.airspeed", "flight.height", "flight.vertical_speed", "flight.latitude",
    "flight.longitude", "flight.pitch", "flight.bank", "navigation.localizer", "navigation.glide_path",
    "controls.flap.position", "controls.spoiler.left", "engine.1.n1", "engine.1.n2", "engine.2.n2", "engine.1.reverser",
    "fuel.total", "cabin.altitude",
)  # fmt: skip


@dataclass
class SectorFlight:
    """The judge's events and the samples of one flight."""

    pack: Pack
    judged: JudgedFlight
    aeroplane: JsbsimHalyard220
    moments: list[dict[str, Value]] = field(default_factory=list)
    first: State = field(default_factory=dict)
    last: State = field(default_factory=dict)
    last_s: float = 0.0
    invalid: set[str] = field(default_factory=set)
    slipped: list[CrewSlip] = field(default_factory=list)

    @property
    def flying(self) -> list[dict[str, Value]]:
        """Return the moments in the air."""
        return [moment for moment in self.moments if moment["flight.on_ground"] == "no"]

    def at_height(self, height_ft: float) -> dict[str, Value]:
        """Return the last moment in the air at or above a height."""
        return next(m for m in reversed(self.flying) if number(m, "flight.height") >= height_ft)

    def add_moment(self, sim_s: float, state: State) -> None:
        """Store a moment's sampled signals, and the names of those outside the limits of the signal book."""
        self.first = self.first or state
        self.last, self.last_s = state, sim_s
        self.moments.append({name: state[name] for name in SAMPLED_SIGNALS} | {"sim_s": sim_s})
        for name, value in state.items():
            signal = self.pack.signals[name]
            if isinstance(value, float) and not signal.low <= value <= signal.high:
                self.invalid.add(name)


def number(moment: State, name: str) -> float:
    """Return a signal as a number."""
    return float(moment[name])


def fly(slips: Sequence[str] = ()) -> SectorFlight:
    """Fly and judge one sector.

    Args:
        slips: ids of the crew's slips.
    """
    trip = load_trip_sheet(SHIPPED_DIR / "twin_jet" / "trip_library.yaml")
    pack = load_pack("twin_jet", trip=trip)
    flight = Flight("sector_jsbsim", slips, seed=5, rate_hz=RATE_HZ)
    assert isinstance(flight.aeroplane, JsbsimHalyard220)
    sector = SectorFlight(pack, JudgedFlight(Judge(pack, trip)), flight.aeroplane)
    for moment in flight:
        state: dict[str, Value] = {k: v if isinstance(v, str) else float(v) for k, v in moment.state.items()}
        sector.add_moment(moment.sim_s, state)
        sector.judged.send(moment.sim_s, state, [call.name for call in moment.calls])
    sector.slipped = flight.slip_records()
    return sector
