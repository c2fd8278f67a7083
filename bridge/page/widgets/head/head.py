"""Shows phase, clock, link and session at the top of every view.

Takes: a device.  Gives: the values of the template.
"""

from __future__ import annotations

from collections.abc import Mapping

from bridge.common.time_text import format_sim_time
from bridge.runtime.device import Device


def head(device: Device) -> Mapping[str, object]:
    """Return phase, clock, link state, session and problems."""
    session, judge = device.session, device.session.judge
    phase = judge.context.phase_title(judge.context.phase)
    return {
        "phase": phase or "waiting for the first frame",
        "clock": format_sim_time(judge.context.sim_s),
        "link_report": device.link_report(),
        "session": session,
        "quiet": judge.quiet,
        "problems": device.persistence_problems,
        "open_findings": sum(finding.closed_s is None for finding in device.journal.findings.values()),
    }
