"""Parser: from the text of one condition to its tree, or to the place of the mistake.

Takes: text.  Gives: a `ConditionExpr`, or a `ParseError` with offset, problem, expected input and hint.
"""

from __future__ import annotations

import re
from dataclasses import fields
from functools import cache
from pathlib import Path
from typing import NoReturn, TypeAlias, TypeVar

from lark import Lark, Token, Transformer, v_args
from lark.exceptions import UnexpectedInput, UnexpectedToken

from rules.faults import HoldshortError
from rules.language import syntax
from rules.language.hints import expected_words, hint_at, hint_to_word
from rules.signals.number_format import shortest_digits

MAX_LENGTH = 4000
"""Maximum length of a condition in characters; limits the work for an untrusted pack."""

MAX_DEPTH = 40
"""Maximum depth of a tree; no recursive walk can overflow the stack."""

MAX_NUMBER, MIN_NUMBER = 1e12, 1e-12
"""Bounds of the absolute value of a number; no conversion of units can overflow."""

_BEFORE_OF = re.compile(r"\b(within|most|least|exactly|size|highest|lowest|average)\b")
"""Words after which `of` may come."""

_FIELD_NAMES = {
    kind: tuple(field.name for field in fields(kind))
    for kind in vars(syntax).values()
    if isinstance(kind, type) and issubclass(kind, syntax.SyntaxNode)
}

_Part = TypeVar("_Part", bound=syntax.ConditionExpr | syntax.TermExpr)
_Subject: TypeAlias = syntax.NameExpr | syntax.ConditionExpr


class ParseError(HoldshortError):
    """Text that is not a condition; `offset` is the first character that does not fit."""

    def __init__(self, offset: int, what: str, expected: str = "", hint: str = "") -> None:
        """Store the four parts; the message joins them."""
        self.offset = offset
        self.what = what
        self.expected = expected
        self.hint = hint
        message = what + (f", expected {expected}" if expected else "") + (f" ({hint})" if hint else "")
        super().__init__(f"at character {offset + 1}: {message}")


def parse(text: str) -> syntax.ConditionExpr:
    """Parse one condition.

    Args:
        text: The condition, of any number of lines, at most `MAX_LENGTH` characters.

    Returns:
        Its tree; every node has its offset in the text.

    Raises:
        ParseError: The text is not a condition, too long or nested too deeply.
    """
    try:
        return _parse(text)
    except UnexpectedInput as problem:
        _raise_parse_error(text, problem)


def parse_or_none(text: str) -> syntax.ConditionExpr | None:
    """Parse a condition; None where it has a fault, without the work of saying which."""
    try:
        return _parse(text)
    except (ParseError, UnexpectedInput):
        return None


def _parse(text: str) -> syntax.ConditionExpr:
    """Parse a text of the right length; raise the parser's own error where it does not fit."""
    if len(text) > MAX_LENGTH:
        raise ParseError(MAX_LENGTH, "the condition is too long", f"at most {MAX_LENGTH} characters")
    if not text.strip():
        raise ParseError(0, "the condition is empty", "a condition", "write such as `lights.beacon is on`")
    parsed: syntax.ConditionExpr = _parser().parse(text)  # type: ignore[assignment]  # the builder makes our nodes
    _check_depth(parsed)
    return parsed


def parse_term(text: str) -> syntax.TermExpr:
    """Parse one term, as the left side of a comparison, because the grammar begins with a condition.

    Args:
        text: The term.

    Raises:
        ParseError: The text is not a term.
    """
    ended = text.rstrip()
    try:
        read = parse(f"{ended} = 0")
    except ParseError as problem:
        at = min(problem.offset, max(len(ended) - 1, 0))
        expected = "a name or a number with its unit"
        raise ParseError(at, f"'{text}' is not a term: {problem.what}", expected, problem.hint) from None
    if isinstance(read, syntax.CompareExpr) and read.op == "=" and read.right == syntax.NumberExpr(0.0):
        return read.left
    raise ParseError(0, f"'{text}' is not a term", "names and numbers, with + - * /")


@cache
def _parser() -> Lark:
    """Build the parser, once."""
    grammar = Path(__file__).with_name("grammar.lark").read_text(encoding="utf-8")
    return Lark(grammar, parser="lalr", lexer="contextual", transformer=_TreeBuilder())


