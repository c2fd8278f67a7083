"""The strip on top of every view: phase, clock, link and session.

Takes: a rig.  Gives: what `head.html` shows.
"""

from __future__ import annotations

from collections.abc import Mapping

from bridge.rig import Rig
from bridge.screen import clock


def head(rig: Rig) -> Mapping[str, object]:
    """The moment in one line."""
    session, core = rig.session, rig.session.core
    phase = core.session.phase_title(core.session.phase)
    return {
        "phase": phase or "waiting for the first frame",
        "clock": clock(core.session.sim_s),
        "link": rig.reception(),
        "session": session,
        "quiet": core.quiet,
        "troubles": rig.kept_words,
        "open_findings": sum(finding.closed_s is None for finding in rig.journal.findings.values()),
    }
