"""Numbers that a long run measures of a watch, for its verdict.

Takes: nothing.  Gives: `WatchSample`, `FlightMeasurements`, `FloodMeasurements`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import ceil


@dataclass(frozen=True, slots=True)
class WatchSample:
    """One measurement of a running watch.

    Attributes:
        wall_s: Seconds since the start of the run.
        flown_s: Simulated seconds that were sent until then.
        memory_mb: Resident memory, in units of 1 000 000 bytes.
        open_files: Open file descriptors.
        threads: Threads.
        data_files: Files of the data folder.
        data_mb: Their bytes, in units of 1 000 000.
        recordings_mb: Bytes of the recordings among them.
        frames: Frames that were judged until then.
        answer_s: Seconds until the control port answered a request.
        dropped: Datagrams that the watch dropped until then, or the system before it.
        refused: Records that the watch refused until then.
        processor_s: Processor time of the watch until then.
    """

    wall_s: float
    flown_s: float = 0.0
    memory_mb: float = 0.0
    open_files: int = 0
    threads: int = 0
    data_files: int = 0
    data_mb: float = 0.0
    recordings_mb: float = 0.0
    frames: int = 0
    answer_s: float = 0.0
    dropped: int = 0
    refused: int = 0
    processor_s: float = 0.0


@dataclass
class WatchEnd:
    """How a watch ended: its exit code, what it wrote to standard error, and files that wait in its spool."""

    exit_code: int = 0
    errors: str = ""
    spooled: int = 0


@dataclass
class FlightMeasurements:
    """A run of flights.

    Attributes:
        samples: In order of time.
        answers_s: Delays of all answers of the control port.
        delays_s: Seconds from sending a state to each line that the watch printed for it.
        datagrams: Datagrams that were sent, and those that the watch counted.
        lost: Records that never arrived by the sender's numbering, and the datagrams that the network faults took away.
        findings: Findings that the watch printed, and those in its store.
        notices: Notices that the watch printed, and those in its store.
        lines: Notices that the output sent and that arrived.
        rejudged: Recordings by name; True where judging it again gives the same.
        recordings_limit_mb: The limit that was given.
        flights: Flights that were sent.
        stuck: Flights that did not end.
        behind: How often the watch reported that it was behind.
    """

    samples: list[WatchSample] = field(default_factory=list)
    answers_s: list[float] = field(default_factory=list)
    delays_s: list[float] = field(default_factory=list)
    datagrams: tuple[int, int] = (0, 0)
    lost: tuple[int, int] = (0, 0)
    findings: tuple[int, int] = (0, 0)
    notices: tuple[int, int] = (0, 0)
    lines: int = 0
    rejudged: Mapping[str, bool] = field(default_factory=dict)
    recordings_limit_mb: float = 0.0
    flights: int = 0
    stuck: int = 0
    behind: int = 0
    problems: list[str] = field(default_factory=list)
    end: WatchEnd = field(default_factory=WatchEnd)


@dataclass
class FloodMeasurements:
    """A run of hostile packets beside a good sender.

    Attributes:
        samples: In order of time.
        answers_s: Delays of all answers of the control port.
        delays_s: Seconds from sending a good state to each line that the watch printed for it.
        hostile: Hostile packets that were sent.
        took_s: Seconds in which they were sent.
        good: Good frames that were sent, and those that were judged.
        system_dropped: Datagrams that the system dropped because the buffer of the socket was full.
        dropped: Datagrams that the watch dropped because too many waited.
        refusals: Refused records by reason.
        resets: Restarts of the judging.
        false_words: How often the page said that all is well although something was refused.
    """

    samples: list[WatchSample] = field(default_factory=list)
    answers_s: list[float] = field(default_factory=list)
    delays_s: list[float] = field(default_factory=list)
    hostile: int = 0
    took_s: float = 0.0
    good: tuple[int, int] = (0, 0)
    system_dropped: int = 0
    dropped: int = 0
    refusals: Mapping[str, int] = field(default_factory=dict)
    resets: int = 0
    false_words: int = 0
    end: WatchEnd = field(default_factory=WatchEnd)


def percentile(values: Sequence[float], share: float) -> float:
    """Give the value that this share of all values does not exceed; 0 for no values."""
    ordered = sorted(values)
    return ordered[max(0, ceil(share * len(ordered)) - 1)] if ordered else 0.0
