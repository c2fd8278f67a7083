"""Measures the time to judge an hour's recording again, by columns and by the live judge.

The flight is the mock simulator's whole sector at 20 Hz with 340 signals.  Either 30 signals change in each frame, as in
the other cases, or all changes of the flight are recorded, about 45 (with `all_changes`).  Both sides begin with the file:
all figures include reading, unpacking, decoding and judging.  The results are compared.

Takes: a folder for the recording.  Gives: lines of a table.
"""

from __future__ import annotations

import gc
import time
from collections.abc import Callable, Iterator
from itertools import islice
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TypeVar

from bridge.recording.file_format import (
    FORMAT_VERSION,
    RecordedPack,
    RecordedTrip,
    RecordingHead,
    encode_message,
)
from bridge.recording.reader import Recording, open_recording
from bridge.recording.recorder import Recorder
from bridge.recording.recording_budget import list_recordings
from bridge.recording.replay_judge import replay_events, trip_of_head
from bridge.recording.writer import RecordingLimits
from bridge.rejudge.judging import rejudge
from bridge.session.session import Session
from mock_sim.run import Flight
from rules.judge.judge import Judge
from rules.packs.model import Pack
from rules.packs.trip_sheet import TripSheet
from rules.signals.model import Frame, Quality, Sample, Value
from tests.bench.flight_frames import ChangePicker, chosen_signals, twin_jet
from tests.bench.measure import DisagreementError

RATE_HZ = 20.0
HOUR = 72_000
BEGAN_UTC = 1_795_579_200.0
AIM_S = 2.0
PASSES = 3
Result = TypeVar("Result")


def frames(most: int, *, all_changes: bool) -> Iterator[Frame]:
    """Fly the sector frame by frame."""
    pack, _ = twin_jet()
    names = chosen_signals(pack)
    shown: dict[str, Value] = {}
    picker: ChangePicker | None = None
    for number, moment in enumerate(islice(Flight("sector", rate_hz=RATE_HZ), most)):
        state = {n: v if isinstance(v := moment.state[n], str) else float(v) for n in names}
        if picker is None:
            picker, changes = ChangePicker(pack, dict(state), rough=False), dict(state)
        elif all_changes:
            changes = {name: value for name, value in state.items() if shown.get(name) != value}
        else:
            changes = picker.pick(state, number)
        shown.update(changes)
        samples = tuple(Sample(name, value, Quality.FRESH, moment.sim_s) for name, value in changes.items())
        calls = tuple(call.name for call in moment.calls if call.name in pack.calls)
        yield Frame("bench", moment.sim_s, moment.sim_s, 0, names, samples, calls)


def record(folder: Path, most: int, *, all_changes: bool) -> Path:
    """Record the flight with the recorder of `watch`."""
    pack, trip = twin_jet()
    now_s = [BEGAN_UTC]
    session = Session(Judge(pack, trip), wall_clock=lambda: now_s[0])
    recorder = Recorder(
        folder,
        RecordingLimits(min_free_bytes=0),
        free_bytes=lambda _: 1 << 40,
        clock=lambda: now_s[0],
        wall_clock=lambda: now_s[0],
    )
    recorder.start_session(session, _head(session, pack, trip))
    for number, frame in enumerate(frames(most, all_changes=all_changes)):
        now_s[0] = BEGAN_UTC + frame.sim_s
        session.judge_frame(frame)
        if not number % 200:
            recorder.write_queued()
    recorder.finish()
    (recorded,) = list_recordings(folder)
    return recorded.parts[0]


def _head(session: Session, pack: Pack, trip: TripSheet) -> RecordingHead:
    rules = RecordedPack(pack.id, pack.title, pack.version)
    recorded_trip = RecordedTrip(trip.title, dict(trip.values), trip.inoperative, trip.note)
    return RecordingHead(
        FORMAT_VERSION, "bench", session.uuid, "", "bench", "", session.began_utc, rules, recorded_trip
    )


def _timed(what: Callable[[], Result]) -> tuple[float, Result]:
    gc.collect()
    began_s = time.process_time()
    result = what()
    return time.process_time() - began_s, result


def measure(recording: Recording, pack: Pack, passes: int) -> tuple[float, float, int]:
    """Give the best of the passes in seconds of processor time, by columns and live, and the number of frames."""
    ours, theirs, count = [], [], 0
    for _ in range(passes):
        elapsed_s, judged = _timed(lambda: rejudge(recording, pack))
        ours.append(elapsed_s)
        elapsed_s, events = _timed(lambda: replay_events(recording, pack))
        theirs.append(elapsed_s)
        count = judged.frames
        if not (
            judged.by_columns
            and judged.same
            and [encode_message(each) for each in events] == [d for _, d in judged.after]
        ):
            raise DisagreementError("the columns and the live judge give different events")
    return min(ours), min(theirs), count


def rows(*, quick: bool) -> Iterator[str]:
    """Measure both flights; `quick` takes a tenth of the hour."""
    most, passes = (HOUR // 10, 1) if quick else (HOUR, PASSES)
    yield f"{'A recording judged again, seconds':<38}{'columns':>9}{'live':>8}{'ratio':>8}{'size':>10}"
    for all_changes in (False, True):
        with TemporaryDirectory() as folder:
            path = record(Path(folder), most, all_changes=all_changes)
            recording = open_recording(path)
            pack, _ = twin_jet()
            assert trip_of_head(recording.head).values
            ours_s, live_s, count = measure(recording, pack, passes)
            changes = "all changes" if all_changes else "30 change"
            size = f"{path.stat().st_size / 1e6:.1f} MB"
            yield f"  {count:,} frames, {changes:<20}{ours_s:>10.2f}{live_s:>8.2f}{live_s / ours_s:>7.1f}x{size:>10}"
    if not quick:
        yield f"  aim: under {AIM_S:g} s"
