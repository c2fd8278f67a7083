"""Our phases of a trajectory, beside those of the fuzzy classifier of OpenAP.

Source: OpenAP 2.6 (LGPL-3.0), `openap.FlightPhase`: Sun, Ellerbroek, Hoekstra, Large-Scale Flight Phase Identification
from ADS-B Data Using Machine Learning Methods (ICRAT 2016), from memory.  It labels each minute by altitude, speed and
rate of climb, by itself; ours follow the flight, and so differ by design:

    level below cruise      LVL has no phase of ours: not compared
    climb to a higher level "change of cruise level" of the taxonomy (CAST/ICAO) is our cruise: not compared
    each begin of a phase   theirs is known after the flight, ours while it is flown: ours is later

Takes: a trajectory, a pack.  Gives: `Comparison`.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

import numpy as np
from openap import FlightPhase

from rules.judge.judge import Judge
from rules.packs.trip_sheet import TripSheet
from rules.signals.model import Frame, Quality, Sample, Value
from tests.judged_events import JudgedEvents
from tests.outside_flights.samples import SIGNALS, Column, Trajectory
from tests.shipped import shipped_pack

GROUND, CLIMB, CRUISE, DESCENT = "GND", "CL", "CR", "DE"
COMPARED = (GROUND, CLIMB, CRUISE, DESCENT)
LABELS = {
    **dict.fromkeys(("initial_climb", "climb", "high_climb", "go_around"), CLIMB),
    "cruise": CRUISE,
    **dict.fromkeys(("descent", "approach", "final", "short_final"), DESCENT),
}
"""Their label of each of our phases; all others are on the ground."""
SMOOTHED_S = 11


@dataclass(slots=True, kw_only=True)
class Judged(JudgedEvents):
    """What was judged of a flight, and our phase at each second."""

    judge: Judge
    phases: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Comparison:
    """Seconds by the two labels, theirs first."""

    seconds: Counter[tuple[str, str]]

    @property
    def compared_s(self) -> int:
        """Seconds for which both have a label that can be the same."""
        return sum(self._compared().values())

    @property
    def agreement(self) -> float:
        """Share of these seconds with the same label, 0 to 1."""
        compared = self._compared()
        same = sum(number for (theirs, ours), number in compared.items() if theirs == ours)
        return same / max(1, sum(compared.values()))

    def _compared(self) -> Counter[tuple[str, str]]:
        return Counter(
            {
                pair: number
                for pair, number in self.seconds.items()
                if pair[0] in COMPARED and pair != (CLIMB, CRUISE)
            }
        )


def judge_flight(flight: Trajectory, pack: str = "twin_jet", trip: dict[str, Value] | None = None) -> Judged:
    """Give a trajectory to the judge, a record each second."""
    judged = Judged(judge=Judge(shipped_pack(pack), TripSheet("A recorded flight", trip or {})))
    for number, at_s in enumerate(flight.times_s):
        now_s = float(at_s)
        values = {SIGNALS[name]: float(column[number]) for name, column in flight.columns.items()}
        samples = [Sample(n, value, Quality.FRESH, now_s) for n, value in values.items() if value == value]
        frame = Frame("outside", now_s, now_s, 0, tuple(sample.name for sample in samples), samples)
        judged.add(judged.judge.judge_frame(frame))
        judged.phases.append(judged.entered[-1])
    return judged


def compare(flight: Trajectory, judged: Judged) -> Comparison:
    """Compare our phases with OpenAP's labels, where altitude and speed were recorded."""
    altitude, speed = flight.columns["altitude"], flight.columns["groundspeed"]
    known = ~(np.isnan(altitude) | np.isnan(speed))
    rate = flight.columns.get("vertical_rate")
    climb = _rate_of(altitude) if rate is None else rate
    known &= ~np.isnan(climb)
    classifier = FlightPhase()
    classifier.set_trajectory(flight.times_s[known], altitude[known], speed[known], climb[known])
    ours = [LABELS.get(phase, GROUND) for phase, each in zip(judged.phases, known, strict=True) if each]
    return Comparison(Counter(zip(classifier.phaselabel(), ours, strict=True)))


def _rate_of(altitude: Column) -> Column:
    """Rate of climb in ft/min from an altitude in ft at each second, smoothed."""
    padded = np.pad(altitude, SMOOTHED_S // 2, "edge")
    smooth = np.convolve(padded, np.ones(SMOOTHED_S) / SMOOTHED_S, "valid")
    rate: Column = np.gradient(smooth) * 60.0
    return rate
