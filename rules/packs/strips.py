"""Strips of a pack: what is kept over a stretch of flight, checked and bounded.

Takes: the sheets, their references and conditions.  Gives: the frozen types of `model`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rules.faults import Fault
from rules.language.check import signals_of
from rules.language.scope import Limit, Scope
from rules.packs.conditions import Conditions
from rules.packs.model import Strip, StripLimit, StripMark, Watch
from rules.packs.references import References
from rules.packs.schema import StripForm, StripLimitForm
from rules.packs.sheets import Filled, Sheets
from rules.packs.spots import Spot, entry_of
from rules.packs.values import Quantity
from rules.signals import units
from rules.signals.model import Signal
from rules.source import did_you_mean

MOST_VALUES = 200_000
"""A strip that could hold more values than this is a slip of the pen: 20 signals, ten times a second, for a quarter of an hour."""


def build_strips(
    sheets: Sheets,
    references: References,
    conditions: Conditions,
    scope: Scope,
    watches: Sequence[Watch],
    faults: list[Fault],
) -> tuple[Strip, ...]:
    """Every strip of a pack.

    Args:
        sheets: The pack's entries.
        references: Where names are looked up.
        conditions: Where conditions are checked.
        scope: All names of the pack.
        watches: Those of the pack.
        faults: Where faults are added.
    """
    builder = _Builder(sheets, references, conditions, scope, watches, faults)
    return tuple(builder.strip(name, filled) for name, filled in sheets.strips.items())


class _Builder:
    """Builds strip by strip."""

    def __init__(
        self,
        sheets: Sheets,
        references: References,
        conditions: Conditions,
        scope: Scope,
        watches: Sequence[Watch],
        faults: list[Fault],
    ) -> None:
        """Keep what every strip needs."""
        self._sheets = sheets
        self._references = references
        self._conditions = conditions
        self._scope = scope
        self._watches = watches
        self._faults = faults

    def strip(self, name: str, filled: Filled[StripForm]) -> Strip:
        """One strip; what is at fault in it is noted and left out."""
        form, entry = filled.form, filled.entry
        begins, ends = self._conditions.of(entry, "begins"), self._conditions.of(entry, "ends")
        if begins is None or ends is None:
            raise AssertionError("a strip's form holds both conditions")
        if begins == ends:
            self._fault(entry.spot("ends"), "the strip ends where it begins", "another condition")
        keep = self._keep(form.keep, entry.spot("keep"))
        self._bound(filled)
        return Strip(
            f"strip.{name}",
            form.title,
            begins,
            ends,
            keep,
            form.every,
            form.longest,
            tuple(self._limits(filled)),
            tuple(self._marks(filled)),
            self._about(filled, keep),
        )

    def _keep(self, names: list[str], spot: Spot) -> tuple[str, ...]:
        """The signals that are kept, each once."""
        known = self._references.each(names, self._scope.signals, spot, "signal")
        for number, name in enumerate(names):
            if name in names[:number]:
                self._fault(spot.down(number), f"{name} is kept twice", "each signal once")
        return known

    def _bound(self, filled: Filled[StripForm]) -> None:
        """A strip takes a sample now and then, and comes to an end."""
        form, entry = filled.form, filled.entry
        if form.every <= 0.0:
            self._fault(entry.spot("every"), "a strip takes a sample now and then", "more than 0 s")
        elif form.longest < form.every:
            self._fault(entry.spot("longest"), "the strip is over before its second sample", "a longer time")
        elif form.longest / form.every * len(form.keep) > MOST_VALUES:
            what = f"{round(form.longest / form.every)} samples of {len(form.keep)} signals"
            hint = "a shorter longest, or a longer every"
            self._fault(entry.spot("longest"), what, f"at most {MOST_VALUES} values in a strip", hint)

    def _limits(self, filled: Filled[StripForm]) -> Iterator[StripLimit]:
        """The limits to draw, each in its signal's unit."""
        spot = filled.entry.spot("limits")
        for number, form in enumerate(filled.form.limits):
            at = spot.down(number)
            if self._references.known(
                form.signal, filled.form.keep, at.down("signal"), "signal of the strip"
            ):
                limit = self._limit(form, at.down("limit"))
                signal = self._scope.signals.get(form.signal)
                if limit is not None and signal is not None:
                    yield from self._in_unit(form, signal, limit, at.down("limit"))

    def _limit(self, form: StripLimitForm, spot: Spot) -> Limit | None:
        """A limit of the pack, or a number with its unit."""
        if isinstance(form.limit, Quantity):
            return Limit(*form.limit, "")
        if form.limit not in self._scope.limits and form.limit not in self._sheets.known("limits"):
            hint = did_you_mean(form.limit, self._scope.limits)
            expected = "the name of a limit, or a number with its unit"
            self._fault(spot, f"there is no limit {form.limit}", expected, hint)
        return self._scope.limits.get(form.limit)

    def _in_unit(
        self, form: StripLimitForm, signal: Signal, limit: Limit, spot: Spot
    ) -> Iterator[StripLimit]:
        """The limit in the signal's unit; none, with a fault, where it has another nature."""
        unit, own = limit.unit or "1", signal.unit or "1"
        if not signal.numeric:
            self._fault(spot, f"{signal.name} is no number", "the limit of a signal that is a number")
        elif not units.compatible(unit, own):
            self._fault(spot, f"{unit} does not convert to {own}", f"a unit such as {own}")
        else:
            label = form.label or limit.label or f"limit of {signal.label}"
            yield StripLimit(signal.name, units.convert(limit.value, unit, own), label)

    def _marks(self, filled: Filled[StripForm]) -> Iterator[StripMark]:
        """The moments to note; a broken condition is kept with its fault."""
        spot = filled.entry.spot("marks")
        for number, form in enumerate(filled.form.marks):
            when = self._conditions.of(entry_of(form.label, spot.down(number)), "when")
            if when is None:
                raise AssertionError("a mark's form holds its condition")
            yield StripMark(form.label, when)

    def _about(self, filled: Filled[StripForm], keep: tuple[str, ...]) -> frozenset[str]:
        """The watches and items named, or else the watches that read what is kept."""
        form, entry = filled.form, filled.entry
        if "about" in entry.fields:
            among = [*(f"watch.{name}" for name in self._sheets.known("watches")), *self._sheets.labels]
            return frozenset(self._references.each(form.about, among, entry.spot("about"), "watch or item"))
        return frozenset(w.id for w in self._watches if not set(keep).isdisjoint(signals_of(w.expect)))

    def _fault(self, spot: Spot, what: str, expected: str = "", hint: str = "") -> None:
        """Note a fault at a value."""
        self._faults.append(Fault(spot.place(), what, expected, hint))
