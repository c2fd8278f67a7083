"""Tests of a watch that records its flight, and of one that plays the recording."""

from __future__ import annotations

import re
import signal
from pathlib import Path

from tests.bridge.builders import FrameSender
from tests.bridge.commands.test_watch import connected_socket, run_watch


async def test_a_recorded_flight_can_be_played(tmp_path: Path) -> None:
    """The output names the recording; played as a link it gives the same lines, and the watch ends with it."""
    data_dir = tmp_path / "data"
    (tmp_path / "first").mkdir()
    async with run_watch(
        tmp_path / "first", "--link", "udp://127.0.0.1:0", "--data-dir", str(data_dir)
    ) as watch:
        port = int((await watch.until(r"LINK udp 127\.0\.0\.1:(\d+): open"))[1])
        sender = FrameSender()
        with connected_socket(port) as out:
            for second in range(4):
                out.send(sender.datagram(float(second), {"lights.beacon": "off"}, push_approved=0.0))
            out.send(sender.datagram(4.0, {"lights.beacon": "off", "flight.ground_speed": 3.0}))
            await watch.until("PHASE    Push back")
        code, out_text, err = await watch.end(signal.SIGINT)
    assert (code, err) == (0, "")
    (recording,) = (data_dir / "recordings").glob("*.mcap")
    assert recording.stem in re.sub(r"\s", "", out_text)
    (tmp_path / "playback").mkdir()
    async with run_watch(
        tmp_path / "playback", "--link", f"recording:{recording}", "--data-dir", "off"
    ) as playback:
        await playback.until("PHASE    At the stand")
        await playback.until("PHASE    Push back")
        code, out_text, err = await playback.wait_ended()
    assert (code, err) == (0, "")
    assert "2 findings, 2 notices" in out_text