def _check_depth(root: syntax.ConditionExpr) -> None:
    """Refuse a tree that is too deep; walks with a list, because recursion could overflow the stack."""
    waiting: list[tuple[syntax.SyntaxNode, int]] = [(root, 1)]
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


def children(node: syntax.SyntaxNode) -> list[syntax.SyntaxNode]:
    """Give the nodes right below a node, in the order of the text."""
    found: list[syntax.SyntaxNode] = []
    for name in _FIELD_NAMES[type(node)]:
        value = getattr(node, name)
        if isinstance(value, tuple):
            found.extend(part for part in value if isinstance(part, syntax.SyntaxNode))
        elif isinstance(value, syntax.SyntaxNode):
            found.append(value)
    return found


# -- errors ---------------------------------------------------------------------------------


def _raise_parse_error(text: str, problem: UnexpectedInput) -> NoReturn:
    """Convert an error of the parser to a `ParseError` in plain words."""
    ended = isinstance(problem, UnexpectedToken) and problem.token.type == "$END"
    at: int = getattr(problem, "pos_in_stream", 0)  # the library declares it on the base class as None
    offset = len(text.rstrip()) if ended else at
    bracket = _open_bracket(text, offset)
    wanted = _accepted_terminals(text[:offset]) - _excluded_terminals(text[:offset], bracket)
    mistyped = "" if ended else hint_to_word(_text_at(text, offset))
    hint = hint_at(text, offset) or mistyped or _joining_hint(text[offset : offset + 1], wanted)
    expected = expected_words(wanted)
    if ended and bracket is not None:
        raise ParseError(bracket, "the bracket is not closed", "`)`", hint) from None
    if ended:
        # The last character, because the next one may be on another line of the file.
        raise ParseError(offset - 1, "the condition ends too early", expected, hint) from None
    if text[offset] == ")" and bracket is None:
        raise ParseError(offset, "this bracket was never opened", "", hint or "remove it") from None
    raise ParseError(offset, f"`{_text_at(text, offset)}` does not fit here", expected, hint) from None


def _accepted_terminals(before: str) -> set[str]:
    """Give the terminals that may follow the text before the error."""
    # What the library lists at the error is no help: reductions that the wrong token allowed have lost the other choices.
    state = _parser().parse_interactive(before)
    try:
        state.exhaust_lexer()
    except UnexpectedInput:
        return set()
    return set(state.accepts())  # type: ignore[no-untyped-call]  # the library leaves this method untyped


def _joining_hint(first: str, wanted: set[str]) -> str:
    """Give the hint where a second condition follows without `and` or `or`."""
    if not first.isalpha() or "_AND" not in wanted:
        return ""
    return "`if` needs its `then`" if "THEN" in wanted else "join two conditions with `and` or `or`"


def _excluded_terminals(before: str, bracket: int | None) -> set[str]:
    """Give the accepted terminals that make no sense after this beginning."""
    out = {"_RPAR", "_COMMA"} if bracket is None else set()
    if not re.search(r"\bif\b", before):
        out.add("THEN")
    return out if _BEFORE_OF.search(before) else out | {"_OF"}


def _text_at(text: str, offset: int) -> str:
    """Give the text at the offset: a word or number, or one character."""
    word = re.match(r"-?[\w.*]*\w", text[offset:])
    return word[0] if word else text[offset]


def _open_bracket(text: str, offset: int) -> int | None:
    """Find the innermost bracket that is open at `offset`."""
    opened: list[int] = []
    for index, character in enumerate(text[:offset]):
        if character == "(":
            opened.append(index)
        elif character == ")" and opened:
            opened.pop()
    return opened[-1] if opened else None


# -- building ----------------------------------------------------------------------------------------


def _offset_of(part: Token | syntax.SyntaxNode) -> int:
    """Give the offset at which a token or node begins."""
    return (part.start_pos or 0) if isinstance(part, Token) else part.offset


def _offsets_of(*tokens: Token) -> tuple[int, ...]:
    """Give the offsets of tokens that become no node of their own."""
    return tuple(map(_offset_of, tokens))


