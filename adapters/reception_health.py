"""Health of one link's reception: counters, an example of each trouble, and one plain sentence.

Takes: what the receiver sees.  Gives: numbers for the record, words for the screen.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from adapters.decoders.base import ColumnHeading, Reject
from adapters.mapping.mapper import MappingCounts
from adapters.sequence import SequenceCounts, SequenceTracker

SILENCE_LIMIT_S = 2.0
"""Seconds without a datagram after which a link is called silent."""
_MAX_REJECT_REASONS = 40


@dataclass(slots=True)
class ReceptionHealth:
    """Counters since the receiver was made.

    Attributes:
        datagrams: Arrived, whatever was in them.
        size: Bytes of all of them.
        records: Records in them; one datagram may hold several.
        frames: Records that became frames.
        dropped: Datagrams that the link threw away to catch up, as it told.
        headings: Headings read.
        rejects: Refused records by reason.
        examples: One refused record for each reason, the latest.
        order: Lost, duplicated, late, stragglers, resets.
        mapped: Values and fields that could not be used.
        absent: Fields that the map names and the sender does not send.
        ambiguous: Labels that more than one column bears.
        untimed: Records without a source time although others had one.
    """

    sequence: SequenceCounts
    mapping: MappingCounts
    datagrams: int = 0
    byte_count: int = 0
    records: int = 0
    frames: int = 0
    dropped: int = 0
    headings: int = 0
    without_time: int = 0
    rejects: dict[str, int] = field(default_factory=dict)
    examples: dict[str, Reject] = field(default_factory=dict)
    missing_fields: tuple[str, ...] = ()
    ambiguous_labels: tuple[str, ...] = ()
    needs_heading: bool = False
    last_recv_s: float | None = None
    last_frame_s: float | None = None
    paused: bool = False
    rate: float | None = None

    @property
    def rejected(self) -> int:
        """All refused records."""
        return sum(self.rejects.values())

    def count_datagram(self, data: bytes, recv_s: float) -> None:
        """Count one datagram."""
        self.datagrams += 1
        self.byte_count += len(data)
        self.last_recv_s = recv_s

    def count_reject(self, reject: Reject) -> None:
        """Count one refused record."""
        why = (
            reject.reason
            if reject.reason in self.rejects or len(self.rejects) < _MAX_REJECT_REASONS
            else "other"
        )
        self.rejects[why] = self.rejects.get(why, 0) + 1
        self.examples[why] = reject

    def count_heading(self, heading: ColumnHeading) -> None:
        """Note a heading."""
        self.headings += 1
        self.ambiguous_labels = heading.ambiguous

    def count_frame(self, recv_s: float, sequence: SequenceTracker, missing_fields: tuple[str, ...]) -> None:
        """Count one frame."""
        self.frames += 1
        self.last_frame_s = recv_s
        self.rate = sequence.rate
        self.missing_fields = missing_fields

    def status_text(self, now_s: float) -> str:
        """How reception goes, the most urgent first.

        Args:
            now_s: The monotonic clock.
        """
        said = self._silence_text(now_s)
        if said:
            return said
        parts = ["receiving" + (", simulation paused" if self.paused else "")]
        parts += [part for part in (self._column_problems(), self._nonzero_counts()) if part]
        return "; ".join(parts)

    def _silence_text(self, now_s: float) -> str:
        """Nothing, or nothing that can be read."""
        if self.last_recv_s is None:
            return "nothing has arrived yet"
        if now_s - self.last_recv_s >= SILENCE_LIMIT_S:
            return f"no data for {now_s - self.last_recv_s:.0f} s"
        if self.last_frame_s is None or now_s - self.last_frame_s >= SILENCE_LIMIT_S:
            reason = max(self.rejects, key=lambda why: self.rejects[why], default="")
            if reason:
                return f"datagrams arrive but none can be read: {self.examples[reason]}"
            return "datagrams arrive but carry no new state"
        return ""

    def _column_problems(self) -> str:
        """What is wrong with names."""
        said = []
        if self.needs_heading and not self.headings:
            said.append("no labels seen yet; using the configured order")
        if self.ambiguous_labels:
            said.append(
                f"label {', '.join(self.ambiguous_labels[:3])} stands more than once; bind it by position"
            )
        if self.missing_fields:
            more = f" and {len(self.missing_fields) - 3} more" if len(self.missing_fields) > 3 else ""
            said.append(f"mapped but not sent: {', '.join(self.missing_fields[:3])}{more}")
        return "; ".join(said)

    def _nonzero_counts(self) -> str:
        """Counters that are not 0."""
        numbers = {
            "refused": self.rejected,
            "lost": self.sequence.lost,
            "dropped to catch up": self.dropped,
            "duplicated": self.sequence.duplicated,
            "late": self.sequence.reordered,
            "straggler(s)": self.sequence.stale,
            "reset(s)": self.sequence.resets,
            "value(s) not valid": self.mapping.invalid,
            "word(s) not known": self.mapping.unknown_words,
            "field(s) not known": len(self.mapping.unknown_fields) + self.mapping.more_unknown_fields,
        }
        told = [(number, what) for what, number in numbers.items() if number]
        return ", ".join(
            f"{number} {what.replace('(s)', '' if number == 1 else 's')}" for number, what in told
        )

    def as_dict(self) -> dict[str, object]:
        """All counters with their examples, for logs and JSON."""
        order, mapped = self.sequence, self.mapping
        return {
            "datagrams": self.datagrams, "bytes": self.byte_count, "records": self.records, "frames": self.frames,
            "headings": self.headings, "dropped": self.dropped, "untimed": self.without_time,
            "lost": order.lost, "duplicated": order.duplicated, "reordered": order.reordered,
            "stragglers": order.stale, "resets": order.resets,
            "rejects": dict(self.rejects), "examples": {why: str(r) for why, r in self.examples.items()},
            "invalid_values": mapped.invalid, "unknown_words": mapped.unknown_words,
            "invalid_examples": dict(mapped.examples),
            "unknown_fields": len(mapped.unknown_fields) + mapped.more_unknown_fields,
            "unknown_field_names": list(mapped.unknown_fields),
            "not_sent": list(self.missing_fields), "ambiguous": list(self.ambiguous_labels),
            "paused": self.paused, "rate": self.rate,
        }  # fmt: skip
