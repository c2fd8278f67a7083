"""The receiver of one link: decoder, order and map in a row, with the counters of all three.

Takes: datagrams with their arrival time.  Gives: frames, and `Health`.  Whatever is in a datagram, it does not raise.
"""

from __future__ import annotations

from adapters.decoders.base import UNREADABLE, Decoded, Decoder, Heading, Raw, Reject, plain, shown
from adapters.decoders.labelled_csv import LabelledCsv
from adapters.health import Health
from adapters.mapping.layout import Layout
from adapters.mapping.mapper import Mapper
from adapters.sequence import Order, Standing
from rules.signals.model import Frame


class Receiver:
    """Reads one sender."""

    def __init__(self, decoder: Decoder, mapper: Mapper, order: Order | None = None) -> None:
        """Begin with nothing received.

        Args:
            decoder: Reads the bytes.
            mapper: Makes signals of fields.
            order: Tells new from old; one of 32-bit numbers and endless seconds by default.
        """
        self.decoder = decoder
        self.mapper = mapper
        self.order = order or Order()
        self.health = Health(self.order.counts, mapper.counts)
        self.health.needs_heading = isinstance(decoder, LabelledCsv)

    def take(self, data: bytes, recv_s: float) -> list[Frame]:
        """Read one datagram.

        Args:
            data: Any bytes.
            recv_s: The monotonic clock at its arrival.

        Returns:
            The frames in it, in order: none where it holds nothing new or cannot be read.
        """
        health = self.health
        health.arrived(data, recv_s)
        frames: list[Frame] = []
        for record in self.decoder.split(data) if data else (data,):
            health.records += 1
            said = self.decoder.decode(record)
            if isinstance(said, Decoded):
                frame = self._guarded_frame(said, record, recv_s)
                if frame is not None:
                    frames.append(frame)
            elif isinstance(said, Heading):
                health.head(said)
                self.order.expect_reset()
            else:
                health.refuse(said)
        health.paused = health.paused or self.order.paused(recv_s)
        return frames

    def note_dropped(self, datagrams: int) -> None:
        """The link threw away so many datagrams to catch up."""
        self.health.dropped += datagrams

    def _guarded_frame(self, decoded: Decoded, record: bytes, recv_s: float) -> Frame | None:
        """The frame of a record; what even the map cannot stomach is refused like unreadable bytes."""
        try:
            return self._frame(decoded, recv_s)
        except UNREADABLE as error:
            self.health.refuse(Reject("fields that cannot be used", plain(error), shown(record)))
            self.mapper.forget()
            return None

    def _frame(self, decoded: Decoded, recv_s: float) -> Frame | None:
        """The frame of a record, None where it is not new."""
        layout = self.mapper.layout(decoded.names)
        values = decoded.values
        if len(values) != len(layout.names):
            raise ValueError(f"{len(values)} values for {len(layout.names)} names")
        time_s = self._time_s(layout, values[layout.time] if layout.time >= 0 else None)
        number = _whole(values[layout.number]) if layout.number >= 0 else None
        standing, sim_s, epoch = self.order.judge(number, time_s, recv_s)
        self.health.paused = bool(layout.paused >= 0 and values[layout.paused] in (1, "yes", "on", "true"))
        if standing is Standing.RESET:
            self.mapper.restart()
        elif standing is not Standing.NEW:
            return None
        self.health.accept(recv_s, self.order, layout.absent)
        return self.mapper.frame(decoded, layout, sim_s, recv_s, epoch)

    def _time_s(self, layout: Layout, raw: Raw) -> float | None:
        """The source time in seconds."""
        if isinstance(raw, float | int) and not isinstance(raw, bool):
            return float(raw) * self.mapper.plan.time_scale
        self.health.untimed += layout.time >= 0
        return None


def _whole(raw: Raw) -> int | None:
    """A sequence number; None for what is none."""
    if type(raw) is int:
        return raw if raw >= 0 else None
    return int(raw) if isinstance(raw, float) and raw.is_integer() and raw >= 0 else None
