"""The live view in a terminal: open items before the next phase, in 80 columns.

Words show the levels; colour only repeats them (red and amber as in 14 CFR 25.1322(e)).

Takes: a snapshot of the judge, the latest notices, and the state of the link.  Gives: a Rich renderable.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from rich.console import Group, RenderableType
from rich.rule import Rule
from rich.table import Table
from rich.text import Text

from adapters.link_report import LinkReport
from bridge.common.disclaimer import SHORT_DISCLAIMER
from bridge.common.time_text import format_sim_time
from bridge.runtime.device import Device
from bridge.session.gates_ahead import gates_ahead
from bridge.terminal.console import LEVEL_STYLES
from rules.judge.events import LEAD_IN_TEXTS, Finding, ItemStatus, LeadIn, Notice
from rules.judge.gate_counts import GateReadiness
from rules.judge.snapshot import GateSnapshot, ItemSnapshot, Snapshot
from rules.packs.model import Gate, Pack, owner_title
from rules.words import capitalised

MAX_OPEN_SHOWN = 9
MAX_NOTICES_SHOWN = 5
_NOTHING_OPEN = {
    GateReadiness.EMPTY: "no items",
    GateReadiness.NOT_JUDGED: "no data for these items yet",
    GateReadiness.OTHER_OPEN: "no other open items",
    GateReadiness.PARTIAL: "nothing open, judged in part",
    GateReadiness.LATER: "nothing to do yet",
    GateReadiness.CLEAR: "no open items, all judged",
}


def render_device(device: Device) -> RenderableType:
    """Draw the present state of a device."""
    return render_live_view(
        device.session.snapshot(),
        device.pack,
        device.journal.notices,
        [device.link_report()],
        device.persistence_problems,
    )


def render_live_view(
    snapshot: Snapshot,
    pack: Pack,
    notices: Sequence[Notice],
    links: Sequence[LinkReport],
    problems: Sequence[str] = (),
) -> RenderableType:
    """The whole screen.

    Args:
        snapshot: the state to show.
        pack: its rules.
        notices: the notices so far.
        links: every link.
        problems: problems with the recording and the store.
    """
    gates = gates_ahead(pack, snapshot)
    shown = [gate.id for gate in gates]
    return Group(
        _render_head(pack.title, snapshot, links),
        *(Text(capitalised(text), style="bold yellow", overflow="fold") for text in problems),
        *_render_still_open(snapshot.findings_besides(shown), snapshot, pack.seats),
        *_render_doubts(snapshot.doubts_besides(shown)),
        *_render_gates([snapshot.gates[gate.id] for gate in gates], pack.seats),
        Rule("Flows", align="left", style="dim"),
        _render_flows(pack, snapshot, gates),
        Rule("Recent notices", align="left", style="dim"),
        _render_notices(notices[-MAX_NOTICES_SHOWN:]),
        Text(SHORT_DISCLAIMER, style="dim", overflow="fold"),
    )


def _render_head(title: str, snapshot: Snapshot, links: Sequence[LinkReport]) -> RenderableType:
    head = Table.grid(expand=True, padding=(0, 1))
    head.add_column(ratio=1)
    head.add_column(justify="right")
    head.add_row(
        Text(f"HOLDSHORT  {title}", style="bold"),
        f"simulator time {format_sim_time(snapshot.sim_s)}",
    )
    phase = snapshot.phase_title or "waiting for the first frame"
    head.add_row(Text(f"Phase: {phase}", style="bold"), "quiet period" if snapshot.quiet else "")
    lines = (
        Text(f"Link {link.name}: {link.text}", style="" if link.healthy else "bold yellow") for link in links
    )
    return Group(head, *lines)


def _render_gates(gates: Iterable[GateSnapshot], seats: Mapping[str, str]) -> Iterable[RenderableType]:
    for gate in gates:
        yield Rule(_gate_title(gate), align="left", style="dim")
        yield _render_open_items(gate, seats)


def _gate_title(gate: GateSnapshot) -> str:
    state = "about to begin" if gate.cued else "next"
    return f"{gate.title} ({state}): {gate.text}"


def _render_open_items(gate: GateSnapshot, seats: Mapping[str, str]) -> RenderableType:
    # What was seen before and is not known now may be open: it is listed, but not as open.
    unknown = [item for item in gate.no_data_items if item.status is ItemStatus.UNKNOWN]
    listed = [*gate.open_items, *unknown]
    if not listed:
        readiness = gate.counts.readiness if gate.counts.needs else GateReadiness.EMPTY
        style = "bold green" if readiness is GateReadiness.CLEAR else ""
        return Text(f"  {_NOTHING_OPEN[readiness]}", style=style)
    table = Table.grid(padding=(0, 1), expand=True)
    table.add_column(min_width=8, no_wrap=True)
    table.add_column(ratio=1)
    table.add_column(width=13)
    for item in listed[:MAX_OPEN_SHOWN]:
        table.add_row(*_item_row(item, gate, seats))
    more = len(listed) - MAX_OPEN_SHOWN
    if more > 0:
        table.add_row("", f"and {more} more", "")
    return table


def _render_still_open(
    findings: Sequence[Finding], snapshot: Snapshot, seats: Mapping[str, str]
) -> Iterable[RenderableType]:
    """List the open errors about anything but the needs of the gates that are shown."""
    if not findings:
        return
    yield Rule("Still open", align="left", style="dim")
    table = Table.grid(padding=(0, 1), expand=True)
    table.add_column(min_width=8, no_wrap=True)
    table.add_column(ratio=1)
    table.add_column(width=13)
    for finding in findings[:MAX_OPEN_SHOWN]:
        style = LEVEL_STYLES[finding.level]
        table.add_row(
            Text(str(finding.level), style=style),
            Text(snapshot.sentence_of(finding), style=style),
            owner_title(seats, finding.seat),
        )
    if len(findings) > MAX_OPEN_SHOWN:
        table.add_row("", f"and {len(findings) - MAX_OPEN_SHOWN} more", "")
    yield table


def _render_doubts(doubts: Sequence[Finding]) -> Iterable[RenderableType]:
    """List what is not verifiable under its count, apart from the errors and without a level."""
    if not doubts:
        return
    yield Rule(f"{len(doubts)} not verifiable", align="left", style="dim")
    for doubt in doubts[:MAX_OPEN_SHOWN]:
        yield Text(f"  {doubt.listed_sentence}", style="dim", overflow="fold")
    if len(doubts) > MAX_OPEN_SHOWN:
        yield Text(f"  and {len(doubts) - MAX_OPEN_SHOWN} more", style="dim")


def _item_row(item: ItemSnapshot, gate: GateSnapshot, seats: Mapping[str, str]) -> tuple[RenderableType, ...]:
    if item.status is ItemStatus.UNKNOWN:
        return Text("unknown", style="dim"), Text(item.sentence, style="dim"), owner_title(seats, item.seat)
    style = LEVEL_STYLES[item.level] if gate.cued else ""
    lost = item.status is ItemStatus.LOST
    word = (LEAD_IN_TEXTS[LeadIn.UNDONE] if lost else str(item.level)) if gate.cued else "to do"
    return Text(word, style=style), Text(item.sentence, style=style), owner_title(seats, item.seat)


def _render_flows(pack: Pack, snapshot: Snapshot, gates: Iterable[Gate]) -> RenderableType:
    """Count the items of the flows of the present phase and of the cued gates."""
    phases = {snapshot.phase, *(gate.phase for gate in gates if snapshot.gates[gate.id].cued)}
    flows = [flow for flow in pack.flows.values() if flow.phase in phases]
    if not flows:
        return Text("  none in this phase", style="dim")
    table = Table.grid(padding=(0, 2))
    for flow in flows:
        counts = (_seat_count(owner_title(pack.seats, s), i, snapshot) for s, i in flow.seats.items())
        table.add_row(f"  {flow.title}", *counts)
    return table


def _seat_count(title: str, items: Sequence[str], snapshot: Snapshot) -> str:
    return f"{title} {sum(snapshot.items[item].satisfied for item in items)} of {len(items)}"


def _render_notices(notices: Sequence[Notice]) -> RenderableType:
    if not notices:
        return Text("  nothing", style="dim")
    table = Table.grid(padding=(0, 1))
    for notice in notices:
        level = Text(notice.level.upper(), style=LEVEL_STYLES[notice.level])
        table.add_row(format_sim_time(notice.sim_s), level, notice.sentence)
    return table


def notice_line(notice: Notice) -> Text:
    """Format one notice as a line: time, level, sentence."""
    line = Text(
        f"{format_sim_time(notice.sim_s)} {notice.level.upper():8} ", style=LEVEL_STYLES[notice.level]
    )
    line.append(notice.sentence)
    return line
