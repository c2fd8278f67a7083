"""The strip on top of every view: phase, clock, link and session.

Takes: a rig.  Gives: what `head.html` shows.
"""

from __future__ import annotations

from collections.abc import Mapping

from bridge.runtime.device import Device
from bridge.terminal.live_view import format_sim_time


def head(device: Device) -> Mapping[str, object]:
    """The moment in one line."""
    session, core = device.session, device.session.judge
    phase = core.context.phase_title(core.context.phase)
    return {
        "phase": phase or "waiting for the first frame",
        "clock": format_sim_time(core.context.sim_s),
        "link": device.link_report(),
        "session": session,
        "quiet": core.quiet,
        "troubles": device.persistence_problems,
        "open_findings": sum(finding.closed_s is None for finding in device.journal.findings.values()),
    }
