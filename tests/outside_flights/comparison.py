"""Our phases of a trajectory, beside those of the fuzzy classifier of OpenAP.

Source: OpenAP 2.6 (LGPL-3.0), `openap.FlightPhase`: Sun, Ellerbroek, Hoekstra, Large-Scale Flight Phase Identification
from ADS-B Data Using Machine Learning Methods (ICRAT 2016), from memory.  It labels each minute by altitude, speed and
rate of climb, by itself; ours follow the flight, and so differ by design:

    level below cruise      LVL is slow or low and level, in whichever phase: it has no phase of ours, not compared
    climb to a higher level "change of cruise level" of the taxonomy (CAST/ICAO) is our cruise: not compared
    a minute of both        their label is of the mean rate of a minute: where it climbed and sank in it, or the recorded
                            rate contradicts the altitude, no label is right (`MIXED`): not compared
    each begin of a phase   theirs is known after the flight, ours while it is flown: ours is later; it counts as different

Every rule is applied to every flight, and the table says how many seconds each leaves out.

Takes: a trajectory, a pack.  Gives: `Comparison`.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from openap import FlightPhase

from rules.judge.judge import Judge
from rules.packs.trip_sheet import TripSheet
from rules.signals.model import Frame, Quality, Sample, Value
from tests.judged_events import JudgedEvents
from tests.outside_flights.samples import SIGNALS, Column, Trajectory
from tests.shipped import shipped_pack

GROUND, CLIMB, CRUISE, DESCENT = "GND", "CL", "CR", "DE"
MIXED = "MIX"
"""Our label of a minute that the mean rate of climb does not describe."""
COMPARED = (GROUND, CLIMB, CRUISE, DESCENT)
LABELS = {
    **dict.fromkeys(("initial_climb", "climb", "high_climb", "climb_again", "go_around"), CLIMB),
    "cruise": CRUISE,
    **dict.fromkeys(("descent", "approach", "final", "short_final"), DESCENT),
}
"""Their label of each of our phases; all others are on the ground."""
SMOOTHED_S = 11
MINUTE_S = 60
"""Window of their labels (the default of `phaselabel`)."""
BOTH_FT, CONTRADICTED_FPM = 500.0, 1000.0
"""Climbed and sunk in one minute; mean rate against change of altitude.  Chosen by us: a step of 500 ft is no noise."""


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

    def agreement_on(self, theirs: str) -> float:
        """Share of the seconds of one label of theirs with the same label, 0 to 1."""
        of_label = {ours: number for (label, ours), number in self._compared().items() if label == theirs}
        return of_label.get(theirs, 0) / max(1, sum(of_label.values()))

    @property
    def left_out_s(self) -> int:
        """Seconds for which a rule of comparison says that they cannot have the same label."""
        return sum(self.seconds.values()) - self.compared_s

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
    theirs = np.array(classifier.phaselabel(MINUTE_S))
    theirs[_mixed(flight.times_s[known], altitude[known], climb[known])] = MIXED
    return Comparison(Counter(zip(theirs.tolist(), ours, strict=True)))


def _mixed(times_s: Column, altitude: Column, climb: Column) -> NDArray[np.bool_]:
    """Seconds of the minutes whose mean rate of climb is not what was flown."""
    minutes = ((times_s - times_s[0]) // MINUTE_S).astype(int)
    mixed = np.zeros(len(times_s), dtype=bool)
    for minute in np.unique(minutes):
        inside = minutes == minute
        mixed[inside] = _is_mixed(times_s[inside], altitude[inside], climb[inside])
    return mixed


def _is_mixed(times_s: Column, altitude: Column, climb: Column) -> bool:
    """Say whether a minute both climbs and sinks, or its rate contradicts its altitude."""
    climbed = (altitude - np.minimum.accumulate(altitude)).max()
    sunk = (np.maximum.accumulate(altitude) - altitude).max()
    if min(climbed, sunk) >= BOTH_FT:
        return True
    lasted_s = times_s[-1] - times_s[0]
    if lasted_s < MINUTE_S / 2:
        return False
    flown = (altitude[-1] - altitude[0]) / lasted_s * 60.0
    return bool(abs(flown - climb.mean()) > CONTRADICTED_FPM)


def _rate_of(altitude: Column) -> Column:
    """Rate of climb in ft/min from an altitude in ft at each second, smoothed."""
    padded = np.pad(altitude, SMOOTHED_S // 2, "edge")
    smooth = np.convolve(padded, np.ones(SMOOTHED_S) / SMOOTHED_S, "valid")
    rate: Column = np.gradient(smooth) * 60.0
    return rate
