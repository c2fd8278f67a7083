"""Shows the state of the link with a remedy, its clocks and its counters.

Takes: a device.  Gives: the values of the template.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from adapters.decoders.base import Reject
from adapters.link_report import LinkState
from adapters.reception_health import ReceptionHealth
from bridge.page.panel import link_view
from bridge.runtime.device import Device

REMEDIES: Mapping[LinkState, tuple[str, str]] = {
    LinkState.OPENING: ("opening", "The address is being opened. Wait a moment."),
    LinkState.WAITING: (
        "waiting",
        (
            "Listening; no data has arrived yet. Start the simulator's sender; check that it sends to this address "
            "and port, and that no firewall blocks it."
        ),
    ),
    LinkState.RECEIVING: ("receiving", "Everything works. No action is needed."),
    LinkState.BEHIND: (
        "behind",
        (
            "Data arrives faster than this computer judges it. Nothing is lost while it waits, but what is shown is old. "
            "Close other programs, or let the simulator send fewer records a second."
        ),
    ),
    LinkState.SILENT: (
        "silent",
        (
            "Data arrived and then stopped. Check that the simulator still runs and that no pause has stopped its sender. "
            "All signals are unknown until it sends again."
        ),
    ),
    LinkState.UNREADABLE: (
        "unreadable",
        (
            "Data arrives, but no record can be used. Compare the format and the map file with the sender's settings; "
            "the last refused record is shown below."
        ),
    ),
    LinkState.BROKEN: (
        "broken",
        (
            "The link could not be opened, or was lost. It is opened again automatically; check that the other side runs, "
            "and that no other program uses the port."
        ),
    ),
}
"""The word for each state of the link, and the remedy."""
NOT_ALL_USED = "Data arrives and is judged, but not all of it: see what was refused, dropped or lost below."


@dataclass(frozen=True, slots=True)
class LinkCounter:
    """One counter; `problem` is set if it should be 0."""

    title: str
    value: int
    meaning: str
    problem: bool = False


def link(device: Device) -> Mapping[str, object]:
    """Return state, remedy, clocks, counters and problems of the link."""
    now_s, health = device.source.clock(), device.source.health
    return {
        "link_report": link_view(device),
        "playback": device.playback_control.status() if device.playback_control is not None else None,
        "state_age_s": now_s - device.link_state_since_s,
        "remedies": {str(state): remedy for state, remedy in _remedies(health).items()},
        "counters": link_counters(health),
        "rejects": tuple(
            (why, count, _reject_texts(health.examples[why])) for why, count in _by_frequency(health)
        ),
        "name_problems": name_problems(health),
        "examples": tuple(health.mapping.examples.items()),
        "sim_s": device.session.current_snapshot().sim_s,
        "datagram_age_s": None if health.last_recv_s is None else now_s - health.last_recv_s,
        "frame_age_s": None if health.last_frame_s is None else now_s - health.last_frame_s,
        "rate": health.rate,
        "paused": health.paused,
        "format": device.source.format,
        "size_kb": health.byte_count / 1000,
    }


def _remedies(health: ReceptionHealth) -> Mapping[LinkState, tuple[str, str]]:
    """Return the word and remedy of each state; not all is well where data that arrived, or should have, was not used."""
    if health.rejected or health.dropped or health.sequence.lost:
        return {**REMEDIES, LinkState.RECEIVING: (REMEDIES[LinkState.RECEIVING][0], NOT_ALL_USED)}
    return REMEDIES


def link_counters(health: ReceptionHealth) -> tuple[LinkCounter, ...]:
    """Return the counters, those of problems last."""
    order, mapped = health.sequence, health.mapping
    return (
        LinkCounter("Datagrams", health.datagrams, "arrived, with any content"),
        LinkCounter("Records", health.records, "contained in them; one datagram may contain several"),
        LinkCounter("Frames", health.frames, "new records, which were judged"),
        LinkCounter("Refused", health.rejected, "could not be read", problem=True),
        LinkCounter("Lost", order.lost, "never arrived, by the sender's own numbering", problem=True),
        LinkCounter("Dropped", health.dropped, "discarded here, because too many waited", problem=True),
        LinkCounter("Out of order", order.reordered, "arrived late, and were skipped", problem=True),
        LinkCounter("Duplicates", order.duplicated, "arrived again", problem=True),
        LinkCounter("Stale packets", order.stale, "from before the last reset", problem=True),
        LinkCounter("Resets", order.resets, "the simulator's clock jumped back", problem=True),
        LinkCounter("Invalid", mapped.invalid, "values out of the range of their signal", problem=True),
        LinkCounter(
            "Unknown words", mapped.unknown_words, "words that their signal does not define", problem=True
        ),
        LinkCounter(
            "Unknown fields",
            len(mapped.unknown_fields) + mapped.more_unknown_fields,
            "are mapped to no signal",
            problem=True,
        ),
    )


def name_problems(health: ReceptionHealth) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Return the problems with names: a heading, and the names."""
    problems = (
        ("Fields that are mapped to no signal", tuple(health.mapping.unknown_fields)),
        ("Mapped, but not sent", health.missing_fields),
        ("Labels that occur more than once", health.ambiguous_labels),
    )
    return tuple((title, found) for title, found in problems if found)


def _by_frequency(health: ReceptionHealth) -> list[tuple[str, int]]:
    """Return the reasons for refusals with their counts, the most frequent first."""
    return sorted(health.rejects.items(), key=lambda reason: (-reason[1], reason[0]))


def _reject_texts(reject: Reject) -> tuple[str, str, str]:
    return reject.detail, reject.excerpt, reject.hint
