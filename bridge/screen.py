"""The terminal view: what stands between the crew and the next phase, at a glance, in 80 columns.

Levels are told by words; colour only repeats them (red and amber as 14 CFR 25.1322(e) has them).

Takes: a picture of the core, the journal, and the link in words.  Gives: something that Rich can draw.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from rich.console import Group, RenderableType
from rich.rule import Rule
from rich.table import Table
from rich.text import Text

from bridge.journal import Journal
from rules.judge.entries import Life, Notice
from rules.judge.picture import GatePicture, ItemPicture, Picture
from rules.packs.model import Level

SHORT_CAUTION = "For flight simulation only. Operator's procedures, approved manual, local rules and instructor come first."
STYLES = {Level.WARNING: "bold red", Level.CAUTION: "yellow", Level.ADVISORY: "cyan"}
OPEN_SHOWN = 9
NOTICES_SHOWN = 5


@dataclass(frozen=True, slots=True)
class LinkWords:
    """One link on the screen: its name, its state in a sentence, and whether that needs attention."""

    name: str
    words: str
    healthy: bool


def clock(sim_s: float) -> str:
    """The simulator's time as h:mm:ss."""
    whole = int(max(0.0, sim_s))
    return f"{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"


def draw(
    title: str, picture: Picture, seats: dict[str, str], journal: Journal, links: Sequence[LinkWords]
) -> RenderableType:
    """The whole screen.

    Args:
        title: the pack's title.
        picture: how everything stands.
        seats: seat id to title.
        journal: what was said so far.
        links: every link in words.
    """
    return Group(
        _head(title, picture, links),
        *_gates(picture, seats),
        Rule("Flows", align="left", style="dim"),
        _flows(picture, seats),
        Rule("Told last", align="left", style="dim"),
        _notices(journal.notices[-NOTICES_SHOWN:]),
        Text(SHORT_CAUTION, style="dim", overflow="fold"),
    )


def _head(title: str, picture: Picture, links: Sequence[LinkWords]) -> RenderableType:
    head = Table.grid(expand=True, padding=(0, 1))
    head.add_column(ratio=1)
    head.add_column(justify="right")
    head.add_row(Text(f"HOLDSHORT  {title}", style="bold"), f"simulator time {clock(picture.sim_s)}")
    phase = picture.phase_title or "waiting for the first frame"
    head.add_row(Text(f"Phase: {phase}", style="bold"), "speech and cautions held" if picture.quiet else "")
    for link in links:
        head.add_row(Text(f"Link {link.name}: {link.words}", style="" if link.healthy else "bold yellow"), "")
    return head


def _gates(picture: Picture, seats: dict[str, str]) -> Iterable[RenderableType]:
    shown = [gate for gate in picture.gates if gate.cued] or list(picture.gates[:1])
    for gate in shown:
        yield Rule(_gate_title(gate), align="left", style="dim")
        yield _open_items(gate, seats)


def _gate_title(gate: GatePicture) -> str:
    told = "about to go" if gate.cued else "next"
    blind = f", {gate.no_data} without data" if gate.no_data else ""
    return f"{gate.title} ({told}): {gate.open} open, {gate.met} met{blind}"


def _open_items(gate: GatePicture, seats: dict[str, str]) -> RenderableType:
    if not gate.open_items:
        return Text(
            "  nothing stands in the way" if gate.met else "  nothing is known of this yet", style="dim"
        )
    table = Table.grid(padding=(0, 1), expand=True)
    table.add_column(width=8)
    table.add_column(ratio=1)
    table.add_column(width=13)
    for item in gate.open_items[:OPEN_SHOWN]:
        table.add_row(*_row(item, gate, seats))
    more = len(gate.open_items) - OPEN_SHOWN
    if more > 0:
        table.add_row("", f"and {more} more", "")
    return table


def _row(item: ItemPicture, gate: GatePicture, seats: dict[str, str]) -> tuple[RenderableType, ...]:
    style = STYLES[item.level] if gate.cued else ""
    word = ("undone" if item.life is Life.LOST else str(item.level)) if gate.cued else "to do"
    return Text(word, style=style), Text(item.sentence, style=style), seats.get(item.seat, item.seat)


def _flows(picture: Picture, seats: dict[str, str]) -> RenderableType:
    wanted = {gate.phase for gate in picture.gates if gate.cued} | {picture.phase}
    table = Table.grid(padding=(0, 2))
    for flow in picture.flows:
        if flow.phase not in wanted:
            continue
        counts = []
        for seat in flow.seats:
            done = sum(item.life in (Life.MET, Life.CONFIRMED, Life.EXCUSED) for item in seat.items)
            counts.append(f"{seats.get(seat.seat, seat.seat)} {done} of {len(seat.items)}")
        table.add_row(f"  {flow.title}", *counts)
    return table if table.row_count else Text("  none in this phase", style="dim")


def _notices(notices: Sequence[Notice]) -> RenderableType:
    if not notices:
        return Text("  nothing", style="dim")
    table = Table.grid(padding=(0, 1))
    for notice in notices:
        level = Text(notice.level.upper(), style=STYLES[notice.level])
        table.add_row(clock(notice.sim_s), level, notice.sentence)
    return table


def say_notice(notice: Notice) -> Text:
    """One notice as a line: time, level, sentence."""
    line = Text(f"{clock(notice.sim_s)} {notice.level.upper():8} ", style=STYLES[notice.level])
    line.append(notice.sentence)
    return line
