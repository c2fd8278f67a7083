"""Shows a device as a card on the page of all devices.

Takes: a device.  Gives: the values of the card's template.
"""

from __future__ import annotations

from collections.abc import Mapping

from bridge.common.time_text import format_sim_time
from bridge.page.panel import link_view, session_view
from bridge.page.widgets.item_list.item_list import LEVEL_ORDER
from bridge.runtime.device import Device
from bridge.session.gates_ahead import gates_ahead
from rules.judge.events import Finding
from rules.packs.model import Level
from rules.words import count_in_digits


def device_card(device: Device) -> Mapping[str, object]:
    """Return session, phase, link state, and the numbers of open errors and of doubts."""
    snapshot = device.session.current_snapshot()
    ahead = (snapshot.gates[gate.id] for gate in gates_ahead(device.pack, snapshot))
    return {
        "id": device.id,
        "title": device.title,
        "session": session_view(device),
        "crew": [f"{device.pack.seats[seat]}: {person}" for seat, person in device.session.crew.items()],
        "phase": snapshot.phase_title,
        "clock": format_sim_time(snapshot.sim_s),
        "link_report": link_view(device),
        "cued": [(gate.title, gate.text) for gate in ahead if gate.cued],
        "open_findings": open_finding_counts(device),
        "finding_count": sum(not finding.is_doubt for finding in device.journal.findings.values()),
        "doubt_count": sum(finding.is_doubt for finding in _open_findings(device)),
    }


def open_finding_counts(device: Device) -> list[tuple[str, Level]]:
    """Count the open errors of each level, in words, the most severe level first."""
    levels = [finding.level for finding in _open_findings(device) if not finding.is_doubt]
    levels_present = sorted(set(levels), key=LEVEL_ORDER.__getitem__)
    return [(count_in_digits(levels.count(level), level), level) for level in levels_present]


def _open_findings(device: Device) -> list[Finding]:
    return [finding for finding in device.journal.findings.values() if finding.closed_s is None]
