"""Health of reception on one link: counters, an example of each problem, and a status sentence.

Takes: results of the receiver.  Gives: numbers for the record, and text for the screen.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from adapters.decoders.base import ColumnHeading, Reject
from adapters.mapping.mapper import MappingCounts
from adapters.sequence import SequenceCounts, SequenceTracker
from rules.words import count_in_digits, printable

SILENCE_LIMIT_S = 2.0
"""Seconds without a datagram after which reception is silent."""
_MAX_REJECT_REASONS = 40


@dataclass(slots=True)
class ReceptionHealth:
    """Counters of a receiver since its start.

    Attributes:
        sequence: Lost, duplicated, late and stale records, and resets.
        mapping: Values and fields that could not be used.
        datagrams: Received datagrams with any content.
        byte_count: Bytes of all received datagrams.
        records: Records in the datagrams; one datagram may contain several.
        frames: Records that became frames.
        dropped: Datagrams that the link dropped because its queue was full.
        refused_by_link: Datagrams and connections that the link refused: their sender or topic was not the named one.
        headings: Headings read.
        without_time: Records without a source time, where the layout has one.
        rejects: Refused records by reason.
        examples: The latest refused record for each reason.
        missing_fields: Fields that the map names and the sender does not send.
        ambiguous_labels: Labels that several columns have.
        needs_heading: True where the format has headings.
        last_recv_s: The monotonic clock at the last datagram; None before the first.
        last_frame_s: The monotonic clock at the last frame; None before the first.
        paused: True while the simulation is paused.
        rate: Simulated seconds per second; None until it is known.
    """

    sequence: SequenceCounts
    mapping: MappingCounts
    datagrams: int = 0
    byte_count: int = 0
    records: int = 0
    frames: int = 0
    dropped: int = 0
    refused_by_link: int = 0
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
        """Number of all refused records."""
        return sum(self.rejects.values())

    def count_datagram(self, data: bytes, recv_s: float) -> None:
        """Count one datagram."""
        self.datagrams += 1
        self.byte_count += len(data)
        self.last_recv_s = recv_s

    def count_reject(self, reject: Reject) -> None:
        """Count one refused record."""
        listed = reject.reason in self.rejects or len(self.rejects) < _MAX_REJECT_REASONS
        reason = reject.reason if listed else "other"
        self.rejects[reason] = self.rejects.get(reason, 0) + 1
        self.examples[reason] = replace(
            reject, detail=printable(reject.detail), excerpt=printable(reject.excerpt)
        )

    def count_heading(self, heading: ColumnHeading) -> None:
        """Count one line of column names."""
        self.headings += 1
        self.ambiguous_labels = tuple(map(printable, heading.ambiguous))

    def count_frame(self, recv_s: float, sequence: SequenceTracker, missing_fields: tuple[str, ...]) -> None:
        """Count one frame."""
        self.frames += 1
        self.last_frame_s = recv_s
        self.rate = sequence.rate
        self.missing_fields = missing_fields

    def status_text(self, now_s: float) -> str:
        """Describe the reception in one sentence, the most urgent problem first.

        Args:
            now_s: The monotonic clock in seconds.
        """
        silence = self._silence_text(now_s)
        if silence:
            return silence
        return "; ".join([self.brief_text(now_s), *self._remarks()])

    def brief_text(self, now_s: float) -> str:
        """Describe the same in a few words while frames arrive, without fields and counters."""
        return self._silence_text(now_s) or "receiving" + (", simulation paused" if self.paused else "")

    def _remarks(self) -> list[str]:
        return [part for part in (self._column_problems(), self._nonzero_counts()) if part]

    def _silence_text(self, now_s: float) -> str:
        """Describe silence or unreadable data; '' where frames arrive."""
        if self.last_recv_s is None:
            return "nothing has arrived yet"
        if now_s - self.last_recv_s >= SILENCE_LIMIT_S:
            return f"no data for {now_s - self.last_recv_s:.0f} s"
        if self.last_frame_s is None or now_s - self.last_frame_s >= SILENCE_LIMIT_S:
            reason = max(self.rejects, key=lambda each: self.rejects[each], default="")
            if reason:
                return f"packets received, none can be decoded: {self.examples[reason]}"
            return "packets received, no new state"
        return ""

    def _column_problems(self) -> str:
        """Describe a missing heading, duplicate labels and missing fields."""
        problems = []
        if self.needs_heading and not self.headings:
            problems.append("no column heading received; using the order of the map file")
        if self.ambiguous_labels:
            problems.append(f"duplicate label {', '.join(self.ambiguous_labels[:3])}; bind it by position")
        if self.missing_fields:
            more = f" and {len(self.missing_fields) - 3} more" if len(self.missing_fields) > 3 else ""
            problems.append(f"mapped fields not received: {', '.join(self.missing_fields[:3])}{more}")
        return "; ".join(problems)

    def _nonzero_counts(self) -> str:
        """List the counters that are not 0."""
        numbers = {
            "refused": self.rejected + self.refused_by_link,
            "lost": self.sequence.lost,
            "dropped here": self.dropped,
            "duplicated": self.sequence.duplicated,
            "late": self.sequence.reordered,
        }
        nouns = {
            "stale packet": self.sequence.stale,
            "reset": self.sequence.resets,
            "invalid value": self.mapping.invalid,
            "unknown word": self.mapping.unknown_words,
            "unknown field": len(self.mapping.unknown_fields) + self.mapping.more_unknown_fields,
        }
        texts = [f"{number} {what}" for what, number in numbers.items() if number]
        texts += [count_in_digits(number, noun) for noun, number in nouns.items() if number]
        return ", ".join(texts)

    def as_dict(self) -> dict[str, object]:
        """Give all counters with their examples, for logs and JSON."""
        sequence, mapping = self.sequence, self.mapping
        return {
            "datagrams": self.datagrams, "bytes": self.byte_count, "records": self.records, "frames": self.frames,
            "headings": self.headings, "dropped": self.dropped,
            "refused_by_link": self.refused_by_link, "without_time": self.without_time,
            "lost": sequence.lost, "duplicated": sequence.duplicated, "reordered": sequence.reordered,
            "stale": sequence.stale, "resets": sequence.resets,
            "rejects": dict(self.rejects), "examples": {reason: str(r) for reason, r in self.examples.items()},
            "invalid_values": mapping.invalid, "unknown_words": mapping.unknown_words,
            "invalid_examples": dict(mapping.examples),
            "unknown_fields": len(mapping.unknown_fields) + mapping.more_unknown_fields,
            "unknown_field_names": list(mapping.unknown_fields),
            "missing_fields": list(self.missing_fields), "ambiguous_labels": list(self.ambiguous_labels),
            "paused": self.paused, "rate": self.rate,
        }  # fmt: skip
