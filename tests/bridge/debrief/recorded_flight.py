"""Records a flight of the mock with slips, as `watch` records it.

Takes: a folder, a scenario, slips.  Gives: the path of the recording.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from bridge.debrief.model import DebriefData
from bridge.recording.device_recording import make_head
from bridge.recording.recorder import Recorder
from bridge.recording.recording_budget import list_recordings
from bridge.recording.writer import RecordingLimits
from bridge.runtime.device import build_device
from bridge.session.requests import Request
from mock_sim.run import Flight
from rules.packs.load_pack import SHIPPED_DIR, load_pack
from rules.packs.trip_sheet import load_trip_sheet
from rules.signals.model import Frame, Quality, Sample, Value
from tests.contract.waiting import ManualClock

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
    lost_s: Sequence[tuple[float, float]] = (),
) -> Path:
    """Fly, judge and record; the recorder writes every ten seconds of the flight.

    Args:
        folder: the folder of the recording.
        scenario: the mock's scenario.
        slips: the crew's slips.
        rate_hz: frames per second of the flight.
        until_s: the end of the recording by the simulator's clock.
        lost_s: times from and to which all frames are lost on the way.
    """
    trip = load_trip_sheet(SHIPPED_DIR / "twin_jet" / "trip_demo.yaml")
    pack = load_pack("twin_jet", trip=trip)
    wall_clock = ManualClock(BEGAN_UTC)
    device = build_device(
        pack, trip, "udp://127.0.0.1:0", device_id="bay-1", title="Bay 1", wall_clock=wall_clock
    )
    folder.mkdir(parents=True, exist_ok=True)
    recorder = Recorder(
        folder,
        RecordingLimits(min_free_bytes=0),
        free_bytes=lambda _: 1 << 40,
        clock=wall_clock,
        wall_clock=wall_clock,
    )
    device.on_each_session(
        lambda created: recorder.start_session(created.session, make_head(device, created.session))
    )
    for seat, person in CREW.items():
        device.handle(Request("assign_seat", seat, "instructor", person))
    device.handle(Request("set_course", "Course 12", "instructor"))
    previous: dict[str, Value] = {}
    missing_from_s: float | None = None
    for number, moment in enumerate(Flight(scenario, slips, rate_hz=rate_hz)):
        if moment.sim_s > until_s:
            break
        wall_clock.now_s = BEGAN_UTC + moment.sim_s
        if any(from_s <= moment.sim_s < to_s for from_s, to_s in lost_s):
            missing_from_s = moment.sim_s if missing_from_s is None else missing_from_s
            continue
        state = {
            n: v if isinstance(v, str) else float(v) for n, v in moment.state.items() if n in pack.signals
        }
        changes = tuple(
            Sample(n, v, Quality.FRESH, moment.sim_s) for n, v in state.items() if previous.get(n) != v
        )
        previous = state
        calls = tuple(call.name for call in moment.calls if call.name in pack.calls)
        device.session.judge_frame(
            Frame("mock", moment.sim_s, moment.sim_s, 0, tuple(state), changes, calls, missing_from_s)
        )
        missing_from_s = None
        if number % round(10 * rate_hz) == 0:
            recorder.write_queued()
    device.handle(
        Request("remark", "", "instructor", "Good pace, but the flow was done from memory too quickly.")
    )
    device.handle(Request("end", "", "instructor"))
    recorder.finish()
    return list_recordings(folder)[-1].parts[0]


def number_of(debrief: DebriefData, item: str) -> int:
    """Give the number of the first finding of an item."""
    return next(detail.finding.number for detail in debrief.findings if detail.finding.item == item)
