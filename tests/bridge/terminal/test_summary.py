"""Tests of bridge.terminal.summary: the findings of each slip, and warning times."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest

from bridge.runtime.device import JOURNALS_IN_MEMORY, Device
from bridge.session.journal import Journal
from bridge.session.requests import Request
from bridge.terminal.summary import (
    ORDER_TOLERANCE_S,
    findings_of_slip,
    first_with_matches,
    lead_text,
    missing_lines,
    print_findings,
    print_sessions,
    print_slips,
    was_judged,
)
from rules.judge.events import DataMissing, Finding, PhaseEntered
from rules.packs.model import FindingKind, Level, Pack
from tests.bridge.builders import FrameSender, device_on_memory_link, feed, printed_text, text_console
from tests.contract.waiting import ManualClock


def finding(other: Mapping[str, Any] | None = None) -> Finding:
    """Make a finding with these fields."""
    fields: dict[str, Any] = {
        "number": 1, "kind": FindingKind.OMITTED, "item": "flow.before.beacon", "label": "Beacon", "gate": "push",
        "phase": "stand", "seat": "captain", "level": Level.CAUTION, "sim_s": 30.0, "actual": "off", "wanted": "on",
        "sentence": "beacon is off",
    }  # fmt: skip
    return Finding(**fields | dict(other or {}))


def test_waivers_are_in_the_summary(pack: Pack, clock: ManualClock) -> None:
    """The summary has a line for each waiver and each undo, with time, reason and author; none without waivers."""
    device, _ = device_on_memory_link(pack, clock)
    feed(device, FrameSender().datagram(65.0), 0)
    console = text_console()
    print_findings(console, device.journal, pack)
    assert "waived" not in printed_text(console)
    device.handle(Request("waive", "flow.before.beacon", "captain", "lamp failed"))
    device.handle(Request("undo_waiver", "flow.before.beacon", "instructor", "lamp replaced"))
    print_findings(console, device.journal, pack)
    assert "0:01:05  Beacon waived: lamp failed, by Captain" in printed_text(console)
    assert "0:01:05  Beacon no longer waived: lamp replaced, by instructor" in printed_text(console)


def slip(sim_s: float, *signals: str) -> dict[str, Any]:
    """Make a slip at this time with these signals."""
    return {
        "id": "x",
        "sim_s": sim_s,
        "sentence": "The captain forgets the beacon.",
        "signals": list(signals),
    }


def journal(*findings: Finding) -> Journal:
    """Make a journal with these findings, of a session with data."""
    return Journal({each.number: each for each in findings}, phases=[PhaseEntered(0.0, "stand", "")])


@pytest.mark.parametrize(
    ("sim_s", "signal", "found"),
    [
        (20.0, "lights.beacon", True),
        (30.0 + ORDER_TOLERANCE_S, "lights.beacon", True),
        (30.1 + ORDER_TOLERANCE_S, "lights.beacon", False),
        (20.0, "lights.strobe", False),
    ],
)
def test_a_finding_belongs_to_a_slip_with_its_signal(
    pack: Pack, sim_s: float, signal: str, found: bool
) -> None:
    """A finding belongs to a slip with a signal of its item, not long before the slip."""
    assert bool(findings_of_slip(slip(sim_s, signal), journal(finding()), pack)) is found


def test_a_finding_of_an_unknown_item_belongs_to_no_slip(pack: Pack) -> None:
    """A finding whose item is not in the pack is ignored."""
    assert findings_of_slip(slip(0.0, "lights.beacon"), journal(finding({"item": "flow.gone.x"})), pack) == []


@pytest.mark.parametrize(
    ("other", "expected"),
    [
        ({}, "warned at once"),
        ({"lead_s": 16.6, "carried": True}, "warned 17 s before the phase began, not fixed in time"),
        ({"lead_s": 42.0, "closed_s": 40.0}, "warned 42 s before the phase began, not fixed in time"),
        (
            {"lead_s": 42.0, "closed_s": 40.0, "corrected": True},
            "warned 42 s before the phase began, fixed in time",
        ),
        ({"lead_s": 42.0, "closed_s": 40.0, "waived": True}, "warned 42 s before the phase began, waived"),
    ],
)
def test_the_warning_time_has_a_text(other: dict[str, Any], expected: str) -> None:
    """The text has the warning time, and says if the finding was fixed in time."""
    assert lead_text(finding(other)) == expected


def test_findings_are_printed(pack: Pack) -> None:
    """Each finding has time, level, kind, seat and sentence; one finding is counted in the singular."""
    console = text_console()
    print_findings(console, journal(finding({"lead_s": 12.0, "carried": True})), pack)
    assert printed_text(console) == (
        "1 finding, 0 notices\n"
        "0:00:30  CAUTION  omitted, Captain: beacon is off\n"
        "                  warned 12 s before the phase began, not fixed in time\n"
        "no gate was passed\n"
        "For flight simulation only. Operator's procedures, approved manual, local rules\n"
        "and instructor come first."
    )


@pytest.mark.parametrize(
    ("sentence", "printed"),
    [
        ("fuel to engine 2 too early: N2 22 %", "Captain: fuel to engine 2 too early: N2 22 %"),
        ("fuel to engine 2: N2 22 %", "too early, Captain: fuel to engine 2: N2 22 %"),
    ],
)
def test_a_kind_that_the_sentence_has_is_not_printed_twice(pack: Pack, sentence: str, printed: str) -> None:
    """A sentence that says itself what came too early stands alone."""
    console = text_console()
    print_findings(console, journal(finding({"kind": FindingKind.TOO_EARLY, "own_sentence": sentence})), pack)
    assert printed in printed_text(console)
    assert ("too early, Captain" in printed_text(console)) is ("too early" not in sentence)


def test_what_is_not_verifiable_is_counted_apart(pack: Pack) -> None:
    """A doubt is in no number of findings; without one it is not mentioned."""
    doubt = finding({"number": 2, "kind": FindingKind.NOT_VERIFIABLE})
    for found, expected in (
        ((finding(), doubt), "1 finding, 1 not verifiable, 0 notices"),
        ((finding(),), "1 finding, 0 notices"),
    ):
        console = text_console()
        print_findings(console, journal(*found), pack)
        assert printed_text(console).splitlines()[0].strip() == expected


def test_events_of_the_aeroplane_are_counted_apart(pack: Pack) -> None:
    """A fire bell is in no number of findings, and is nobody's."""
    event = finding({"number": 2, "kind": FindingKind.AEROPLANE_EVENT, "seat": "aeroplane"})
    console = text_console()
    print_findings(console, journal(finding(), event), pack)
    lines = printed_text(console).splitlines()
    assert lines[0].strip() == "1 finding, 1 event of the aeroplane, 0 notices"
    assert any("aeroplane event: " in line for line in lines)


