"""A recording of the mock's flight with slips, as `watch` makes it.

Takes: a folder, a scenario, slips.  Gives: the path of the recording.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from bridge.control import Request
from bridge.record.keeping import head_of
from bridge.record.recorder import Recorder
from bridge.record.shelf import recordings
from bridge.record.writer import Limits
from bridge.rig import build_rig
from mock_sim.run import Flight
from rules.packs.layers import SHIPPED
from rules.packs.load import load_pack
from rules.packs.trip import load_trip
from rules.signals.model import Frame, Quality, Sample, Value
from tests.contract.until import Clock

BEGAN_UTC = 1_795_579_200.0
"""25 November 2026, 04:00 UTC."""
CREW = {"captain": "Heron", "first_officer": "Plover"}


def recorded_flight(
    folder: Path,
    scenario: str = "departure",
    slips: Iterable[str] = (),
    *,
    rate_hz: float = 5.0,
    until_s: float = 1e9,
) -> Path:
    """Fly, judge and record; the recorder looks every ten seconds of the flight."""
    trip = load_trip(SHIPPED / "twin_jet" / "trip_demo.yaml")
    pack = load_pack("twin_jet", trip=trip)
    wall = Clock(BEGAN_UTC)
    rig = build_rig(pack, trip, "udp://127.0.0.1:0", name="bay-1", title="Bay 1", wall=wall)
    folder.mkdir(parents=True, exist_ok=True)
    recorder = Recorder(folder, Limits(least_free=0), free=lambda _: 1 << 40, clock=wall, wall=wall)
    rig.attend(lambda session: recorder.begin(session, head_of(rig, session)))
    for seat, who in CREW.items():
        rig.answer(Request("seat", seat, "instructor", who))
    rig.answer(Request("course", "Course 12", "instructor"))
    shown: dict[str, Value] = {}
    for number, moment in enumerate(Flight(scenario, slips, rate_hz=rate_hz)):
        if moment.sim_s > until_s:
            break
        wall.now_s = BEGAN_UTC + moment.sim_s
        state = {
            n: v if isinstance(v, str) else float(v) for n, v in moment.state.items() if n in pack.signals
        }
        told = tuple(Sample(n, v, Quality.FRESH, moment.sim_s) for n, v in state.items() if shown.get(n) != v)
        shown = state
        calls = tuple(call.name for call in moment.calls if call.name in pack.calls)
        rig.session.judge(Frame("mock", moment.sim_s, moment.sim_s, 0, tuple(state), told, calls))
        if number % round(10 * rate_hz) == 0:
            recorder.work()
    rig.answer(
        Request("remark", "", "instructor", "Good pace, but the flow was done from memory too quickly.")
    )
    rig.answer(Request("end", "", "instructor"))
    recorder.finish()
    return recordings(folder)[-1].parts[0]
