"""A flight of the mock aeroplane over a simulated bad network: encoded, lost, delayed, decoded, judged.

Takes: a scenario, a seed, slips.  Gives: `FlightResult`: notices and findings.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from adapters.factory import receiver_for
from adapters.receiver import Receiver
from mock_sim.run import Flight
from mock_sim.send.formats import encoder_for
from mock_sim.send.frames import FlightFrames
from mock_sim.send.network_faults import FaultInjector, NetworkFaults
from rules.judge.events import FindingOpened, GateEntered, JudgeEvent, Notice
from rules.judge.judge import Judge
from rules.packs.model import Level
from tests.shipped import shipped

RATE_HZ = 20.0
BAD_NETWORK = NetworkFaults(loss=0.05, jitter_s=0.08)
"""5 % of all frames lost; each other one late by up to 80 ms, so that at 20 Hz many come out of order."""
GOOD_NETWORK = NetworkFaults()
WIRE = "msgpack"
PACKS = {"departure": "twin_jet", "sector": "twin_jet", "circuit": "trainer"}
"""The shipped pack that judges a scenario."""


@dataclass(slots=True)
class FlightResult:
    """Notices and findings of a flight."""

    scenario: str
    seed: int
    sent: int = 0
    judged: int = 0
    network_faults: Mapping[str, int] = field(default_factory=dict)
    notices: list[Notice] = field(default_factory=list)
    found: dict[str, list[str]] = field(default_factory=dict)
    sentences: list[str] = field(default_factory=list)
    gates: list[str] = field(default_factory=list)

    @property
    def errors(self) -> dict[str, list[str]]:
        """What is found, without the doubts: where records are lost, an item may not be verifiable."""
        found = {
            item: [kind for kind in kinds if kind != "not_verifiable"] for item, kinds in self.found.items()
        }
        return {item: kinds for item, kinds in found.items() if kinds}

    @property
    def levels(self) -> Counter[str]:
        """Number of notices of each level."""
        return Counter(str(notice.level) for notice in self.notices)

    @property
    def caution_sentences(self) -> list[str]:
        """Sentences of the notices at caution or warning."""
        return [notice.sentence for notice in self.notices if notice.level is not Level.ADVISORY]

    def record(self, entries: Iterable[JudgeEvent]) -> None:
        """Record the events of a step."""
        for entry in entries:
            match entry:
                case Notice():
                    self.notices.append(entry)
                case FindingOpened(finding=finding):
                    kinds = self.found.setdefault(finding.item, [])
                    kinds += [] if finding.kind in kinds else [str(finding.kind)]
                    self.sentences.append(f"{finding.sim_s:.1f} s, {finding.item}: {finding.sentence}")
                case GateEntered(gate=gate):
                    self.gates.append(gate)


def fly(
    scenario: str,
    seed: int = 0,
    slips: Iterable[str] = (),
    *,
    rate_hz: float = RATE_HZ,
    network_faults: NetworkFaults = BAD_NETWORK,
    joined_s: float = 0.0,
) -> FlightResult:
    """Fly, send, inject network faults, receive and judge, frame by frame, on the flight's own clock.

    Args:
        scenario: One of `PACKS`.
        seed: Seed of the noise, the crew's pace and the network.
        slips: Ids in the scenario's catalogue.
        rate_hz: Frames in a second.
        network_faults: Faults of the network.
        joined_s: Time of the simulator's clock before which nobody watches.
    """
    pack, trip = shipped(PACKS[scenario])
    flight = Flight(scenario, slips, seed, rate_hz=rate_hz)
    encoder, receiver = encoder_for(WIRE), receiver_for(pack.signals, format_name=WIRE, link="mock")
    judge, injector, seen = (
        Judge(pack, trip),
        FaultInjector(network_faults, seed),
        FlightResult(scenario, seed),
    )
    for frame in FlightFrames(flight.scenario, flight, rate_hz=rate_hz):
        encoded = encoder.encode(frame.clock_s, frame.number, frame.fields)
        for data in encoded if frame.clock_s >= joined_s else ():
            injector.add(frame.due_s, data)
            seen.sent += 1
        _receive(injector.due(frame.due_s), receiver, judge, seen)
    _receive(injector.remaining(), receiver, judge, seen)
    seen.network_faults = dict(injector.counts)
    return seen


def _receive(
    due: Iterable[tuple[float, bytes]], receiver: Receiver, judge: Judge, seen: FlightResult
) -> None:
    """Judge each datagram at the time of its arrival."""
    for recv_s, data in due:
        for frame in receiver.receive(data, recv_s):
            seen.judged += 1
            seen.record(judge.judge_frame(frame))