def test_slips_are_printed(pack: Pack) -> None:
    """A slip is printed with its finding, or as not caught."""
    console = text_console()
    slips = [slip(25.0, "lights.beacon"), slip(26.0, "lights.strobe")]
    print_slips(console, slips, journal(finding()), pack)
    assert printed_text(console) == (
        "\n1 of 2 slips caught:\n"
        "0:00:25  The captain forgets the beacon.\n"
        "         0:00:30 omitted: beacon is off\n"
        "         warned at once\n"
        "0:00:26  The captain forgets the beacon.\n"
        "         not caught"
    )


def test_the_matches_of_one_rule_belong_together() -> None:
    """A slip on both sides has the finding of each; one of another item or of a later time is not added."""
    both = [
        finding({"number": n, "item": f"flow.before.heat.{side}"}) for n, side in ((1, "left"), (2, "right"))
    ]
    other = finding({"number": 3, "item": "flow.before.pressure"})
    later = finding({"number": 4, "item": "flow.before.heat.left", "sim_s": 31.0})
    assert [each.number for each in first_with_matches([*both, other, later])] == [1, 2]
    assert first_with_matches([]) == []


def test_a_flight_without_slips_has_its_own_text(pack: Pack) -> None:
    """Without slips the summary says so instead of `0 of 0`."""
    console = text_console()
    print_slips(console, [], journal(), pack)
    assert printed_text(console) == "\nNo slips were scripted."


