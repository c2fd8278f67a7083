"""The mapper: fields of one sender become frames.

Only columns whose raw value differs from the record before are converted; only signals whose value differs from
what this link said before stand among a frame's changes.  Because changes build on each other, frames may not
be thrown away after this point: throw away datagrams before it, or call `forget` afterwards.

Takes: decoded records with their ruling.  Gives: `rules.signals.model.Frame`.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from itertools import compress
from operator import ne

from adapters.decoders.base import Decoded, Raw
from adapters.mapping.layout import Binder, Guarded, Layout
from adapters.mapping.plan import IDENTITY, Plan
from rules.signals.model import Frame, Quality, Sample, Signal, Value

_LAYOUTS_AT_MOST = 64
_NAMES_AT_MOST = 40
_CALL_SLACK_S = 0.5
_FRESH, _INVALID = Quality.FRESH, Quality.INVALID
_NEVER = object()


@dataclass(slots=True)
class MapCounts:
    """What the mapper could not use: how often a value became invalid, an example of each signal, unknown fields."""

    invalid: int = 0
    unknown_words: int = 0
    examples: dict[str, str] = field(default_factory=dict)
    unknown_fields: dict[str, None] = field(default_factory=dict)
    unknown_more: int = 0

    def refuse(self, signal: Signal, raw: Raw) -> None:
        """Count a value that the signal cannot have."""
        if signal.numeric or raw is None:
            self.invalid += 1
        else:
            self.unknown_words += 1
        if signal.name in self.examples or len(self.examples) < _NAMES_AT_MOST:
            self.examples[signal.name] = "no value" if raw is None else repr(raw)[:60]

    def pass_over(self, names: Iterable[str]) -> None:
        """Note fields that feed nothing."""
        for name in names:
            if len(self.unknown_fields) < _NAMES_AT_MOST:
                self.unknown_fields[name[:60]] = None
            elif name[:60] not in self.unknown_fields:
                self.unknown_more += 1


class Mapper:
    """Turns the records of one link into frames."""

    def __init__(self, signals: Mapping[str, Signal], plan: Plan = IDENTITY, *, link: str = "") -> None:
        """Begin with nothing said.

        Args:
            signals: Those that a field can feed.
            plan: How; by default every field that bears a signal's name.
            link: What the frames call their link.
        """
        self.signals = signals
        self.plan = plan
        self.link = link
        self.counts = MapCounts()
        self._binder = Binder(plan, signals)
        self._layouts: OrderedDict[tuple[str, ...], Layout] = OrderedDict()
        self._layout: Layout | None = None
        self._used: Layout | None = None
        self._said: dict[str, Value | None] = {}
        self._calls: dict[str, float] = {}

    def layout(self, names: tuple[str, ...]) -> Layout:
        """The layout of these columns, bound now if they are new."""
        layout = self._layout
        if layout is not None and layout.names is names:
            return layout
        layout = self._layouts.get(names)
        if layout is None:
            layout = self._layouts[names] = self._binder.bind(names)
            self.counts.pass_over(layout.unknown)
            if len(self._layouts) > _LAYOUTS_AT_MOST:
                self._layouts.popitem(last=False)
        # Compared by identity from now on: the decoder keeps its tuple while the columns stay.
        layout.names = names
        self._layout = layout
        return layout

    def forget(self) -> None:
        """Say everything again with the next frame: after a reset, or where a frame was not delivered."""
        self._said.clear()
        self._used = None

    def restart(self) -> None:
        """The simulator's clock jumped back: nothing that was said or called counts any more."""
        self.forget()
        self._calls.clear()

    def frame(self, decoded: Decoded, layout: Layout, sim_s: float, recv_s: float, epoch: int) -> Frame:
        """Make the frame of one record.

        Args:
            decoded: The record.
            layout: `layout(decoded.names)`.
            sim_s: The simulator's clock as ruled.
            recv_s: The monotonic clock at arrival.
            epoch: As ruled.
        """
        values = decoded.values
        columns = self._differing(decoded, layout)
        changes: list[Sample] = []
        calls: list[tuple[float, str]] = []
        said, plain, guarded, told = self._said, layout.plain, layout.guarded, layout.calls
        touched: dict[str, Guarded] = {}
        new = tuple.__new__  # some thirty samples a frame: half the time of calling the type
        for column in columns:
            raw = values[column]
            for name, read in plain[column]:
                value = read(raw)
                if said.get(name, _NEVER) != value:
                    said[name] = value
                    if value is None:
                        changes.append(self._invalid(name, raw, sim_s))
                    else:
                        changes.append(new(Sample, (name, value, _FRESH, sim_s)))
            if column in guarded:
                touched.update((each.signal, each) for each in guarded[column])
            if column in told:
                self._hear(told[column], raw, sim_s, calls)
        for each in touched.values():
            self._guarded(each, values, sim_s, changes)
        layout.last = values
        self._used = layout
        heard = tuple(name for _, name in sorted(calls))
        return Frame(self.link, sim_s, recv_s, epoch, layout.carried, changes, heard)

    def _invalid(self, name: str, raw: Raw, sim_s: float) -> Sample:
        """A value that cannot be, counted."""
        self.counts.refuse(self.signals[name], raw)
        return Sample(name, None, _INVALID, sim_s)

    def _differing(self, decoded: Decoded, layout: Layout) -> Iterable[int]:
        """The columns whose raw value is other than in the last record used."""
        values, last = decoded.values, layout.last
        every = range(len(values))
        if self._used is not layout or len(last) != len(values):
            return every
        if decoded.base is last:
            return decoded.changed
        return compress(every, map(ne, values, last))

    def _guarded(self, each: Guarded, values: list[Raw], sim_s: float, changes: list[Sample]) -> None:
        """One signal whose validity stands in another column."""
        raw = values[each.column]
        value = each.read(raw) if each.guard >= 0 and each.check(values[each.guard]) else None
        if self._said.get(each.signal, _NEVER) != value:
            self._said[each.signal] = value
            fresh = value is not None
            changes.append(
                Sample(each.signal, value, _FRESH, sim_s) if fresh else self._invalid(each.signal, raw, sim_s)
            )

    def _hear(self, call: str, raw: Raw, sim_s: float, calls: list[tuple[float, str]]) -> None:
        """A call's time: a new one is a new call; one that lies ahead is from before a reset."""
        if type(raw) not in (float, int) or isinstance(raw, bool | str) or raw is None:
            return
        made_s = float(raw)
        if made_s < 0 or made_s > sim_s + _CALL_SLACK_S or self._calls.get(call) == made_s:
            return
        self._calls[call] = made_s
        calls.append((made_s, call))
