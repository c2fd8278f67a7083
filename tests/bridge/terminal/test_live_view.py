"""Tests of bridge.terminal.live_view: the screen in 80 columns, without colour."""

from __future__ import annotations

from dataclasses import replace

from adapters.link_report import LinkReport, LinkState
from bridge.session.requests import Request
from bridge.terminal.console import make_console
from bridge.terminal.live_view import MAX_NOTICES_SHOWN, MAX_OPEN_SHOWN, notice_line, render_live_view
from rules.judge.events import Notice
from rules.packs.model import Level, Pack
from rules.signals.model import Value
from tests.bridge.builders import FrameSender, device_on_memory_link, feed, rendered_text
from tests.contract.waiting import ManualClock

OPENING = LinkReport("udp 127.0.0.1:5139", LinkState.WAITING, "open, nothing has arrived yet")
CAUTION = "For flight simulation only. Operator's procedures, approved manual, local rules\nand instructor come first."


def test_the_screen_before_the_first_frame(pack: Pack, clock: ManualClock) -> None:
    """Before the first frame the screen says so, with the state of the link."""
    device, _ = device_on_memory_link(pack, clock)
    snapshot = device.session.snapshot()
    assert rendered_text(render_live_view(snapshot, pack, [], [OPENING])) == (
        "HOLDSHORT  Small jet                                      simulator time 0:00:00\n"
        "Phase: waiting for the first frame\n"
        "Link udp 127.0.0.1:5139: open, nothing has arrived yet\n"
        "Flows ──────────────────────────────────────────────────────────────────────────\n"
        "  none in this phase\n"
        "Recent notices ─────────────────────────────────────────────────────────────────\n"
        "  nothing\n" + CAUTION
    )


def test_a_cued_gate_shows_its_open_items(pack: Pack, clock: ManualClock) -> None:
    """A cued gate shows each open item with level, reason and seat; flows are counted; the last notices are below."""
    device, _ = device_on_memory_link(pack, clock)
    sender = FrameSender()
    wrong: dict[str, Value] = {"lights.beacon": "off", "hydraulics.1.pressure": 1240.0}
    for second in (0, 61, 63):
        feed(device, sender.datagram(second, wrong, **({"push_approved": 61.0} if second else {})), second)
    silent = LinkReport("udp 127.0.0.1:5139", LinkState.SILENT, "no data for 14 s")
    snapshot = device.session.snapshot()
    assert rendered_text(render_live_view(snapshot, pack, device.journal.notices, [silent])) == (
        "HOLDSHORT  Small jet                                      simulator time 0:01:03\n"
        "Phase: At the stand\n"
        "Link udp 127.0.0.1:5139: no data for 14 s\n"
        "Push back (about to begin): 3 open, 3 of 3 judged ──────────────────────────────\n"
        "caution  beacon is off                                             Captain\n"
        "advisory Documents on board: not confirmed                         Captain\n"
        "warning  hydraulic 1 pressure 1 240 psi, needs 2 800 to 3 200 psi  First officer\n"
        "Flows ──────────────────────────────────────────────────────────────────────────\n"
        "  Before push back  Captain 0 of 2  First officer 0 of 1\n"
        "Recent notices ─────────────────────────────────────────────────────────────────\n"
        "0:01:03 WARNING  Before push back: hydraulic 1 pressure 1 240 psi, needs 2 800\n"
        "                 to 3 200 psi.\n"
        "0:01:03 CAUTION  Before push back: beacon is off.\n"
        "0:01:03 ADVISORY Before push back: Documents on board: not confirmed.\n" + CAUTION
    )


def test_the_next_gate_shows_its_open_items_without_level(pack: Pack, clock: ManualClock) -> None:
    """A gate that is not cued yet shows its open items without a level."""
    device, _ = device_on_memory_link(pack, clock)
    feed(device, FrameSender().datagram(0.0, {"lights.beacon": "off"}), 0.0)
    text = rendered_text(render_live_view(device.session.snapshot(), pack, [], [OPENING]))
    assert "Push back (next): 2 to do, 3 of 3 judged ─" in text
    assert "to do    beacon is off" in text
    assert "caution" not in text


