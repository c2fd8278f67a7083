"""Receiver of one sender: runs decoder, sequence tracker and mapper on each datagram, and counts the results.

Takes: datagrams with their arrival time.  Gives: frames, and `ReceptionHealth`.  No content of a datagram raises.
"""

from __future__ import annotations

from dataclasses import replace
from time import thread_time

from adapters.decoders.base import (
    DECODE_ERRORS,
    MAX_RECORDS,
    ColumnHeading,
    DecodedRecord,
    Decoder,
    RawValue,
    Reject,
    UnreadableError,
    one_line,
    printable,
)
from adapters.decoders.labelled_csv import LabelledCsvDecoder
from adapters.mapping.layout import Layout
from adapters.mapping.mapper import Mapper
from adapters.reception_health import ReceptionHealth
from adapters.sender_choice import SenderChoice
from adapters.sequence import FrameStatus, SequenceTracker
from rules.signals.model import Frame

MAX_TIME_S = 1e10
"""The largest time of the simulator's clock, in seconds: 317 years, more than Unix time in seconds and less than in ms."""
MAX_PACKET_S = 0.05
"""Processor time for the records of one datagram, in seconds; those that remain then are refused."""
ANOTHER_SENDER = "another sender on this port"
SMALLER = "send fewer records in a packet"
ONE_SENDER = "let one program send to this port, or name the right computer with --peer"
_UNITS = (("ms", 1e-3), ("us", 1e-6), ("ns", 1e-9))
_UNIX_S = (1e9, MAX_TIME_S)


class Receiver:
    """Turns the datagrams of one sender into frames."""

    def __init__(self, decoder: Decoder, mapper: Mapper, sequence: SequenceTracker | None = None) -> None:
        """Join the three parts.

        Args:
            decoder: Reads the bytes.
            mapper: Converts fields to signals.
            sequence: Classifies records as new or not; by default for 32-bit numbers and a clock without wrap.
        """
        self.decoder = decoder
        self.mapper = mapper
        self.sequence = sequence or SequenceTracker()
        self.health = ReceptionHealth(self.sequence.counts, mapper.counts)
        self.health.needs_heading = isinstance(decoder, LabelledCsvDecoder)
        self._senders = SenderChoice()
        self._dropped = 0

    def receive(self, data: bytes, recv_s: float, dropped: int = 0, sender: str = "") -> list[Frame]:
        """Read one datagram.

        Args:
            data: Any bytes.
            recv_s: The monotonic clock at its arrival, in seconds.
            dropped: Datagrams that our own queue dropped right before it.
            sender: Who sent it; '' where the link does not tell senders apart.

        Returns:
            The frames in it, in order; empty where nothing is new or readable, or another sender is read.
        """
        health = self.health
        if not self._senders.is_read(sender, recv_s):
            health.count_reject(Reject(ANOTHER_SENDER, self._senders.refusal(sender), hint=ONE_SENDER))
            return []
        self._dropped += dropped  # those of a sender that is not read are not missing
        health.count_datagram(data, recv_s)
        refused = health.rejected
        frames: list[Frame] = []
        records = self.decoder.split(data) if data else (data,)
        if len(records) > MAX_RECORDS:
            health.count_reject(
                Reject("too many records", f"{len(records)}, at most {MAX_RECORDS}", printable(data))
            )
            records = ()
        began_s = thread_time() if len(records) > 1 else 0.0
        for number, record in enumerate(records):
            if number and thread_time() - began_s > MAX_PACKET_S:
                read = (
                    f"{number} of {len(records)} records read in {MAX_PACKET_S * 1000:.0f} ms, the others not"
                )
                health.count_reject(Reject("packet takes too long", read, printable(record), SMALLER))
                break
            health.records += 1
            decoded = self.decoder.decode(record)
            if isinstance(decoded, DecodedRecord):
                frame = self._frame_or_reject(decoded, record, recv_s)
                if frame is not None:
                    frames.append(frame)
            elif isinstance(decoded, ColumnHeading):
                health.count_heading(decoded)
                self.sequence.expect_reset()
            else:
                health.count_reject(decoded)
        health.paused = health.paused or self.sequence.paused(recv_s)
        if health.rejected == refused:
            self._senders.note_read(sender, recv_s, understood=any(frame.carried for frame in frames))
        return frames

    def mark_all_changed(self) -> None:
        """Put every signal into the next frame."""
        self.mapper.mark_all_changed()

    def _frame_or_reject(self, decoded: DecodedRecord, record: bytes, recv_s: float) -> Frame | None:
        """Make the frame of a record; refuse a record whose fields the mapper cannot convert."""
        try:
            return self._frame(decoded, recv_s)
        except UnreadableError as error:
            self.health.count_reject(Reject(error.reason, error.detail, printable(record), error.hint))
            return None
        except DECODE_ERRORS as error:
            self.health.count_reject(Reject("unusable field values", one_line(error), printable(record)))
            self.mapper.mark_all_changed()
            return None

    def _frame(self, decoded: DecodedRecord, recv_s: float) -> Frame | None:
        """Make the frame of a record; None where it is not new."""
        layout = self.mapper.layout_for(decoded.names)
        values = decoded.values
        if len(values) != len(layout.names):
            raise ValueError(f"{len(values)} values for {len(layout.names)} names")
        time_s = self._time_s(layout, values[layout.time] if layout.time >= 0 else None)
        number = _sequence_number(values[layout.number]) if layout.number >= 0 else None
        status, sim_s, epoch, missing_from_s, missing = self.sequence.classify(
            number, time_s, recv_s, self._dropped
        )
        self.health.paused = bool(layout.paused >= 0 and values[layout.paused] in (1, "yes", "on", "true"))
        if status is FrameStatus.RESET:
            self.mapper.reset()
        elif status is not FrameStatus.NEW:
            return None
        self._dropped = 0
        self.health.count_frame(recv_s, self.sequence, layout.missing)
        frame = self.mapper.build_frame(decoded, layout, sim_s, recv_s, epoch)
        if missing_from_s is None:
            return frame
        return replace(frame, missing_from_s=missing_from_s, missing_records=missing)

    def _time_s(self, layout: Layout, raw: RawValue) -> float | None:
        """Convert the sender's time to seconds; None where it is not a number."""
        if isinstance(raw, float | int) and not isinstance(raw, bool):
            time_s = float(raw) * self.mapper.plan.time_scale
            if not abs(time_s) <= MAX_TIME_S:
                raise UnreadableError("not a time in seconds", f"{raw:.6g}", _unit_hint(time_s))
            return time_s
        self.health.without_time += layout.time >= 0
        return None


def _unit_hint(time_s: float) -> str:
    """Name the unit in which a clock that is too large would be Unix time; '' if there is none."""
    for unit, scale in _UNITS:
        if _UNIX_S[0] <= time_s * scale < _UNIX_S[1]:
            return f"looks like Unix time in {unit}: give the unit in a map file, time: {{from: NAME, unit: {unit}}}"
    return ""


def _sequence_number(raw: RawValue) -> int | None:
    """Read a sequence number; None where the value is not a whole number from 0."""
    if type(raw) is int:
        return raw if raw >= 0 else None
    return int(raw) if isinstance(raw, float) and raw.is_integer() and raw >= 0 else None
