"""A `*` with two readings: under `not`, in a list that is counted, and after a short `any`.

In `not engine.*.n2 > 5 %` the `*` means every match, so the text would mean "not all"; most readers take it for "none".
It is refused.  Both can be said without doubt:

    not any engine.*.n2 > 5 %                                none
    any engine.*.n2 <= 5 %                                   not all
    if engine.*.fire is on then not engine.*.valve is open   the `*` is one engine outside the `not`: no doubt
    door.*.state is not closed                               the comparison itself, for each door: no doubt

In `any engine.*.fire is on and engine.*.valve is closed` the `any` ends at the `and`, so that one engine burns and all valves
are closed; most readers take it for one engine with both.  With brackets after `any` it is that.

In `at most 1 of (pump.*.switch is off, lights.beacon is off)` all pumps together would count as one; readers count each.

Takes: the innermost `not` of a `CheckContext`, and the wildcards whose scope is inside it; lists.  Gives: problems.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable

from rules.language import syntax
from rules.language.check.context import CheckContext, WildcardGroup
from rules.language.check.wildcards import wildcard_names
from rules.words import join_and

_LONGEST_QUOTE = 70
"""Maximum length of a condition that a hint repeats, in characters."""

_END_OF_OPERAND = re.compile(r"[(),]|(?<![\w.])(?:and|or|then|unless)(?![\w.])")
_OPERATOR = re.compile(r"!=|<=|>=|=|<|>")
_OPPOSITES = {"=": "!=", "!=": "=", "<": ">=", ">=": "<", ">": "<=", "<=": ">"}


def refuse_negated(context: CheckContext, groups: Iterable[WildcardGroup]) -> None:
    """Add a problem where one of these wildcards has its scope inside a `not`.

    Args:
        context: Collects the problems.
        groups: Wildcards whose scope is the present node.
    """
    node = context.negation
    if node is None or not any(_is_doubtful(context, group) for group in groups):
        return
    names = [
        name.path
        for name in wildcard_names(node.part)
        if _is_doubtful(context, context.wildcard_group(name.path))
    ]
    context.add_problem(
        node.offset,
        f"`not` with {join_and(dict.fromkeys(names))} can mean none or not all",
        "`not any`, or `any` of the opposite",
        _hint(context, node, {context.wildcard_group(name) for name in names}),
    )


def refuse_listed(context: CheckContext, node: syntax.NumberOfExpr) -> None:
    """Add a problem where a condition of a counted list has a `*` of its own."""
    for part in node.parts:
        for name in wildcard_names(part):
            if _is_doubtful(context, context.wildcard_group(name.path)):
                context.add_problem(
                    name.offset,
                    f"{name.path} in a list can count once or once for each match",
                    "a list without `*`, or one condition with a `*`",
                    f"write `{node.bound} N of` before one condition with a `*`, put `any` before it, or write out the names",
                )
                break


def refuse_short_any(context: CheckContext, node: syntax.AndExpr) -> None:
    """Add a problem where a part after `any COND and` has the `*` of COND."""
    for number, part in enumerate(node.parts):
        if not isinstance(part, syntax.AnyExpr):
            continue
        groups = {context.wildcard_group(name.path) for name in wildcard_names(part.part)}
        for later in node.parts[number + 1 :]:
            name = next(
                (
                    n
                    for n in wildcard_names(later)
                    if context.wildcard_group(n.path) in groups
                    and _is_doubtful(context, context.wildcard_group(n.path))
                ),
                None,
            )
            if name is not None:
                context.add_problem(
                    part.offset,
                    f"`any` ends before {name.path}, which can mean the same match or all",
                    "brackets after `any`, or the part without `any` first",
                    "write `any (... and ...)` for one match with both, or put what is about all matches first",
                )
                return


def _is_doubtful(context: CheckContext, group: WildcardGroup) -> bool:
    """True for a wildcard of several words that is not bound outside."""
    return len(group) > 1 and group not in context.shared_outside and group not in context.wildcard_words


def _hint(context: CheckContext, node: syntax.NotExpr, groups: Collection[WildcardGroup]) -> str:
    """Give both readings in writing."""
    if len(groups) > 1:
        return "put `any` before each condition with a `*`, or write out the names of one of them"
    operand = _operand(context.text, node.offset + len("not"))
    if len(operand) > _LONGEST_QUOTE:
        return "write `not any (...)` for none, or `any (not ...)` for not all"
    return f"write `not any {operand}` for none, or `any {_opposite(node.part, operand)}` for not all"


def _operand(text: str, start: int) -> str:
    """Give the text of what a `not` negates: up to the next `and`, `or`, `then`, comma or bracket of its own level."""
    depth = 0
    for found in _END_OF_OPERAND.finditer(text, start):
        if found[0] == "(":
            depth += 1
        elif depth == 0:
            return " ".join(text[start : found.start()].split())
        elif found[0] == ")":
            depth -= 1
    return " ".join(text[start:].split())


def _opposite(node: syntax.ConditionExpr, operand: str) -> str:
    """Give the text of the opposite of a condition, as a comparison where it is one."""
    if isinstance(node, syntax.IsExpr):
        return re.sub(r"\bis not\b", "is", operand) if node.negated else re.sub(r"\bis\b", "is not", operand)
    if isinstance(node, syntax.CompareExpr) and len(_OPERATOR.findall(operand)) == 1:
        return _OPERATOR.sub(lambda sign: _OPPOSITES[sign[0]], operand)
    return f"(not {operand})"