def test_a_lost_item_is_shown_in_the_words_of_the_voice(pack: Pack, clock: ManualClock) -> None:
    """An item that was met and lost is to be checked again once the gate is cued."""
    device, _ = device_on_memory_link(pack, clock)
    sender = FrameSender()
    for second in range(5):
        feed(device, sender.datagram(second), second)
    feed(device, sender.datagram(5, {"lights.beacon": "off"}, push_approved=5.0), 5)
    text = rendered_text(render_live_view(device.session.snapshot(), pack, [], [OPENING]))
    assert "check again beacon is off" in text


def test_only_the_flows_of_the_phase_are_shown(pack: Pack, clock: ManualClock) -> None:
    """A flow of the present phase is shown with its counts, and removed once the phase is over."""
    device, _ = device_on_memory_link(pack, clock)
    sender = FrameSender()
    feed(device, sender.datagram(0), 0)
    text = rendered_text(render_live_view(device.session.snapshot(), pack, [], [OPENING]))
    assert "  Before push back  Captain 1 of 2  First officer 1 of 1\n" in text
    feed(device, sender.datagram(1, {"flight.ground_speed": 3.0}), 1)
    text = rendered_text(render_live_view(device.session.snapshot(), pack, [], [OPENING]))
    assert "Phase: Push back\n" in text
    assert "  none in this phase\n" in text
    assert "about to begin" not in text and "(next)" not in text  # noqa: PT018 - neither gate is ahead


def test_text_in_brackets_is_shown_as_it_is() -> None:
    """Brackets in a sentence are printed and not read as markup."""
    notice = Notice(3.0, Level.CAUTION, "captain", "i", "g", "left [aft] pump :warning: is off.")
    assert rendered_text(notice_line(notice)) == "0:00:03 CAUTION  left [aft] pump :warning: is off."
    console = make_console()
    with console.capture() as captured:
        console.print("left [aft] pump :warning: 3")
    assert captured.get() == "left [aft] pump :warning: 3\n"


def test_only_the_last_notices_are_shown(pack: Pack, clock: ManualClock) -> None:
    """The screen shows only the latest notices."""
    device, _ = device_on_memory_link(pack, clock)
    notices = [Notice(float(n), Level.CAUTION, "captain", "i", "g", f"number {n}.") for n in range(50)]
    text = rendered_text(render_live_view(device.session.snapshot(), pack, notices, [OPENING]))
    assert text.count("number") == MAX_NOTICES_SHOWN
    assert "number 49." in text


def test_more_open_items_than_fit_are_counted(pack: Pack, clock: ManualClock) -> None:
    """Of many open items the first are shown, and one line says how many more there are."""
    device, _ = device_on_memory_link(pack, clock)
    feed(device, FrameSender().datagram(0.0, {"lights.beacon": "off"}), 0.0)
    snapshot = device.session.snapshot()
    gate = snapshot.gates["push"]
    many_open = replace(gate, needs=gate.open_items[:1] * (MAX_OPEN_SHOWN + 4))
    many = replace(snapshot, gates={**snapshot.gates, "push": many_open})
    text = rendered_text(render_live_view(many, pack, [], [OPENING]))
    assert text.count("beacon is off") == MAX_OPEN_SHOWN
    assert "         and 4 more\n" in text


def test_a_doubt_is_shown_apart_from_open_errors(pack: Pack, clock: ManualClock) -> None:
    """What is not verifiable has a heading with its count, and no level; it is not listed as still open."""
    device, _ = device_on_memory_link(pack, clock)
    sender = FrameSender()
    feed(device, sender.datagram(0.0), 0.0)
    device.handle(Request("confirm", "flow.before.documents"))
    for second in range(1, 9):
        values: dict[str, Value] = {"lights.beacon": "no such word"}
        values["flight.ground_speed"] = 3.0 if second >= 7 else 0.0
        calls = {"push_approved": 4.0} if second >= 4 else {}
        feed(device, sender.datagram(second, values, **calls), second)
    text = rendered_text(render_live_view(device.session.snapshot(), pack, [], [OPENING]))
    assert "1 not verifiable ─" in text
    assert "Beacon: " in text
    assert "Still open" not in text
    assert "advisory" not in text
