"""A device on the page of all devices.

Takes: a rig.  Gives: what `device.html` shows.
"""

from __future__ import annotations

from collections.abc import Mapping

from bridge.page.widgets.item_list.item_list import LEVEL_ORDER
from bridge.runtime.device import Device
from bridge.terminal.terminal_snapshot import gates_ahead
from rules.packs.model import Level


def device_card(device: Device) -> Mapping[str, object]:
    """Its session, phase, link, and how many findings are open, by level."""
    core = device.session.judge
    cued = [gate for gate in gates_ahead(core) if gate.id in core.context.cued_gates]
    return {
        "id": device.id,
        "title": device.title,
        "session": device.session,
        "crew": [f"{device.pack.seats[seat]}: {who}" for seat, who in device.session.crew.items()],
        "phase": core.context.phase_title(core.context.phase),
        "sim_s": core.context.sim_s,
        "reception": device.link_report(),
        "cued": [(gate.title, len(core.gate_requirements.open_needs(gate))) for gate in cued],
        "open_findings": open_finding_counts(device),
        "findings": len(device.journal.findings),
    }


def open_finding_counts(device: Device) -> list[tuple[str, Level]]:
    """How many findings are open, in words by level, the gravest first; levels without any are left out."""
    levels = [finding.level for finding in device.journal.findings.values() if finding.closed_s is None]
    gravest = sorted(set(levels), key=LEVEL_ORDER.__getitem__)
    return [(_count_text(level, levels.count(level)), level) for level in gravest]


def _count_text(level: Level, count: int) -> str:
    many = {Level.WARNING: "warnings", Level.CAUTION: "cautions", Level.ADVISORY: "advisories"}
    return f"{count} {level if count == 1 else many[level]}"
