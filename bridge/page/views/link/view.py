"""How the link stands, in words and numbers, and what to do about it.

Takes: a rig.  Gives: what `link.html` shows.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from adapters.decoders.base import Reject
from adapters.reception_health import ReceptionHealth
from bridge.runtime.device import Device
from bridge.runtime.link_state import LinkState

REMEDIES: Mapping[LinkState, tuple[str, str]] = {
    LinkState.OPENING: ("opening", "The address is being opened. Wait a moment."),
    LinkState.WAITING: (
        "waiting",
        (
            "We listen, and nothing has come yet. Start the simulator's sender; look whether it sends to this address "
            "and port, and whether a firewall stands between."
        ),
    ),
    LinkState.RECEIVING: ("receiving", "All is well. Nothing need be done."),
    LinkState.SILENT: (
        "silent",
        (
            "Data came and stopped. Look whether the simulator still runs, or was paused in a way that stops its sender. "
            "What it showed is unknown until it sends again."
        ),
    ),
    LinkState.UNREADABLE: (
        "unreadable",
        (
            "Something arrives, but not one record can be used. Compare the format and the map file with what the "
            "sender is set to; the last refused record stands below."
        ),
    ),
    LinkState.BROKEN: (
        "broken",
        (
            "The link could not be opened, or was lost. It is tried again by itself; look whether the other side runs, "
            "or whether another program has the port."
        ),
    ),
}
"""For each standing its word, and what to do about it."""


@dataclass(frozen=True, slots=True)
class LinkCounter:
    """One number: `trouble` is set where it should be 0; `means` says what it is."""

    title: str
    value: int
    meaning: str
    problem: bool = False


def link(device: Device) -> Mapping[str, object]:
    """Standing, remedy, clocks and counters."""
    now_s, health = device.runner.clock(), device.session.receiver.health
    return {
        "link": device.link_report(),
        "playing": device.playback_control.status() if device.playback_control is not None else None,
        "since_s": now_s - device.link_state_since_s,
        "remedies": {str(standing): remedy for standing, remedy in REMEDIES.items()},
        "counts": link_counters(health),
        "rejects": tuple(
            (why, number, _reject_texts(health.examples[why])) for why, number in _by_frequency(health)
        ),
        "names": name_problems(health),
        "examples": tuple(health.mapping.examples.items()),
        "sim_s": device.session.judge.context.sim_s,
        "heard_s": None if health.last_recv_s is None else now_s - health.last_recv_s,
        "read_s": None if health.last_frame_s is None else now_s - health.last_frame_s,
        "rate": health.rate,
        "paused": health.paused,
        "format": device.session.receiver.decoder.format,
        "size_kb": health.byte_count / 1000,
    }


def link_counters(health: ReceptionHealth) -> tuple[LinkCounter, ...]:
    """The counters, those of trouble last."""
    order, mapped = health.sequence, health.mapping
    return (
        LinkCounter("Datagrams", health.datagrams, "arrived, whatever was in them"),
        LinkCounter("Records", health.records, "in them; one datagram may hold several"),
        LinkCounter("Frames", health.frames, "records that were new and went to the judge"),
        LinkCounter("Refused", health.rejected, "could not be read", problem=True),
        LinkCounter("Lost", order.lost, "never came, by the sender's own count", problem=True),
        LinkCounter("Dropped", health.dropped, "thrown away here to catch up", problem=True),
        LinkCounter("Out of order", order.reordered, "came late, and were passed over", problem=True),
        LinkCounter("Twice", order.duplicated, "came again", problem=True),
        LinkCounter("Stragglers", order.stale, "of a time before a reset", problem=True),
        LinkCounter("Resets", order.resets, "the simulator's clock jumped back", problem=True),
        LinkCounter("Not valid", mapped.invalid, "values that their signal cannot have", problem=True),
        LinkCounter(
            "Unknown words", mapped.unknown_words, "words that their signal does not have", problem=True
        ),
        LinkCounter(
            "Unknown fields",
            len(mapped.unknown_fields) + mapped.more_unknown_fields,
            "feed no signal",
            problem=True,
        ),
    )


def name_problems(health: ReceptionHealth) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """What is wrong with names: a heading, and the names."""
    said = (
        ("Fields that no signal takes", tuple(health.mapping.unknown_fields)),
        ("Mapped, but not sent", health.missing_fields),
        ("Labels that stand more than once", health.ambiguous_labels),
    )
    return tuple((title, found) for title, found in said if found)


def _by_frequency(health: ReceptionHealth) -> list[tuple[str, int]]:
    """Reasons of refusals, the most frequent first."""
    return sorted(health.rejects.items(), key=lambda reason: (-reason[1], reason[0]))


def _reject_texts(reject: Reject) -> tuple[str, str, str]:
    return reject.detail, reject.excerpt, reject.hint
