"""Names: the desk at which one condition is checked, and how its names are found.

Takes: a scope.  Gives: `Desk`, which collects faults, knows what `*` stands for, and finds signals,
limits, calls and items.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

from rules.language import tree
from rules.language.scope import Limit, Scope
from rules.signals.model import Signal
from rules.source.words import join_or, nearest

MOST_LISTED = 8
"""Names that a fault lists; more of them are no help."""

_EXPECTED = {
    "flow": "an item of the pack",
    "checklist": "an item of the pack",
    "trip": "a value of the trip sheet",
    "figure": "a figure of the pack",
}


@dataclass(frozen=True, slots=True)
class Slip:
    """A fault before it has a place in a file: the offset stands for it."""

    at: int
    what: str
    expected: str = ""
    hint: str = ""


@dataclass(slots=True)
class Desk:
    """What the checking of one condition shares.

    `word` is what `*` stands for at present, '' where no name is being expanded; `left_out` are the
    inoperative signals that an expansion left out.
    """

    scope: Scope
    slips: list[Slip] = field(default_factory=list)
    word: str = ""
    left_out: list[str] = field(default_factory=list)

    def fault(self, at: int, what: str, expected: str = "", hint: str = "") -> None:
        """Note a fault, once."""
        slip = Slip(at, what, expected, hint)
        if slip not in self.slips:
            self.slips.append(slip)

    @contextmanager
    def standing_for(self, word: str) -> Iterator[None]:
        """Let `*` stand for a word for a while."""
        before, self.word = self.word, word
        try:
            yield
        finally:
            self.word = before

    def full(self, path: str) -> str:
        """A path with `*` replaced by what it stands for."""
        return path.replace("*", self.word) if self.word else path

    def number_source(self, name: tree.Name) -> Signal | Limit | None:
        """The numeric signal or limit of a name that stands as a number; notes a fault for all else."""
        path = self.full(name.path)
        if path.startswith("limit.") and path[6:] in self.scope.limits:
            return self.scope.limits[path[6:]]
        signal = self.scope.signals.get(path)
        if signal is None:
            self.no_number(name.at, path)
        elif not signal.numeric:
            self.fault(
                name.at,
                f"{path} is no number but {kind_of(signal)}",
                "a number",
                f"write `{path} is {signal.words[-1] if signal.words else 'WORD'}`",
            )
            return None
        return signal

    def no_number(self, at: int, path: str) -> None:
        """Note why a path that names no signal cannot stand as a number."""
        if path.startswith("call.") and path[5:] in self.scope.calls:
            self.fault(at, f"{path} is a call", "a number", f"write `{path} happened`")
        elif self.scope.items_named(path):
            self.fault(at, f"{path} is an item", "a number", f"write `{path} is met`")
        else:
            self.unknown(at, path)

    def unknown(self, at: int, path: str) -> None:
        """Note that nothing has this name, and what was probably meant."""
        kind, _, key = path.partition(".")
        listed = {"call": self.scope.calls, "limit": self.scope.limits}.get(kind)
        if listed is not None:
            few = 0 < len(listed) <= MOST_LISTED
            expected = join_or(f"{kind}.{name}" for name in listed) if few else f"a {kind} of the pack"
            found = nearest(key, listed)
            near = f"{kind}.{found}" if found else ""
        else:
            expected = _EXPECTED.get(kind, "a signal of the book")
            near = self.scope.nearest(path)
        self.fault(at, f"unknown name {path}", expected, f"did you mean {near}?" if near else "")

    def item(self, name: tree.Name) -> str | None:
        """The full id of an item, None where the path names none or several (then a fault is noted)."""
        path = self.full(name.path)
        found = self.scope.items_named(path)
        if len(found) > 1:
            self.fault(name.at, f"{path} is in several flows", join_or(found))
        elif not found:
            self.unknown(name.at, path)
        return found[0] if len(found) == 1 else None


def kind_of(signal: Signal) -> str:
    """What a signal measures, in an author's words."""
    if signal.words:
        return f"a {signal.kind} ({join_or(signal.words)})"
    if signal.numeric:
        return f"a number in {signal.unit}" if signal.unit not in ("", "1") else "a number without a unit"
    return f"a {signal.kind}"
