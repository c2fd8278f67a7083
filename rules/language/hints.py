"""Hints for the mistakes that authors make most, and the words that the grammar accepts at a place.

Takes: the text of a condition and the offset of a parse error.  Gives: words and hints.
"""

from __future__ import annotations

import re

from rules.source import did_you_mean

_TERMINAL_NAMES = {
    "NAME": "a name",
    "NUMBER": "a number",
    "UNIT": "a unit",
    "WORD": "a word",
    "OPERATOR": "a comparison (`=`, `!=`, `<`, `<=`, `>`, `>=`)",
    "_LPAR": "`(`",
    "_RPAR": "`)`",
    "_COMMA": "`,`",
    "_UPTO": "`..`",
    "_ONE_OF": "`one of`",
    "SIZE": "`size of`",
    "EXTREME": "`highest`, `lowest` or `average`",
    "DIFFERENCE": "`change` or `rate`",
    "$END": "the end of the condition",
}

# Sets of terminals with one description: the words after a condition or term, and the beginnings of one.
_GROUPS: tuple[tuple[frozenset[str], str], ...] = (
    (frozenset({"ANY", "HOW_MANY", "NOT", "NAME", "NUMBER", "_LPAR"}), "a condition"),
    (
        frozenset({"NAME", "NUMBER", "_LPAR", "EXTREME", "DIFFERENCE", "COUNT", "SIZE"}),
        "a name, a number or a window such as `highest(...)`",
    ),
    (frozenset({"NAME", "_LPAR"}), "an event"),
    (frozenset({"BEFORE", "AFTER"}), "`before` or `after`"),
    (frozenset({"OPERATOR", "_IN", "_WITHIN"}), "a comparison (`is`, `=`, `<`, `in`, `within` ...)"),
    (frozenset({"_AND", "_OR", "_FOR", "_WITHIN"}), "`and`, `or`, `for`, `since`"),
    (frozenset({"_AND", "_OR", "_FOR"}), "`and`, `or`, `for`, `since`"),
)
_SELDOM = frozenset({"SIGN", "FACTOR", "_BY"})
_UNLISTED = frozenset(
    {
        "IF",
        "UNLESS",
        "EXTREME",
        "DIFFERENCE",
        "COUNT",
        "SIZE",
        "_BY",
        "_HAPPENED",
        "_BECAME",
        "_CHANGED",
        "_SWEPT",
        "_IS",
        "_SINCE",
    }
)


def expected_words(terminals: set[str]) -> str:
    """Describe in plain words the terminals that the grammar accepts."""
    left = terminals - _SELDOM or terminals
    descriptions: list[str] = []
    for group, words in _GROUPS:
        if group <= left:
            descriptions.append(words)
            left = left - group
    listed = left - _UNLISTED if descriptions else left
    descriptions.extend(sorted(_terminal_name(terminal) for terminal in listed))
    return (
        ", ".join(descriptions[:-1]) + " or " + descriptions[-1]
        if len(descriptions) > 1
        else "".join(descriptions)
    )


def _terminal_name(terminal: str) -> str:
    return _TERMINAL_NAMES.get(terminal) or f"`{terminal.lstrip('_').lower()}`"


_ENDS = r"\s*(?:\)|\b(?:and|or|then|unless|for|since)\b|$)"
_BEGINS = r"(?:^|\(|\b(?:and|or|not|if|then|unless|any)\s)\s*"

