"""A device on the page of all devices.

Takes: a rig.  Gives: what `device.html` shows.
"""

from __future__ import annotations

from collections.abc import Mapping

from bridge.glance import gates_ahead
from bridge.page.panels.parts import GRAVITY
from bridge.rig import Rig
from rules.packs.model import Level


def device(rig: Rig) -> Mapping[str, object]:
    """Its session, phase, link, and how many findings are open, by level."""
    core = rig.session.core
    cued = [gate for gate in gates_ahead(core) if gate.id in core.session.cued]
    return {
        "id": rig.id,
        "title": rig.title,
        "session": rig.session,
        "crew": [f"{rig.pack.seats[seat]}: {who}" for seat, who in rig.session.crew.items()],
        "phase": core.session.phase_title(core.session.phase),
        "sim_s": core.session.sim_s,
        "reception": rig.reception(),
        "cued": [(gate.title, len(core.needs.open_needs(gate))) for gate in cued],
        "open_findings": open_findings(rig),
        "findings": len(rig.journal.findings),
    }


def open_findings(rig: Rig) -> list[tuple[str, Level]]:
    """How many findings are open, in words by level, the gravest first; levels without any are left out."""
    levels = [finding.level for finding in rig.journal.findings.values() if finding.closed_s is None]
    gravest = sorted(set(levels), key=GRAVITY.__getitem__)
    return [(_counted(level, levels.count(level)), level) for level in gravest]


def _counted(level: Level, count: int) -> str:
    many = {Level.WARNING: "warnings", Level.CAUTION: "cautions", Level.ADVISORY: "advisories"}
    return f"{count} {level if count == 1 else many[level]}"