def _number(token: Token) -> float:
    """Convert a number; refuse one that is too large or too small."""
    value = float(token)
    if value and not MIN_NUMBER <= abs(value) <= MAX_NUMBER:
        size = "large" if abs(value) > MAX_NUMBER else "small"
        raise ParseError(
            _offset_of(token), f"the number is too {size}", "at most 12 digits before or after the point"
        )
    return value


def _hint_of_lasting(event: syntax.EventExpr, duration: str) -> str:
    """Give the hint for an event with a duration: its condition, or how long ago it happened."""
    match event:
        case syntax.BecameExpr(syntax.NameExpr(path), word):
            return f"write `{path} is {word} {duration}`"
        case syntax.HappenedExpr(syntax.NameExpr()):
            return "write `not ... happened within the last 5 s`"
        case syntax.BecameExpr() | syntax.HappenedExpr():
            return f"write `(...) {duration}`"
    return "write `not ... within the last 5 s`"


@v_args(inline=True)
class _TreeBuilder(Transformer[Token, syntax.ConditionExpr]):
    """Builds our nodes during parsing; one method for each alias of the grammar."""

    def unit(self, token: Token | None = None) -> str:
        return str(token or "")

    def name(self, token: Token) -> syntax.NameExpr:
        return syntax.NameExpr(str(token), offset=_offset_of(token))

    def span(self, number: Token, unit: str) -> syntax.NumberExpr:
        return syntax.NumberExpr(_number(number), unit, offset=_offset_of(number))

    def group(self, part: _Part) -> _Part:
        return part

    def sum(self, left: syntax.TermExpr, sign: Token, right: syntax.TermExpr) -> syntax.SumExpr:
        return syntax.SumExpr(left, str(sign), right, offset=left.offset)

    def scaled(self, term: syntax.TermExpr, sign: Token, factor: syntax.NumberExpr) -> syntax.ScaleExpr:
        return syntax.ScaleExpr(
            term, str(sign), factor.value, factor.unit, offset=term.offset, part_offsets=(factor.offset,)
        )

    def window(self, function: Token, term: syntax.TermExpr, span: syntax.NumberExpr) -> syntax.WindowExpr:
        return syntax.WindowExpr(str(function), term, span, offset=_offset_of(function))

    def count_of(self, count: Token, event: syntax.EventExpr, span: syntax.NumberExpr) -> syntax.CountExpr:
        return syntax.CountExpr(event, span, offset=_offset_of(count))

    def among(self, function: Token, *terms: syntax.TermExpr) -> syntax.AmongExpr:
        return syntax.AmongExpr(str(function), terms, offset=_offset_of(function))

    def size_of(self, size: Token, term: syntax.TermExpr) -> syntax.SizeExpr:
        return syntax.SizeExpr(term, offset=_offset_of(size))

    def happened(self, subject: _Subject) -> syntax.HappenedExpr:
        return syntax.HappenedExpr(subject, offset=subject.offset)

    def happened_by(self, call: syntax.NameExpr, speaker: Token) -> syntax.HappenedExpr:
        return syntax.HappenedExpr(call, str(speaker), offset=call.offset, part_offsets=_offsets_of(speaker))

    def became(self, subject: _Subject, word: Token) -> syntax.BecameExpr:
        if not isinstance(subject, syntax.NameExpr) and word != "true":
            hint = "write `(not (...)) became true`" if word == "false" else "write `(...) became true`"
            raise ParseError(
                _offset_of(word), f"a condition in brackets does not become `{word}`", "`true`", hint
            )
        return syntax.BecameExpr(subject, str(word), offset=subject.offset, part_offsets=_offsets_of(word))

    def changed(self, name: syntax.NameExpr) -> syntax.ChangedExpr:
        return syntax.ChangedExpr(name, offset=name.offset)

    def swept(self, term: syntax.TermExpr, low: syntax.TermExpr, high: syntax.TermExpr) -> syntax.SweptExpr:
        return syntax.SweptExpr(term, low, high, offset=term.offset)

    def compare(self, left: syntax.TermExpr, op: Token, right: syntax.TermExpr) -> syntax.CompareExpr:
        return syntax.CompareExpr(left, str(op), right, offset=left.offset)

    def is_word(self, name: syntax.NameExpr, *words: Token) -> syntax.IsExpr:
        return syntax.IsExpr(
            name, tuple(map(str, words)), offset=name.offset, part_offsets=_offsets_of(*words)
        )

    def is_not_word(self, name: syntax.NameExpr, _not: Token, *words: Token) -> syntax.IsExpr:
        return syntax.IsExpr(
            name, tuple(map(str, words)), negated=True, offset=name.offset, part_offsets=_offsets_of(*words)
        )

    def in_range(
        self, term: syntax.TermExpr, low: syntax.TermExpr, high: syntax.TermExpr
    ) -> syntax.InRangeExpr:
        return syntax.InRangeExpr(term, low, high, offset=term.offset)

    def within_expr(
        self, term: syntax.TermExpr, tolerance: syntax.TermExpr, target: syntax.TermExpr
    ) -> syntax.WithinExpr:
        return syntax.WithinExpr(term, tolerance, target, offset=term.offset)

    def and_expr(self, *parts: syntax.ConditionExpr) -> syntax.AndExpr:
        return syntax.AndExpr(parts, offset=parts[0].offset)

    def or_expr(self, *parts: syntax.ConditionExpr) -> syntax.OrExpr:
        return syntax.OrExpr(parts, offset=parts[0].offset)

    def not_expr(self, word: Token, part: syntax.ConditionExpr) -> syntax.NotExpr:
        return syntax.NotExpr(part, offset=_offset_of(word))

    def any_expr(self, word: Token, part: syntax.ConditionExpr) -> syntax.AnyExpr:
        return syntax.AnyExpr(part, offset=_offset_of(word))

    def number_of(self, bound: Token, number: Token, *parts: syntax.ConditionExpr) -> syntax.NumberOfExpr:
        return syntax.NumberOfExpr(
            " ".join(str(bound).split()),
            _number(number),
            parts,
            offset=_offset_of(bound),
            part_offsets=_offsets_of(number),
        )

    def implies_expr(
        self, word: Token, when: syntax.ConditionExpr, _then: Token, then: syntax.ConditionExpr
    ) -> syntax.ImpliesExpr:
        return syntax.ImpliesExpr(when, then, offset=_offset_of(word))

    def unless_expr(
        self, part: syntax.ConditionExpr, word: Token, excuse: syntax.ConditionExpr
    ) -> syntax.UnlessExpr:
        return syntax.UnlessExpr(part, excuse, offset=_offset_of(word))

    def deadline(
        self,
        part: syntax.ConditionExpr | syntax.EventExpr,
        span: syntax.NumberExpr,
        _after: Token,
        event: syntax.EventExpr,
    ) -> syntax.DeadlineExpr:
        awaited = part.event if isinstance(part, syntax.OccurredExpr) else part
        return syntax.DeadlineExpr(awaited, span, event, offset=part.offset)

    def for_expr(self, part: syntax.ConditionExpr, span: syntax.NumberExpr) -> syntax.ForExpr:
        if isinstance(part, syntax.OccurredExpr):
            raise ParseError(
                span.offset,
                "an event lasts no time",
                "a condition before `for`",
                _hint_of_lasting(part.event, f"for {shortest_digits(span.value)} {span.unit}".rstrip()),
            )
        return syntax.ForExpr(part, span, offset=part.offset)

    def since_expr(self, part: syntax.ConditionExpr, event: syntax.EventExpr) -> syntax.SinceExpr:
        if isinstance(part, syntax.OccurredExpr):
            hint = "write `EVENT after EVENT`, or `NAME is WORD since EVENT`"
            raise ParseError(event.offset, "an event lasts no time", "a condition before `since`", hint)
        return syntax.SinceExpr(part, event, offset=part.offset)

    def occurred_expr(self, event: syntax.EventExpr) -> syntax.OccurredExpr:
        return syntax.OccurredExpr(event, offset=event.offset)

    def within_last_expr(self, event: syntax.EventExpr, span: syntax.NumberExpr) -> syntax.WithinLastExpr:
        return syntax.WithinLastExpr(event, span, offset=event.offset)

    def before_after_expr(
        self, first: syntax.EventExpr, relation: Token, second: syntax.EventExpr
    ) -> syntax.BeforeAfterExpr:
        return syntax.BeforeAfterExpr(first, str(relation), second, offset=first.offset)