# Each pattern is tried at the place of the problem; the first match that touches it gives the hint, in which `\\1` is the
# first group of the match.
_HINTS: tuple[tuple[re.Pattern[str], str], ...] = tuple(
    (re.compile(pattern), hint)
    for pattern, hint in (
        (r"==+", "write `=`"),
        (
            rf"\bis\s+(not\s+)?(\w+)\s*,\s*(\w+)\s*,?\s+or\s+(\w+)(?![.\w]){_ENDS}",
            r"write `is \1one of (\2, \3, \4)`",
        ),
        (
            rf"\bis\s+(not\s+)?(\w+)\s+or\s+(?:is\s+)?(?:not\s+)?(\w+)(?![.\w]){_ENDS}",
            r"write `is \1one of (\2, \3)`",
        ),
        (rf"{_BEGINS}(call\.\w+){_ENDS}", r"write `\1 happened`"),
        (rf"{_BEGINS}((?:flow|checklist)\.[\w.]+){_ENDS}", r"write `\1 is met`"),
        (
            rf"{_BEGINS}([A-Za-z_]\w*(?:\.[\w*]+)+){_ENDS}",
            r"say what it must be, such as `\1 is on` or `\1 > 5 kt`",
        ),
        (
            r"\b(?:happened|became)\b",
            "put the condition in brackets: `(...) happened`, `(...) became true`",
        ),
        (r"=[<>]", "write `<=` or `>=`"),
        (r"<>|≠|!==", "write `!=`"),
        (r"≤|⩽", "write `<=`"),
        (r"≥|⩾", "write `>=`"),
        (r"&&?", "write `and`"),
        (r"\|\|?", "write `or`"),
        (r"!(?!=)", "write `not`"),
        (r"[×·]", "write `*`"),
        (r"÷", "write `/`"),
        (r"±", "write `within 5 kg of ...`"),
        (r"[−–—]", "write the plain minus sign `-`"),
        (r"[\"'`“”‘’]", "write words and names without quotation marks"),
        (r"[{}\[\]]", "write round brackets `( )`"),
        (
            r"\b(AND|OR|NOT|IF|THEN|UNLESS|FOR|SINCE|ANY|IS|IN|WITHIN|BEFORE|AFTER)\b",
            "write the words of the language in small letters",
        ),
        (r"\b[0-9]{1,3}(\s[0-9]{3})+\b", "write the number without spaces, such as 2800"),
        (
            r"\b[0-9]{1,3}(['_,][0-9]{3})+\b",
            "write the number without marks between the thousands, such as 2800",
        ),
        (r"\b[0-9]+,[0-9]+\b", "write the decimal point, such as 2.5"),
        (r"(?<![\w.])\.[0-9]+", "write a digit before the point, such as 0.5"),
        (r"\b[0-9]+\.(?![0-9.])", "write a digit after the point, or none: 5.0 or 5"),
        (r"\b[0-9.]+[eE][+-]?[0-9]+", "write the number without an exponent"),
        (r"\+[0-9]", "write a positive number without a sign"),
        (r"\.\.\.+", "write two dots, such as `2800..3200 psi`"),
        (
            r"\b(in|swept)\s+-?[0-9.]+\s*(to|-|–|and)\s*-?[0-9.]+(\s*[A-Za-z%°][\w%°/]*)?",
            "write two dots, such as `in 2800..3200 psi`",
        ),
        (
            r"\b(in|swept)\s[^<>=]*?\bto\b",
            "write two dots, such as `in limit.a..limit.b`",
        ),
        (r"\bis\s+(above|over|more\s+than|greater\s+than)\s+\S+", "write `>`"),
        (r"\bis\s+(below|under|less\s+than|fewer\s+than)\s+\S+", "write `<`"),
        (
            r"\b(highest|lowest|average)\s+of\s+(size|highest|lowest|average|change|rate|count)\s*(of\b|\()",
            r"put brackets around it: `\1 of (\2 ...)`",
        ),
        (r"\b(highest|lowest|average|change|rate)\([^,()]*\)", r"write the time too: `\1(x, 10 s)`"),
        (r"\bcount\([^)]*", "count an event: `NAME became WORD`, or `(...) happened`"),
        (r"\babs\b\s*(\(|[\w.]+)?|\bsize(\s+of)?\s+[^\s(]+", "write `size of (...)`, with the brackets"),
        (
            r"\b(max|maximum|min|minimum|mean|avg|greatest|smallest)\b\s*(of\b|\()?",
            "write `highest of`, `lowest of` or `average of`, such as `highest of engine.*.egt`",
        ),
        (r"\bbetween\b", "write `in`, such as `in 2800..3200 psi`"),
        (r"\b(is\s+)?(above|over|exceeds|more|greater)(\s+than)?\b", "write `>`"),
        (r"\b(is\s+)?(below|under|less|fewer)(\s+than)?\b", "write `<`"),
        (
            r"\b(at\s+most|at\s+least|exactly)\s+(one|two|three|none|all)\b|\b(none|one|all)\s+of\b",
            "write the number: `at most 1 of (...)`, `exactly 1 of (...)`, `at most 0 of (...)`",
        ),
        (r"\b(is\s+)?at\s+least\b", "write `>=`"),
        (r"\b(is\s+)?at\s+most\b", "write `<=`"),
        (r"\b(equals?|equal\s+to)\b", "write `=` for a number, `is` for a word"),
        (r"\b(was\s+|been\s+)?(happened|said|made|called)\s+by\b", "write `call.X by captain happened`"),
        (r"\b(are|was|were|has|have|be)\b", "write `is`"),
        (r"\bbecomes?\b|\bturn(s|ed)\b|\bwent\b", "write `became`"),
        (
            r"\bmoved\b|\bhas changed\b|\bchanges\b",
            "write `changed`, such as `NAME changed within the last 10 s`",
        ),
        (r"\bhappens?\b|\boccurred\b", "write `happened`"),
        (
            r"\b(un)?till?\b|\bwill\b|\bsoon\b",
            "conditions look only backwards: use `for`, `since` or `before`",
        ),
        (r"\belse\b", "write two conditions: `(if a then b) and (if not a then c)`"),
        (r"\bwhile\b|\bwhen\b", "write `if a then b`"),
        (r"\bbut\b|;", "write `and`"),
        (
            r"\b(before|after)\b[^()]*\bwithin\s+[0-9.]+\s*\w+|\bwithin\s+[0-9.]+\s*(s|min|h|sec|seconds?|minutes?)\s+(of|from|before|since)\b",
            "write the time before `after`: `EVENT within 60 s after EVENT`",
        ),
        (
            r"\bwithin\s+[0-9.]+\s*(s|min|h|sec|seconds?|minutes?)\s*(?:$|\)|\b(and|or|then)\b)",
            "write `within 5 s after EVENT`, or for an event `EVENT within the last 5 s`",
        ),
        (
            r"\bwithin\s+the\s+last\b|\bwithin\s+the\b",
            "an event comes before `within the last`: `NAME became WORD`, or `(...) happened`",
        ),
        (
            r"\b(before|after)\b",
            "an event is needed on each side: `call.X happened`, `NAME became WORD`, or `(...) happened`",
        ),
        (r"(?:=|<|>)[^=<>()]*(?:=|<|>)", "compare two at a time: `x in 2..5 psi`, or join them with `and`"),
        (r"\bif\b", "put the `if ... then ...` in brackets"),
        (
            r"[A-Za-z_)][\w.]*\s*[*/]\s*[A-Za-z_(]",
            "the factor is a number, plain or a rate such as `318 ft/NM`; for a product of two signals write a figure",
        ),
        (r"[*/]\s*[A-Za-z_(]", "multiply and divide by a number, which comes last: `x * 2`, `x * 318 ft/NM`"),
        (r"\bnot\s+in\b", "write `not` first: `not x in 2..5 psi`"),
        (r"\bif\b[^,]*,", "write `then` after the condition of `if`"),
        (r",", "write `and` between two conditions"),
    )
)


_WORDS = (
    "after", "and", "any", "became", "before", "changed", "happened", "not", "since", "swept", "then", "unless",
    "within",
)  # fmt: skip


def hint_to_word(written: str) -> str:
    """Give the hint to a word of the language that was mistyped, '' for none."""
    return did_you_mean(written, _WORDS) if len(written) > 2 else ""


def hint_at(text: str, offset: int) -> str:
    """Give the hint for the mistake at an offset, '' where none is known."""
    end = len(text.rstrip())
    for pattern, hint in _HINTS:
        for match in pattern.finditer(text):
            at_end = offset == end == match.end()
            if at_end or match.start() <= offset < max(match.end(), match.start() + 1):
                return match.expand(hint)
    return ""
