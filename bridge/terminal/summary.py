"""The summary after a flight: findings with their warning times, and the scripted slips of a demo.

Takes: the journal, and in a demo the scripted slips.  Gives: printed text.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from bridge.common.disclaimer import SHORT_DISCLAIMER
from bridge.common.time_text import format_sim_time
from bridge.runtime.device import Device
from bridge.session.finding_signals import signals_of_finding
from bridge.session.flight_times import flight_time_lines
from bridge.session.gates_passed_over import gates_passed_over
from bridge.session.journal import Journal
from bridge.session.threat_error import management_text
from bridge.session.waiver_text import waived_item, waiver_text
from bridge.terminal.console import LEVEL_STYLES
from rules.judge.events import Finding
from rules.judge.gate_counts import counts_of, gate_text
from rules.packs.model import AEROPLANE, FindingKind, Pack, declared_id, owner_title
from rules.signals.number_format import format_missing_data
from rules.words import count_in_digits, words_of_id

ORDER_TOLERANCE_S = 10.0
"""A slip in the order of two actions has the time of the late one; its finding has the time of the early one."""


def print_findings(console: Console, journal: Journal, pack: Pack, *, disclaimer: bool = True) -> None:
    """Print one line for each finding, what was judged at the gates, and the times of each flight."""
    findings = list(journal.findings.values())
    doubts = sum(finding.is_doubt for finding in findings)
    events = sum(finding.kind is FindingKind.AEROPLANE_EVENT for finding in findings)
    counts = [count_in_digits(len(findings) - doubts - events, "finding")]
    counts += [f"{count_in_digits(events, 'event')} of the aeroplane"] if events else []
    counts += [f"{doubts} not verifiable"] if doubts else []
    nothing = not journal.phases and not findings
    summed = ", ".join([*counts, count_in_digits(len(journal.notices), "notice")])
    console.print("no data received, nothing was judged" if nothing else summed)
    table = Table.grid(padding=(0, 1))
    table.add_column(width=8)
    table.add_column(width=8)
    table.add_column(ratio=1)
    for finding in findings:
        owner = "" if finding.seat == AEROPLANE else f", {owner_title(pack.seats, finding.seat)}"
        level = Text(finding.level.upper(), style=LEVEL_STYLES[finding.level])
        table.add_row(
            format_sim_time(finding.sim_s),
            level,
            _kind_and_sentence(finding, owner),
        )
        table.add_row("", "", Text(lead_text(finding), style="dim"))
    console.print(table)
    judged = [] if nothing else judged_lines(journal, pack)
    for line in (*judged, *missing_lines(journal), *waiver_lines(journal, pack), *flight_time_lines(journal)):
        console.print(line)
    if disclaimer:
        console.print(SHORT_DISCLAIMER, style="dim")


def _kind_and_sentence(finding: Finding, owner: str = "") -> str:
    """Kind of a finding, its owner and its sentence; without the kind where the sentence has its words."""
    kind, sentence = words_of_id(finding.kind), finding.listed_sentence
    if kind in sentence.lower():
        return f"{owner.removeprefix(', ')}: {sentence}" if owner else sentence
    return f"{kind}{owner}: {sentence}"


def was_judged(device: Device) -> bool:
    """Tell whether any session of a device entered a phase."""
    return bool(device.journal.phases) or any(past.was_judged for past in device.past_sessions)


def print_sessions(console: Console, device: Device) -> None:
    """Print the summary of each session of a device, under its name where there were several.

    Of the earliest of many sessions only the number of findings is in memory.
    """
    for past in device.past_sessions:
        console.print(f"\n{past.name}", style="bold")
        if past.journal is None:
            console.print(f"{count_in_digits(past.findings, 'finding')}: see the debrief of this session")
        else:
            print_findings(console, past.journal, device.pack, disclaimer=False)
    if device.past_sessions:
        console.print(f"\n{device.session.name}", style="bold")
    print_findings(console, device.journal, device.pack, disclaimer=False)
    console.print(SHORT_DISCLAIMER, style="dim")


def missing_lines(journal: Journal) -> list[str]:
    """Say for how long data were missing, in all."""
    if not journal.gaps:
        return []
    total_s = sum(gap.missing_s for gap in journal.gaps)
    times = count_in_digits(len(journal.gaps), "gap")
    return [f"{format_missing_data(total_s)}, in {times}: what happened then is not known"]


def judged_lines(journal: Journal, pack: Pack) -> list[str]:
    """Say how much was judged at the gates that were passed, and which gates were passed over.

    Args:
        journal: of the session.
        pack: for the titles of gates.
    """
    titles = {gate.id: gate.title for gate in pack.gates}
    passed = journal.gates_entered
    partly = [event for event in passed if not counts_of(event).fully_judged]
    over = passed_over_lines(journal, pack)
    if not passed:
        return ["no gate was passed", *over]
    if not partly:
        return [f"{count_in_digits(len(passed), 'gate')} passed, all needs judged", *over]
    return [
        f"{count_in_digits(len(passed), 'gate')} passed, {len(partly)} of them judged in part:",
        *(
            f"{format_sim_time(event.sim_s)}  {titles.get(event.gate, event.gate)} at the entry: "
            f"{gate_text(counts_of(event))}"
            for event in partly
        ),
        *over,
    ]


def passed_over_lines(journal: Journal, pack: Pack) -> list[str]:
    """Name the gates that were passed over, whose needs were not judged; nothing if there are none."""
    over = gates_passed_over(pack, journal.phases, journal.gates_entered)
    if not over:
        return []
    named = (f"{one.gate.title} ({format_sim_time(one.sim_s)})" for one in over)
    return [f"{count_in_digits(len(over), 'gate')} passed over, not judged: {', '.join(named)}"]


def waiver_lines(journal: Journal, pack: Pack) -> list[str]:
    """Say which items were waived, why and by whom, and which waivers were undone; nothing without waivers."""
    lines = []
    for event in journal.waivers:
        text = waiver_text(event, waived_item(pack, event.item)[0])
        by = f", by {pack.seats.get(event.by, event.by)}" if event.by else ""
        lines.append(f"{format_sim_time(event.sim_s)}  {text}{by}")
    return lines


def print_slips(console: Console, slips: Sequence[Mapping[str, Any]], journal: Journal, pack: Pack) -> None:
    """Print each scripted slip with its findings."""
    if not slips:
        console.print("\nNo slips were scripted.")
        return
    caught = [findings_of_slip(slip, journal, pack) for slip in slips]
    console.print(f"\n{sum(map(bool, caught))} of {len(slips)} slips caught:", style="bold")
    table = Table.grid(padding=(0, 1))
    table.add_column(width=8)
    table.add_column(ratio=1)
    for slip, findings in zip(slips, caught, strict=True):
        table.add_row(format_sim_time(slip["sim_s"]), Text(str(slip["sentence"]), style="bold"))
        for finding in first_with_matches(findings):
            table.add_row(
                "",
                Text(
                    f"{format_sim_time(finding.sim_s)} {_kind_and_sentence(finding)}",
                    style=LEVEL_STYLES[finding.level],
                ),
            )
            table.add_row("", lead_text(finding))
        if not findings:
            table.add_row("", "not caught")
    console.print(table)


def first_with_matches(findings: Sequence[Finding]) -> list[Finding]:
    """Return the first finding, and those that opened with it on other matches of the same item or watch."""
    return [
        finding
        for finding in findings
        if finding.sim_s == findings[0].sim_s and declared_id(finding.item) == declared_id(findings[0].item)
    ]


def findings_of_slip(slip: Mapping[str, Any], journal: Journal, pack: Pack) -> list[Finding]:
    """Return the findings from the time of the slip on that use one of its signals, earliest first."""
    touched = set(slip["signals"])
    watches = {watch.id: watch for watch in pack.watches}
    return [
        finding
        for finding in journal.findings.values()
        if finding.sim_s >= slip["sim_s"] - ORDER_TOLERANCE_S
        and touched & signals_of_finding(finding, pack, watches)
    ]


def lead_text(finding: Finding) -> str:
    """Describe how early the crew was warned; of a doubt, whether it could be judged later."""
    if finding.is_doubt:
        return management_text(finding)
    if finding.lead_s is None:
        return "warned at once"
    in_time = "waived" if finding.waived else "fixed in time" if finding.corrected else "not fixed in time"
    outcome = "not fixed in time" if finding.carried else in_time
    return f"warned {finding.lead_s:.0f} s before the phase began, {outcome}"