def test_the_warning_time_ends_at_the_gate_entry(pack: Pack, clock: ManualClock) -> None:
    """The warning time lasts from the finding to the entry of its gate."""
    device: Device = device_on_memory_link(pack, clock)[0]
    sender = FrameSender()
    for second in range(20):
        feed(device, sender.datagram(second, {"lights.beacon": "off"}, push_approved=1.0), second)
    feed(
        device,
        sender.datagram(20, {"lights.beacon": "off", "flight.ground_speed": 5.0}, push_approved=1.0),
        20,
    )
    assert lead_text(device.journal.findings[1]) == (
        f"warned {20 - device.journal.findings[1].sim_s:.0f} s before the phase began, not fixed in time"
    )


def test_each_session_of_a_watch_is_printed(pack: Pack, clock: ManualClock) -> None:
    """A session that is over has its findings in the summary too, under its name; one without data says so."""
    device, _ = device_on_memory_link(pack, clock)
    feed(device, FrameSender().datagram(65.0), 0)
    device.journal.findings[1] = finding()
    device.handle(Request("start_session", "Second"))
    console = text_console()
    print_sessions(console, device)
    printed = printed_text(console)
    assert [line for line in printed.splitlines() if line in ("Session 1", "Second")] == [
        "Session 1",
        "Second",
    ]
    first, second = printed.split("Second")
    assert "1 finding, " in first
    assert "beacon is off" in first
    assert "no data received" not in first
    assert "no data received, nothing was judged" in second
    assert printed.count("For flight simulation only") == 1


def test_many_sessions_do_not_stay_in_memory(pack: Pack, clock: ManualClock) -> None:
    """Of the earliest of many sessions the number of findings stays, and the summary says where to find them."""
    device, _ = device_on_memory_link(pack, clock)
    feed(device, FrameSender().datagram(65.0), 0)
    device.journal.findings[1] = finding()
    for number in range(JOURNALS_IN_MEMORY + 5):
        device.handle(Request("start_session", f"Next {number}"))
    assert sum(past.journal is not None for past in device.past_sessions) == JOURNALS_IN_MEMORY
    assert was_judged(device)
    console = text_console()
    print_sessions(console, device)
    assert "Session 1\n1 finding: see the debrief of this session\n" in printed_text(console)


def test_doubts_name_their_items(pack: Pack) -> None:
    """Two doubts with one reason differ by their items, and are not called corrected in time."""
    doubts = [
        finding(
            {
                "number": n,
                "label": label,
                "kind": FindingKind.NOT_VERIFIABLE,
                "sentence": "0.6 s of data missing",
                "lead_s": 60.0,
            }
        )
        for n, label in enumerate(("Stored cautions", "Beacon"), 1)
    ]
    console = text_console()
    print_findings(console, journal(*doubts), pack)
    printed = " ".join(printed_text(console).split())
    for label in ("Stored cautions", "Beacon"):
        assert f"not verifiable, Captain: {label}: 0.6 s of data missing" in printed
    assert printed.count("could not be judged") == 2
    assert "in time" not in printed


def test_the_total_of_missing_data_is_printed(pack: Pack) -> None:
    """All gaps together; without one there is no such line."""
    assert missing_lines(journal()) == []
    with_gaps = journal()
    for to_s, from_s in ((9.0, 7.5), (70.0, 60.0)):
        with_gaps(DataMissing(to_s, from_s))
    assert missing_lines(with_gaps) == ["11.5 s of data missing, in 2 gaps: what happened then is not known"]
    console = text_console()
    print_findings(console, with_gaps, pack)
    assert "11.5 s of data missing" in printed_text(console)
