"""The ids under which the monitors know the conditions of a pack.

Takes: a pack.  Gives: one function for each kind of condition, and all conditions of a pack by their ids.
"""

from __future__ import annotations

from rules.language.checked_tree import Condition
from rules.language.traversal import parts_of, required_and_met
from rules.packs.model import Pack


def cue_id(gate: str) -> str:
    """Id of a gate's cue; the space keeps it apart from the ids of items."""
    return f"cue {gate}"


def entry_id(gate: str) -> str:
    """Id of a gate's entry."""
    return f"entry {gate}"


def after_id(item: str) -> str:
    """Id of the `after` of an item: the condition that must be true before the item is done."""
    return f"after {item}"


def required_id(item: str) -> str:
    """Id of an item's condition without the ways to be true in which it asks for nothing, where it has such ways."""
    return f"required {item}"


def applies_id(watch: str) -> str:
    """Id of the condition under which a watch applies."""
    return f"applies {watch}"


def expect_id(watch: str) -> str:
    """Id of the condition that a watch expects."""
    return f"expect {watch}"


def part_ids(name: str, condition: Condition) -> dict[str, Condition]:
    """Map the parts of a condition by their ids, for those that look at them one by one; none where it has one part."""
    parts = [part for part in parts_of(condition) if part != condition]
    return {f"part {number} {name}": part for number, part in enumerate(parts)}


def quiet_id(quiet: str) -> str:
    """Id of the condition of a quiet period."""
    return f"quiet {quiet}"


def callout_id(callout: str) -> str:
    """Id of the condition of a callout."""
    return f"callout {callout}"


def flight_time_id(moment: str) -> str:
    """Id of the condition of a flight time: out, off, on or in."""
    return f"time {moment}"


def trace_begins_id(trace: str) -> str:
    """Id of the condition at which a trace begins."""
    return f"trace begins {trace}"


def trace_ends_id(trace: str) -> str:
    """Id of the condition at which a trace ends."""
    return f"trace ends {trace}"


def trace_mark_id(trace: str, number: int) -> str:
    """Id of a mark's condition; the marks of a trace are numbered from 0."""
    return f"trace mark {number} {trace}"


def as_seen_ids(pack: Pack) -> frozenset[str]:
    """Ids of the conditions that count only what was seen, because no error follows from them: of gates and callouts.

    A gate has to notice when it is entered, also where the call for it may have been made before the flight was joined.
    """
    judged = {name for item in pack.items for name in (item, after_id(item), required_id(item))}
    judged |= {name for watch in pack.watches for name in (applies_id(watch.id), expect_id(watch.id))}
    return frozenset(monitored_conditions(pack).keys() - judged)


def monitored_conditions(pack: Pack) -> dict[str, Condition]:
    """Map each condition of a pack by its id.

    Waived items are left out: `Items` sets their truth.
    """
    found: dict[str, Condition] = {}
    for item in pack.items.values():
        if item.condition is not None and not item.waived:
            found[item.id] = item.condition
            required = required_and_met(item.condition)
            if required != item.condition:
                found[required_id(item.id)] = required
        if item.after is not None:
            found[after_id(item.id)] = item.after
    for gate in pack.gates:
        found |= {cue_id(gate.id): gate.cue, entry_id(gate.id): gate.entry}
        found |= part_ids(entry_id(gate.id), gate.entry)
    for watch in pack.watches:
        found[expect_id(watch.id)] = watch.expect
        if watch.applies is not None:
            found[applies_id(watch.id)] = watch.applies
            found |= part_ids(applies_id(watch.id), watch.applies)
    found |= {callout_id(rule.id): rule.when for rule in pack.callouts}
    found |= {flight_time_id(rule.moment): rule.when for rule in pack.flight_times}
    for trace in pack.traces:
        found |= {trace_begins_id(trace.id): trace.begins, trace_ends_id(trace.id): trace.ends}
        found |= {trace_mark_id(trace.id, n): mark.when for n, mark in enumerate(trace.marks)}
    return found | {quiet_id(quiet.id): quiet.applies for quiet in pack.quiet_periods}
