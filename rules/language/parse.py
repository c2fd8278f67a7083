"""Parse: from the text of one condition to its tree, or to the place where a pilot must mend it.

Takes: text.  Gives: `tree.Condition`, or a `ParseProblem` with an offset, what is wrong, what was expected and a hint.
"""

from __future__ import annotations

import re
from dataclasses import fields
from functools import cache
from pathlib import Path
from typing import NoReturn, TypeAlias, TypeVar

from lark import Lark, Token, Transformer, v_args
from lark.exceptions import UnexpectedCharacters, UnexpectedInput, UnexpectedToken

from rules.faults import HoldshortError
from rules.language import tree
from rules.language.slips import expected_words, hint_at

LONGEST = 4000
"""Characters in one condition; a pack from a stranger cannot make us read more."""

DEEPEST = 40
"""Levels in one tree, so that no walk of it can run out of stack."""

LARGEST, SMALLEST = 1e12, 1e-12
"""Bounds of a number, so that no conversion of it can overflow."""

_Part = TypeVar("_Part", bound=tree.Condition | tree.Term)
_Subject: TypeAlias = tree.Name | tree.Condition


class ParseProblem(HoldshortError):  # noqa: N818 - a fault is what the author reads, as in rules.faults
    """A text is no condition; `offset` is the character at which it stops to be one."""

    def __init__(self, offset: int, what: str, expected: str = "", hint: str = "") -> None:
        """Keep the four parts; the message joins them."""
        self.offset = offset
        self.what = what
        self.expected = expected
        self.hint = hint
        said = what + (f", expected {expected}" if expected else "") + (f" ({hint})" if hint else "")
        super().__init__(f"at character {offset + 1}: {said}")


def parse(text: str) -> tree.Condition:
    """Read one condition.

    Args:
        text: The condition, of any number of lines, at most `LONGEST` characters.

    Returns:
        Its tree; every node knows its offset.

    Raises:
        ParseProblem: The text is no condition, too long or nested too deeply.
    """
    if len(text) > LONGEST:
        raise ParseProblem(LONGEST, "the condition is too long", f"at most {LONGEST} characters")
    if not text.strip():
        raise ParseProblem(0, "the condition is empty", "a condition", "write such as `lights.beacon is on`")
    try:
        parsed: tree.Condition = _parser().parse(text)  # type: ignore[assignment]  # the builder makes our nodes
    except UnexpectedInput as problem:
        _explain(text, problem)
    _measure(parsed)
    return parsed


@cache
def _parser() -> Lark:
    """The parser, made when the first condition is read."""
    grammar = Path(__file__).with_name("grammar.lark").read_text(encoding="utf-8")
    return Lark(grammar, parser="lalr", lexer="contextual", transformer=_Builder())


def _measure(root: tree.Condition) -> None:
    """Refuse a tree that is too deep; walks with a list, because the stack is what it protects."""
    waiting: list[tuple[tree.Node, int]] = [(root, 1)]
    while waiting:
        node, depth = waiting.pop()
        if depth > DEEPEST:
            raise ParseProblem(
                node.at,
                "the condition is nested too deeply",
                f"at most {DEEPEST} levels",
                "split it into several items",
            )
        waiting.extend((child, depth + 1) for child in children(node))


def children(node: tree.Node) -> list[tree.Node]:
    """The nodes right below a node, in the order of the text."""
    found: list[tree.Node] = []
    for slot in fields(node):
        value = getattr(node, slot.name)
        found.extend(
            part for part in (value if isinstance(value, tuple) else (value,)) if isinstance(part, tree.Node)
        )
    return found


# -- what went wrong ----------------------------------------------------------------------------------


def _explain(text: str, problem: UnexpectedInput) -> NoReturn:
    """Turn the parser's complaint into a pilot's words."""
    ended = isinstance(problem, UnexpectedToken) and problem.token.type == "$END"
    at: int = getattr(problem, "pos_in_stream", 0)  # the library declares it on the base class as None
    offset = len(text.rstrip()) if ended else at
    bracket = _open_bracket(text, offset)
    wanted = _wanted(problem) - _out_of_place(text[:offset], bracket)
    hint = hint_at(text, offset) or _missing_link(text[offset : offset + 1], wanted)
    expected = expected_words(wanted)
    if ended and bracket is not None:
        raise ParseProblem(bracket, "the bracket is not closed", "`)`", hint) from None
    if ended:
        # The last character, because what comes after it may be on another line of the file.
        raise ParseProblem(offset - 1, "the condition ends too early", expected, hint) from None
    if text[offset] == ")" and bracket is None:
        raise ParseProblem(offset, "this bracket was never opened", "", hint or "take it out") from None
    raise ParseProblem(offset, f"`{_found(text, offset)}` does not fit here", expected, hint) from None


def _wanted(problem: UnexpectedInput) -> set[str]:
    """The grammar's names of what could have stood there."""
    if isinstance(problem, UnexpectedToken):
        return set(problem.accepts)
    return set(problem.allowed or ()) if isinstance(problem, UnexpectedCharacters) else set()


def _missing_link(first: str, wanted: set[str]) -> str:
    """The hint where a second condition begins although nothing joins it to the first."""
    if not first.isalpha() or "_AND" not in wanted:
        return ""
    return "`if` needs its `then`" if "THEN" in wanted else "join two conditions with `and` or `or`"


def _out_of_place(before: str, bracket: int | None) -> set[str]:
    """What the grammar would take in another place, but which makes no sense after this beginning."""
    out = {"_RPAR", "_COMMA"} if bracket is None else set()
    if not re.search(r"\bif\b", before):
        out.add("THEN")
    return out if re.search(r"\bwithin\b", before) else out | {"_OF"}


