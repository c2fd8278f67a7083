"""Context of the check of one condition: its problems, its names, and the present word of each `*`.

Takes: a scope.  Gives: `CheckContext`, which collects problems, expands `*`, and finds signals,
limits, calls and items.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import TypeAlias

from rules.language import syntax
from rules.language.scope import PackLimit, Scope
from rules.signals.model import CALL_PREFIX, ESTIMATE_PREFIX, Signal
from rules.source import hint_of
from rules.source.suggestions import nearest_word
from rules.words import join_or

MAX_LISTED = 8
"""Maximum number of names that a problem lists; longer lists do not help."""

MAX_MATCHES = 2_000
"""Maximum number of matches to which the wildcards of one condition expand; limits the work for an untrusted pack."""

WildcardGroup: TypeAlias = frozenset[str]
"""Words that a `*` can represent.  Names with the same words have one `*`."""

_EXPECTED = {
    "flow": "an item of the pack",
    "checklist": "an item of the pack",
    "trip": "a value of the trip sheet",
    "figure": "a figure of the pack",
    "estimate": "an estimate of the pack",
}


@dataclass(frozen=True, slots=True)
class Problem:
    """Fault without a place in a file yet: the offset in the condition instead."""

    offset: int
    what: str
    expected: str = ""
    hint: str = ""


@dataclass(slots=True)
class CheckContext:
    """Shared state of the check of one condition.

    `text` is the condition as written.  `wildcard_words` has the present word of each `*` that is being expanded;
    `shared_outside` are those that another condition of the rule has too, so that the rule is judged match by match;
    `shared_in_and` has, by the `id` of a part of an `and`, those that other parts of it have too; `negation` is the
    innermost `not` around the present node.  `inoperative` are the signals that expansions left out, and `left_out`
    counts how often; `matches` counts the expansions.  `is_part` is true for a part of a condition that was checked as a
    whole.  `open_estimates` are the estimates whose sources are being checked, the outermost first.  `in_event` is true
    within an event.
    """

    scope: Scope
    text: str = ""
    problems: list[Problem] = field(default_factory=list)
    wildcard_words: dict[WildcardGroup, str] = field(default_factory=dict)
    shared_outside: frozenset[WildcardGroup] = frozenset()
    shared_in_and: dict[int, tuple[WildcardGroup, ...]] = field(default_factory=dict)
    negation: syntax.NotExpr | None = None
    inoperative: list[str] = field(default_factory=list)
    left_out: int = 0
    matches: int = 0
    is_part: bool = False
    open_estimates: tuple[str, ...] = ()
    in_event: bool = False
    _words_by_path: dict[str, tuple[str, ...]] = field(default_factory=dict)

    def add_problem(self, at: int, what: str, expected: str = "", hint: str = "") -> None:
        """Add a problem, unless it was added before."""
        problem = Problem(at, what, expected, hint)
        if problem not in self.problems:
            self.problems.append(problem)

    def matching_words(self, path: str) -> tuple[str, ...]:
        """Give the words that the `*` of a path can represent, in the order of the book; none for two of them."""
        known = self._words_by_path.get(path)
        if known is None:
            known = self.scope.matching_words(path) if path.count("*") == 1 else ()
            self._words_by_path[path] = known
        return known

    def wildcard_group(self, path: str) -> WildcardGroup:
        """Give the words that the `*` of a path can represent, as a set."""
        return frozenset(self.matching_words(path))

    def words_in_order(self, group: WildcardGroup) -> tuple[str, ...]:
        """Give the words of a `*` of the condition, in the order of the book."""
        return next(words for words in self._words_by_path.values() if frozenset(words) == group)

    @contextmanager
    def expanding(self, group: WildcardGroup, word: str) -> Iterator[None]:
        """Set the word of a `*` within a block."""
        before = self.wildcard_words
        self.wildcard_words = {**before, group: word}
        try:
            yield
        finally:
            self.wildcard_words = before

    @contextmanager
    def negating(self, node: syntax.NotExpr | None) -> Iterator[None]:
        """Set the innermost `not` within a block, None where what is negated is no matter."""
        before = self.negation
        self.negation = node
        try:
            yield
        finally:
            self.negation = before

    @contextmanager
    def reading_inoperative(self) -> Iterator[None]:
        """Leave out nothing within a block."""
        before = self.scope
        self.scope = replace(before, inoperative=())
        try:
            yield
        finally:
            self.scope = before

    @contextmanager
    def within_event(self) -> Iterator[None]:
        """Set `in_event` within a block."""
        before, self.in_event = self.in_event, True
        try:
            yield
        finally:
            self.in_event = before

    def expand(self, path: str) -> str:
        """Replace `*` in a path by its present word."""
        if "*" not in path:
            return path
        word = self.wildcard_words.get(self.wildcard_group(path))
        return path if word is None else path.replace("*", word)

    def find_number(self, name: syntax.NameExpr) -> Signal | PackLimit | None:
        """Find the numeric signal or limit of a name; a problem for all other names."""
        path = self.expand(name.path)
        if path.startswith("limit.") and path[6:] in self.scope.limits:
            return self.scope.limits[path[6:]]
        signal = self.scope.signals.get(path)
        if signal is None:
            self.report_not_number(name.offset, path)
        elif not signal.is_numeric:
            self.add_problem(
                name.offset,
                f"{path} is no number but {describe_kind(signal)}",
                "a number",
                f"write `{path} is {signal.words[-1] if signal.words else 'WORD'}`",
            )
            return None
        return signal

    def report_not_number(self, at: int, path: str) -> None:
        """Add the problem of a path that is no number."""
        if path.startswith(CALL_PREFIX) and path[5:] in self.scope.calls:
            self.add_problem(at, f"{path} is a call", "a number", f"write `{path} happened`")
        elif path.removeprefix(ESTIMATE_PREFIX) in self.scope.estimates and path.startswith(ESTIMATE_PREFIX):
            self.add_problem(
                at,
                f"{path} is an estimate",
                "it alone, on the left of `<`, `<=`, `>`, `>=`, `in` or `within`",
            )
        elif self.scope.items_named(path):
            self.add_problem(at, f"{path} is an item", "a number", f"write `{path} is met`")
        else:
            self.report_unknown(at, path)

    def report_unknown(self, at: int, path: str) -> None:
        """Add the problem of an unknown name, with the nearest known one."""
        kind, _, key = path.partition(".")
        listed = {"call": self.scope.calls, "limit": self.scope.limits}.get(kind)
        if listed is not None:
            few = 0 < len(listed) <= MAX_LISTED
            expected = join_or(f"{kind}.{name}" for name in listed) if few else f"a {kind} of the pack"
            found = nearest_word(key, listed) if self.scope.suggests else ""
            near = f"{kind}.{found}" if found else ""
        else:
            expected = _EXPECTED.get(kind, "a signal of the book")
            near = self.scope.nearest(path)
        removed = (
            "the extending pack removed it: replace this condition too" if self.scope.is_removed(path) else ""
        )
        self.add_problem(at, f"unknown name {path}", expected, removed or hint_of(near))

    def find_item(self, name: syntax.NameExpr) -> str | None:
        """Find the full id of an item; None and a problem where the path names none or several."""
        path = self.expand(name.path)
        found = self.scope.items_named(path)
        if len(found) > 1:
            self.add_problem(name.offset, f"{path} is in several flows", join_or(found))
        elif not found:
            self.report_unknown(name.offset, path)
        return found[0] if len(found) == 1 else None


def describe_kind(signal: Signal) -> str:
    """Describe the kind of a signal for an author."""
    if signal.words:
        return f"a {signal.kind} ({join_or(signal.words)})"
    if signal.is_numeric:
        return f"a number in {signal.unit}" if signal.unit not in ("", "1") else "a number without a unit"
    return f"a {signal.kind}"
