"""How the link stands, in words and numbers, and what to do about it.

Takes: a rig.  Gives: what `link.html` shows.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from adapters.decoders.base import Reject
from adapters.health import Health
from bridge.reception import Standing
from bridge.rig import Rig

REMEDIES: Mapping[Standing, tuple[str, str]] = {
    Standing.OPENING: ("opening", "The address is being opened. Wait a moment."),
    Standing.WAITING: (
        "waiting",
        (
            "We listen, and nothing has come yet. Start the simulator's sender; look whether it sends to this address "
            "and port, and whether a firewall stands between."
        ),
    ),
    Standing.RECEIVING: ("receiving", "All is well. Nothing need be done."),
    Standing.SILENT: (
        "silent",
        (
            "Data came and stopped. Look whether the simulator still runs, or was paused in a way that stops its sender. "
            "What it showed is unknown until it sends again."
        ),
    ),
    Standing.UNREADABLE: (
        "unreadable",
        (
            "Something arrives, but not one record can be used. Compare the format and the map file with what the "
            "sender is set to; the last refused record stands below."
        ),
    ),
    Standing.BROKEN: (
        "broken",
        (
            "The link could not be opened, or was lost. It is tried again by itself; look whether the other side runs, "
            "or whether another program has the port."
        ),
    ),
}
"""For each standing its word, and what to do about it."""


@dataclass(frozen=True, slots=True)
class Count:
    """One number: `trouble` is set where it should be 0; `means` says what it is."""

    title: str
    number: int
    means: str
    trouble: bool = False


def link(rig: Rig) -> Mapping[str, object]:
    """Standing, remedy, clocks and counters."""
    now_s, health = rig.run.clock(), rig.session.receiver.health
    return {
        "link": rig.reception(),
        "playing": rig.knobs.now() if rig.knobs is not None else None,
        "since_s": now_s - rig.standing_since_s,
        "remedies": {str(standing): remedy for standing, remedy in REMEDIES.items()},
        "counts": counts(health),
        "rejects": tuple((why, number, _parts(health.examples[why])) for why, number in _most(health)),
        "names": names(health),
        "examples": tuple(health.mapped.examples.items()),
        "sim_s": rig.session.core.session.sim_s,
        "heard_s": None if health.last_recv_s is None else now_s - health.last_recv_s,
        "read_s": None if health.last_frame_s is None else now_s - health.last_frame_s,
        "rate": health.rate,
        "paused": health.paused,
        "format": rig.session.receiver.decoder.format,
        "size_kb": health.size / 1000,
    }


def counts(health: Health) -> tuple[Count, ...]:
    """The counters, those of trouble last."""
    order, mapped = health.order, health.mapped
    return (
        Count("Datagrams", health.datagrams, "arrived, whatever was in them"),
        Count("Records", health.records, "in them; one datagram may hold several"),
        Count("Frames", health.frames, "records that were new and went to the judge"),
        Count("Refused", health.rejected, "could not be read", trouble=True),
        Count("Lost", order.lost, "never came, by the sender's own count", trouble=True),
        Count("Dropped", health.dropped, "thrown away here to catch up", trouble=True),
        Count("Out of order", order.reordered, "came late, and were passed over", trouble=True),
        Count("Twice", order.duplicated, "came again", trouble=True),
        Count("Stragglers", order.stragglers, "of a time before a reset", trouble=True),
        Count("Resets", order.resets, "the simulator's clock jumped back", trouble=True),
        Count("Not valid", mapped.invalid, "values that their signal cannot have", trouble=True),
        Count("Unknown words", mapped.unknown_words, "words that their signal does not have", trouble=True),
        Count(
            "Unknown fields", len(mapped.unknown_fields) + mapped.unknown_more, "feed no signal", trouble=True
        ),
    )


def names(health: Health) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """What is wrong with names: a heading, and the names."""
    said = (
        ("Fields that no signal takes", tuple(health.mapped.unknown_fields)),
        ("Mapped, but not sent", health.absent),
        ("Labels that stand more than once", health.ambiguous),
    )
    return tuple((title, found) for title, found in said if found)


def _most(health: Health) -> list[tuple[str, int]]:
    """Reasons of refusals, the most frequent first."""
    return sorted(health.rejects.items(), key=lambda reason: (-reason[1], reason[0]))


def _parts(reject: Reject) -> tuple[str, str, str]:
    return reject.detail, reject.shown, reject.hint