def _found(text: str, offset: int) -> str:
    """What stands at the offset: a word or number, or one character."""
    word = re.match(r"-?[\w.*]*\w", text[offset:])
    return word[0] if word else text[offset]


def _open_bracket(text: str, offset: int) -> int | None:
    """Where the innermost bracket that is open at `offset` begins."""
    opened: list[int] = []
    for index, character in enumerate(text[:offset]):
        if character == "(":
            opened.append(index)
        elif character == ")" and opened:
            opened.pop()
    return opened[-1] if opened else None


# -- building ----------------------------------------------------------------------------------------


def _start(part: Token | tree.Node) -> int:
    """The offset at which a token or node begins."""
    return (part.start_pos or 0) if isinstance(part, Token) else part.at


def _starts(*tokens: Token) -> tuple[int, ...]:
    """The offsets of tokens that become no node of their own."""
    return tuple(map(_start, tokens))


def _number(token: Token) -> float:
    """A number as written; one beyond every instrument is refused."""
    value = float(token)
    if value and not SMALLEST <= abs(value) <= LARGEST:
        size = "large" if abs(value) > LARGEST else "small"
        raise ParseProblem(
            _start(token), f"the number is too {size}", "at most 12 digits before or after the point"
        )
    return value


@v_args(inline=True)
class _Builder(Transformer[Token, tree.Condition]):
    """Makes our nodes while the parser reads; a method for each rule of the grammar."""

    def unit(self, token: Token | None = None) -> str:
        return str(token or "")

    def name(self, token: Token) -> tree.Name:
        return tree.Name(str(token), at=_start(token))

    def span(self, number: Token, unit: str) -> tree.Number:
        return tree.Number(_number(number), unit, at=_start(number))

    def group(self, part: _Part) -> _Part:
        return part

    def sum(self, left: tree.Term, sign: Token, right: tree.Term) -> tree.Sum:
        return tree.Sum(left, str(sign), right, at=left.at)

    def scaled(self, term: tree.Term, sign: Token, factor: Token) -> tree.Scaled:
        return tree.Scaled(term, str(sign), _number(factor), at=term.at, marks=_starts(factor))

    def window(self, function: Token, term: tree.Term, span: tree.Number) -> tree.Window:
        return tree.Window(str(function), term, span, at=_start(function))

    def count_of(self, count: Token, event: tree.Event, span: tree.Number) -> tree.CountOf:
        return tree.CountOf(event, span, at=_start(count))

    def happened(self, subject: _Subject) -> tree.Happened:
        return tree.Happened(subject, at=subject.at)

    def became(self, subject: _Subject, word: Token) -> tree.Became:
        if not isinstance(subject, tree.Name) and word != "true":
            hint = "write `(not (...)) became true`" if word == "false" else "write `(...) became true`"
            raise ParseProblem(
                _start(word), f"a condition in brackets does not become `{word}`", "`true`", hint
            )
        return tree.Became(subject, str(word), at=subject.at, marks=_starts(word))

    def swept(self, term: tree.Term, low: Token, high: Token, unit: str) -> tree.Swept:
        return tree.Swept(term, _number(low), _number(high), unit, at=term.at, marks=_starts(low, high))

    def compare(self, left: tree.Term, op: Token, right: tree.Term) -> tree.Compare:
        return tree.Compare(left, str(op), right, at=left.at)

    def is_word(self, name: tree.Name, *words: Token) -> tree.Is:
        return tree.Is(name, tuple(map(str, words)), at=name.at, marks=_starts(*words))

    def is_not_word(self, name: tree.Name, _not: Token, *words: Token) -> tree.Is:
        return tree.Is(name, tuple(map(str, words)), negated=True, at=name.at, marks=_starts(*words))

    def in_range(self, term: tree.Term, low: Token, high: Token, unit: str) -> tree.InRange:
        return tree.InRange(term, _number(low), _number(high), unit, at=term.at, marks=_starts(low, high))

    def near(self, term: tree.Term, tolerance: tree.Number, target: tree.Term) -> tree.Near:
        return tree.Near(term, tolerance, target, at=term.at)

    def all_of(self, *parts: tree.Condition) -> tree.All:
        return tree.All(parts, at=parts[0].at)

    def either(self, *parts: tree.Condition) -> tree.Either:
        return tree.Either(parts, at=parts[0].at)

    def opposite(self, word: Token, part: tree.Condition) -> tree.Opposite:
        return tree.Opposite(part, at=_start(word))

    def any_of(self, word: Token, part: tree.Condition) -> tree.AnyOf:
        return tree.AnyOf(part, at=_start(word))

    def implies(self, word: Token, when: tree.Condition, _then: Token, then: tree.Condition) -> tree.Implies:
        return tree.Implies(when, then, at=_start(word))

    def held(self, part: tree.Condition, span: tree.Number) -> tree.Held:
        return tree.Held(part, span, at=part.at)

    def since(self, part: tree.Condition, event: tree.Event) -> tree.Since:
        return tree.Since(part, event, at=part.at)

    def occurred(self, event: tree.Event) -> tree.Occurred:
        return tree.Occurred(event, at=event.at)

    def recent(self, event: tree.Event, span: tree.Number) -> tree.Recent:
        return tree.Recent(event, span, at=event.at)

    def order(self, first: tree.Event, relation: Token, second: tree.Event) -> tree.Order:
        return tree.Order(first, str(relation), second, at=first.at)
