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

MAX_LENGTH = 4000
"""Characters in one condition; a pack from a stranger cannot make us read more."""

MAX_DEPTH = 40
"""Levels in one tree, so that no walk of it can run out of stack."""

MAX_NUMBER, MIN_NUMBER = 1e12, 1e-12
"""Bounds of a number, so that no conversion of it can overflow."""

_Part = TypeVar("_Part", bound=tree.ConditionExpr | tree.TermExpr)
_Subject: TypeAlias = tree.NameExpr | tree.ConditionExpr


class ParseError(HoldshortError):  # noqa: N818 - a fault is what the author reads, as in rules.faults
    """A text is no condition; `offset` is the character at which it stops to be one."""

    def __init__(self, offset: int, what: str, expected: str = "", hint: str = "") -> None:
        """Keep the four parts; the message joins them."""
        self.offset = offset
        self.what = what
        self.expected = expected
        self.hint = hint
        said = what + (f", expected {expected}" if expected else "") + (f" ({hint})" if hint else "")
        super().__init__(f"at character {offset + 1}: {said}")


def parse(text: str) -> tree.ConditionExpr:
    """Read one condition.

    Args:
        text: The condition, of any number of lines, at most `LONGEST` characters.

    Returns:
        Its tree; every node knows its offset.

    Raises:
        ParseProblem: The text is no condition, too long or nested too deeply.
    """
    if len(text) > MAX_LENGTH:
        raise ParseError(MAX_LENGTH, "the condition is too long", f"at most {MAX_LENGTH} characters")
    if not text.strip():
        raise ParseError(0, "the condition is empty", "a condition", "write such as `lights.beacon is on`")
    try:
        parsed: tree.ConditionExpr = _parser().parse(text)  # type: ignore[assignment]  # the builder makes our nodes
    except UnexpectedInput as problem:
        _raise_parse_error(text, problem)
    _check_depth(parsed)
    return parsed


@cache
def _parser() -> Lark:
    """The parser, made when the first condition is read."""
    grammar = Path(__file__).with_name("grammar.lark").read_text(encoding="utf-8")
    return Lark(grammar, parser="lalr", lexer="contextual", transformer=_TreeBuilder())


def _check_depth(root: tree.ConditionExpr) -> None:
    """Refuse a tree that is too deep; walks with a list, because the stack is what it protects."""
    waiting: list[tuple[tree.SyntaxNode, int]] = [(root, 1)]
    while waiting:
        node, depth = waiting.pop()
        if depth > MAX_DEPTH:
            raise ParseError(
                node.offset,
                "the condition is nested too deeply",
                f"at most {MAX_DEPTH} levels",
                "split it into several items",
            )
        waiting.extend((child, depth + 1) for child in children(node))


def children(node: tree.SyntaxNode) -> list[tree.SyntaxNode]:
    """The nodes right below a node, in the order of the text."""
    found: list[tree.SyntaxNode] = []
    for slot in fields(node):
        value = getattr(node, slot.name)
        found.extend(
            part for part in (value if isinstance(value, tuple) else (value,)) if isinstance(part, tree.SyntaxNode)
        )
    return found


# -- what went wrong ----------------------------------------------------------------------------------


def _raise_parse_error(text: str, problem: UnexpectedInput) -> NoReturn:
    """Turn the parser's complaint into a pilot's words."""
    ended = isinstance(problem, UnexpectedToken) and problem.token.type == "$END"
    at: int = getattr(problem, "pos_in_stream", 0)  # the library declares it on the base class as None
    offset = len(text.rstrip()) if ended else at
    bracket = _open_bracket(text, offset)
    wanted = _accepted_terminals(problem) - _excluded_terminals(text[:offset], bracket)
    hint = hint_at(text, offset) or _joining_hint(text[offset : offset + 1], wanted)
    expected = expected_words(wanted)
    if ended and bracket is not None:
        raise ParseError(bracket, "the bracket is not closed", "`)`", hint) from None
    if ended:
        # The last character, because what comes after it may be on another line of the file.
        raise ParseError(offset - 1, "the condition ends too early", expected, hint) from None
    if text[offset] == ")" and bracket is None:
        raise ParseError(offset, "this bracket was never opened", "", hint or "take it out") from None
    raise ParseError(offset, f"`{_text_at(text, offset)}` does not fit here", expected, hint) from None


def _accepted_terminals(problem: UnexpectedInput) -> set[str]:
    """The grammar's names of what could have stood there."""
    if isinstance(problem, UnexpectedToken):
        return set(problem.accepts)
    return set(problem.allowed or ()) if isinstance(problem, UnexpectedCharacters) else set()


def _joining_hint(first: str, wanted: set[str]) -> str:
    """The hint where a second condition begins although nothing joins it to the first."""
    if not first.isalpha() or "_AND" not in wanted:
        return ""
    return "`if` needs its `then`" if "THEN" in wanted else "join two conditions with `and` or `or`"


def _excluded_terminals(before: str, bracket: int | None) -> set[str]:
    """What the grammar would take in another place, but which makes no sense after this beginning."""
    out = {"_RPAR", "_COMMA"} if bracket is None else set()
    if not re.search(r"\bif\b", before):
        out.add("THEN")
    return out if re.search(r"\bwithin\b", before) else out | {"_OF"}


def _text_at(text: str, offset: int) -> str:
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


def _offset_of(part: Token | tree.SyntaxNode) -> int:
    """The offset at which a token or node begins."""
    return (part.start_pos or 0) if isinstance(part, Token) else part.offset


def _offsets_of(*tokens: Token) -> tuple[int, ...]:
    """The offsets of tokens that become no node of their own."""
    return tuple(map(_offset_of, tokens))


