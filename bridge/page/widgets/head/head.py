"""Shows phase, clock, link and session at the top of every view.

Takes: a device.  Gives: the values of the template.
"""

from __future__ import annotations

from collections.abc import Mapping

from bridge.common.time_text import format_sim_time
from bridge.page.panel import link_view, session_view
from bridge.runtime.device import Device


def head(device: Device) -> Mapping[str, object]:
    """Return phase, clock, link state, session and problems."""
    snapshot = device.session.current_snapshot()
    return {
        "phase": snapshot.phase_title or "waiting for the first frame",
        "clock": format_sim_time(snapshot.sim_s),
        "link_report": link_view(device),
        "session": session_view(device),
        "quiet": snapshot.quiet,
        "problems": device.persistence_problems,
    }
