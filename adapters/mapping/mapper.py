"""Converts the fields of one sender to frames of changed signals.

Only columns whose raw value differs from the record before are converted, and a frame contains only signals whose value
differs from the frame before.  Since frames build on each other, none may be dropped after this point: drop datagrams
before it, or call `mark_all_changed` afterwards.

Takes: decoded records with time and epoch.  Gives: `rules.signals.model.Frame`.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from adapters.decoders.base import DecodedRecord, RawValue, differing_columns
from adapters.mapping.layout import GuardedSignal, Layout, LayoutBinder
from adapters.mapping.map_plan import IDENTITY, MapPlan
from adapters.mapping.overdue import OverdueFinder
from rules.signals.model import Frame, Quality, Sample, Signal, Value
from rules.words import printable

MAX_LAYOUTS = 64
MAX_COLUMNS = 1 << 15
"""Columns of all layouts that are kept, together."""
_MAX_CALLS = 256
"""Calls whose times are kept; a pack has fewer, and a sender can name others."""
_MAX_EXAMPLE_NAMES = 40
_CALL_SLACK_S = 0.5
_FRESH, _INVALID, _STALE = Quality.FRESH, Quality.INVALID, Quality.STALE
_NO_VALUE_YET = object()


@dataclass(slots=True)
class MappingCounts:
    """Counts of invalid values and unknown fields, with an example for each signal."""

    invalid: int = 0
    unknown_words: int = 0
    examples: dict[str, str] = field(default_factory=dict)
    unknown_fields: dict[str, None] = field(default_factory=dict)
    more_unknown_fields: int = 0

    def count_invalid(self, signal: Signal, raw: RawValue) -> None:
        """Count one value that the signal cannot have."""
        if signal.is_numeric or raw is None:
            self.invalid += 1
        else:
            self.unknown_words += 1
        if signal.name in self.examples or len(self.examples) < _MAX_EXAMPLE_NAMES:
            self.examples[signal.name] = "no value" if raw is None else repr(raw)[:60]

    def count_unknown_fields(self, names: Iterable[str]) -> None:
        """Note the names of fields that feed nothing."""
        for name in names:
            if len(self.unknown_fields) < _MAX_EXAMPLE_NAMES:
                self.unknown_fields[printable(name[:60])] = None
            elif printable(name[:60]) not in self.unknown_fields:
                self.more_unknown_fields += 1


class Mapper:
    """Turns the records of one link into frames."""

    def __init__(self, signals: Mapping[str, Signal], plan: MapPlan = IDENTITY, *, link: str = "") -> None:
        """Prepare the mapper.

        Args:
            signals: The signals that fields can feed.
            plan: The map; by default each field with the name of a signal feeds that signal.
            link: The name of the link in the frames.
        """
        self.signals = signals
        self.plan = plan
        self.link = link
        self.counts = MappingCounts()
        self._binder = LayoutBinder(plan, signals)
        self._layouts: OrderedDict[tuple[str, ...], Layout] = OrderedDict()
        self._columns = 0
        self._current_layout: Layout | None = None
        self._last_layout: Layout | None = None
        self._last_values: dict[str, Value | None] = {}
        self._call_times: dict[str, float] = {}
        self._overdue = OverdueFinder(signals)

    def layout_for(self, names: tuple[str, ...]) -> Layout:
        """Give the layout of these columns, and bind it now if they are new."""
        layout = self._current_layout
        if layout is not None and layout.names is names:
            return layout
        layout = self._layouts.get(names)
        if layout is None:
            layout = self._layouts[names] = self._binder.bind(names)
            self.counts.count_unknown_fields(layout.unknown)
            self._columns += len(names)
            while len(self._layouts) > MAX_LAYOUTS or self._columns > MAX_COLUMNS:
                dropped, _ = self._layouts.popitem(last=False)
                self._columns -= len(dropped)
        # The first test above compares by identity: decoders keep the same tuple while the columns stay.
        layout.names = names
        self._current_layout = layout
        return layout

    def mark_all_changed(self) -> None:
        """Put every signal into the next frame, after a reset or when a frame was not delivered."""
        self._last_values.clear()
        self._last_layout = None

    def reset(self) -> None:
        """Start again after a reset of the simulator's clock, without earlier values and calls."""
        self.mark_all_changed()
        self._call_times.clear()
        self._overdue.reset()

    def build_frame(
        self, decoded: DecodedRecord, layout: Layout, sim_s: float, recv_s: float, epoch: int
    ) -> Frame:
        """Make the frame of one record.

        Args:
            decoded: The record.
            layout: The result of `layout_for(decoded.names)`.
            sim_s: The simulator's clock from the sequence tracker, in seconds.
            recv_s: The monotonic clock at arrival, in seconds.
            epoch: The epoch from the sequence tracker.
        """
        values = decoded.values
        columns = self._changed_columns(decoded, layout)
        changes: list[Sample] = []
        calls: list[tuple[float, str]] = []
        last, plain, guarded, call_columns = self._last_values, layout.plain, layout.guarded, layout.calls
        touched: dict[str, GuardedSignal] = {}
        new = tuple.__new__  # some thirty samples a frame: half the time of calling the type
        for column in columns:
            raw = values[column]
            for name, read in plain[column]:
                value = read(raw)
                if last.get(name, _NO_VALUE_YET) != value:
                    last[name] = value
                    if value is None:
                        changes.append(self._invalid_sample(name, raw, sim_s))
                    else:
                        changes.append(new(Sample, (name, value, _FRESH, sim_s)))
            if column in guarded:
                touched.update((each.signal, each) for each in guarded[column])
            if column in call_columns:
                self._map_call(call_columns[column], raw, sim_s, calls)
        for each in touched.values():
            self._map_guarded(each, values, sim_s, changes)
        layout.last_values = values
        self._last_layout = layout
        changes += self._overdue_samples(layout, sim_s, recv_s)
        in_order = tuple(name for _, name in sorted(calls))
        return Frame(self.link, sim_s, recv_s, epoch, layout.signals, changes, in_order)

    def _overdue_samples(self, layout: Layout, sim_s: float, recv_s: float) -> list[Sample]:
        """Make the samples of signals that the sender has stopped sending; when they come again they are changes."""
        overdue = self._overdue.add_record(layout.signals, sim_s, recv_s)
        for name in overdue:
            self._last_values.pop(name, None)
        return [Sample(name, None, _STALE, sim_s) for name in overdue]

    def _invalid_sample(self, name: str, raw: RawValue, sim_s: float) -> Sample:
        """Make the sample of an invalid value, and count it."""
        self.counts.count_invalid(self.signals[name], raw)
        return Sample(name, None, _INVALID, sim_s)

    def _changed_columns(self, decoded: DecodedRecord, layout: Layout) -> Iterable[int]:
        """List the columns whose raw value differs from the last record used."""
        values, last = decoded.values, layout.last_values
        if self._last_layout is not layout or len(last) != len(values):
            return range(len(values))
        if decoded.base is last:
            return decoded.changed
        return differing_columns(values, last)

    def _map_guarded(
        self, each: GuardedSignal, values: list[RawValue], sim_s: float, changes: list[Sample]
    ) -> None:
        """Convert one signal whose validity is in another column."""
        raw = values[each.column]
        value = (
            each.convert(raw)
            if each.validity_column >= 0 and each.is_valid(values[each.validity_column])
            else None
        )
        if self._last_values.get(each.signal, _NO_VALUE_YET) != value:
            self._last_values[each.signal] = value
            fresh = value is not None
            changes.append(
                Sample(each.signal, value, _FRESH, sim_s)
                if fresh
                else self._invalid_sample(each.signal, raw, sim_s)
            )

    def _map_call(self, call: str, raw: RawValue, sim_s: float, calls: list[tuple[float, str]]) -> None:
        """Add a call where its time is new; ignore a time in the future, which is from before a reset."""
        if type(raw) not in (float, int) or isinstance(raw, bool | str) or raw is None:
            return
        made_s = float(raw)
        if made_s < 0 or made_s > sim_s + _CALL_SLACK_S or self._call_times.get(call) == made_s:
            return
        if call not in self._call_times and len(self._call_times) >= _MAX_CALLS:
            return
        self._call_times[call] = made_s
        calls.append((made_s, call))