def _number(token: Token) -> float:
    """A number as written; one beyond every instrument is refused."""
    value = float(token)
    if value and not MIN_NUMBER <= abs(value) <= MAX_NUMBER:
        size = "large" if abs(value) > MAX_NUMBER else "small"
        raise ParseError(
            _offset_of(token), f"the number is too {size}", "at most 12 digits before or after the point"
        )
    return value


@v_args(inline=True)
class _TreeBuilder(Transformer[Token, tree.ConditionExpr]):
    """Makes our nodes while the parser reads; a method for each rule of the grammar."""

    def unit(self, token: Token | None = None) -> str:
        return str(token or "")

    def name(self, token: Token) -> tree.NameExpr:
        return tree.NameExpr(str(token), offset=_offset_of(token))

    def span(self, number: Token, unit: str) -> tree.NumberExpr:
        return tree.NumberExpr(_number(number), unit, offset=_offset_of(number))

    def group(self, part: _Part) -> _Part:
        return part

    def sum(self, left: tree.TermExpr, sign: Token, right: tree.TermExpr) -> tree.SumExpr:
        return tree.SumExpr(left, str(sign), right, offset=left.offset)

    def scaled(self, term: tree.TermExpr, sign: Token, factor: Token) -> tree.ScaleExpr:
        return tree.ScaleExpr(term, str(sign), _number(factor), offset=term.offset, part_offsets=_offsets_of(factor))

    def window(self, function: Token, term: tree.TermExpr, span: tree.NumberExpr) -> tree.WindowExpr:
        return tree.WindowExpr(str(function), term, span, offset=_offset_of(function))

    def count_of(self, count: Token, event: tree.EventExpr, span: tree.NumberExpr) -> tree.CountExpr:
        return tree.CountExpr(event, span, offset=_offset_of(count))

    def happened(self, subject: _Subject) -> tree.HappenedExpr:
        return tree.HappenedExpr(subject, offset=subject.offset)

    def became(self, subject: _Subject, word: Token) -> tree.BecameExpr:
        if not isinstance(subject, tree.NameExpr) and word != "true":
            hint = "write `(not (...)) became true`" if word == "false" else "write `(...) became true`"
            raise ParseError(
                _offset_of(word), f"a condition in brackets does not become `{word}`", "`true`", hint
            )
        return tree.BecameExpr(subject, str(word), offset=subject.offset, part_offsets=_offsets_of(word))

    def swept(self, term: tree.TermExpr, low: Token, high: Token, unit: str) -> tree.SweptExpr:
        return tree.SweptExpr(term, _number(low), _number(high), unit, offset=term.offset, part_offsets=_offsets_of(low, high))

    def compare(self, left: tree.TermExpr, op: Token, right: tree.TermExpr) -> tree.CompareExpr:
        return tree.CompareExpr(left, str(op), right, offset=left.offset)

    def is_word(self, name: tree.NameExpr, *words: Token) -> tree.IsExpr:
        return tree.IsExpr(name, tuple(map(str, words)), offset=name.offset, part_offsets=_offsets_of(*words))

    def is_not_word(self, name: tree.NameExpr, _not: Token, *words: Token) -> tree.IsExpr:
        return tree.IsExpr(name, tuple(map(str, words)), negated=True, offset=name.offset, part_offsets=_offsets_of(*words))

    def in_range(self, term: tree.TermExpr, low: Token, high: Token, unit: str) -> tree.InRangeExpr:
        return tree.InRangeExpr(term, _number(low), _number(high), unit, offset=term.offset, part_offsets=_offsets_of(low, high))

    def within_expr(self, term: tree.TermExpr, tolerance: tree.NumberExpr, target: tree.TermExpr) -> tree.WithinExpr:
        return tree.WithinExpr(term, tolerance, target, offset=term.offset)

    def and_expr(self, *parts: tree.ConditionExpr) -> tree.AndExpr:
        return tree.AndExpr(parts, offset=parts[0].offset)

    def or_expr(self, *parts: tree.ConditionExpr) -> tree.OrExpr:
        return tree.OrExpr(parts, offset=parts[0].offset)

    def not_expr(self, word: Token, part: tree.ConditionExpr) -> tree.NotExpr:
        return tree.NotExpr(part, offset=_offset_of(word))

    def any_expr(self, word: Token, part: tree.ConditionExpr) -> tree.AnyExpr:
        return tree.AnyExpr(part, offset=_offset_of(word))

    def implies_expr(self, word: Token, when: tree.ConditionExpr, _then: Token, then: tree.ConditionExpr) -> tree.ImpliesExpr:
        return tree.ImpliesExpr(when, then, offset=_offset_of(word))

    def for_expr(self, part: tree.ConditionExpr, span: tree.NumberExpr) -> tree.ForExpr:
        return tree.ForExpr(part, span, offset=part.offset)

    def since_expr(self, part: tree.ConditionExpr, event: tree.EventExpr) -> tree.SinceExpr:
        return tree.SinceExpr(part, event, offset=part.offset)

    def occurred_expr(self, event: tree.EventExpr) -> tree.OccurredExpr:
        return tree.OccurredExpr(event, offset=event.offset)

    def within_last_expr(self, event: tree.EventExpr, span: tree.NumberExpr) -> tree.WithinLastExpr:
        return tree.WithinLastExpr(event, span, offset=event.offset)

    def before_after_expr(self, first: tree.EventExpr, relation: Token, second: tree.EventExpr) -> tree.BeforeAfterExpr:
        return tree.BeforeAfterExpr(first, str(relation), second, offset=first.offset)
