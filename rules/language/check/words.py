"""Checks of `is` and `became` against the words that a signal can have.

Takes: a name and the words beside it.  Gives: `WordIs`, `SameWord` or `ItemMet`, or problems in the `CheckContext`.
"""

from __future__ import annotations

from rules.language import checked_tree, syntax
from rules.language.check.context import CheckContext, describe_kind
from rules.signals.model import Signal
from rules.source import hint_of
from rules.source.suggestions import nearest_word
from rules.words import join_or

_YES = frozenset({"true", "yes", "on", "1", "active", "set"})
_NO = frozenset({"false", "no", "off", "0", "inactive"})


def check_words(
    context: CheckContext,
    name: syntax.NameExpr,
    words: tuple[str, ...],
    offsets: tuple[int, ...],
    *,
    negated: bool = False,
) -> checked_tree.Condition | None:
    """Check that a signal (or item) can have one of these words.

    Args:
        context: Collects the problems.
        name: The signal or item.
        words: Words, or one name of another signal.
        offsets: The offsets of the words.
        negated: True for `is not`.

    Returns:
        The checked condition, None after a problem.
    """
    path = context.expand(name.path)
    signal = context.scope.signals.get(path)
    if signal is None:
        return _check_item(context, name, words, offsets, negated=negated)
    if signal.is_numeric:
        _refuse_number(context, name, signal, words[0])
        return None
    other = context.scope.signals.get(context.expand(words[0])) if words[0] not in signal.words else None
    if other is not None and len(words) == 1:
        return _check_same_word(context, signal, other, offsets[0], negated=negated)
    good = [_check_word(context, signal, word, at) for word, at in zip(words, offsets, strict=True)]
    return checked_tree.WordIs(signal, words, negated) if all(good) else None


def _check_item(
    context: CheckContext,
    name: syntax.NameExpr,
    words: tuple[str, ...],
    offsets: tuple[int, ...],
    *,
    negated: bool,
) -> checked_tree.Condition | None:
    """Check `flow.KEY is met`; refuse any other name that is no signal."""
    path = context.expand(name.path)
    kind = path.partition(".")[0]
    if kind == "call":
        context.add_problem(name.offset, f"{path} has no words", "`happened`", f"write `{path} happened`")
        return None
    if kind == "limit" and path[6:] in context.scope.limits:
        context.add_problem(
            name.offset, f"{path} is a number", "a signal with words", f"write `NAME < {path}`"
        )
        return None
    if kind in ("flow", "checklist") and words != ("met",):
        context.add_problem(
            offsets[0], f"an item is not {words[0]}", "met", f"write `{path} is met` or `{path} is not met`"
        )
        words = ("met",)
    item = context.find_item(name)
    if item is None or words != ("met",):
        return None
    matches = [checked_tree.ItemMet(name, label) for name, label in context.scope.matches_of(item).items()]
    met = matches[0] if len(matches) == 1 else checked_tree.And(tuple(matches), from_wildcard=True)
    return checked_tree.Not(met) if negated else met


def _refuse_number(context: CheckContext, name: syntax.NameExpr, signal: Signal, word: str) -> None:
    """Refuse `is` beside a number, with the form of the comparison as a hint."""
    unit = "" if signal.unit in ("", "1") else f" {signal.unit}"
    amount = f"{word if word.replace('.', '', 1).isdigit() else '5'}{unit}"
    path = context.expand(name.path)
    context.add_problem(
        name.offset,
        f"{path} is {describe_kind(signal)}, not a word",
        "`=`, `<`, `in` or `within`",
        f"write `{path} = {word if _is_number_name(context, word) else amount}`",
    )


def _is_number_name(context: CheckContext, word: str) -> bool:
    """Check that a word is the name of a number: a signal, a value of the trip sheet or a limit."""
    path = context.expand(word)
    signal = context.scope.signals.get(path)
    is_limit = path.startswith("limit.") and path[6:] in context.scope.limits
    return is_limit or (signal is not None and signal.is_numeric)


def _check_same_word(
    context: CheckContext, left: Signal, right: Signal, at: int, *, negated: bool
) -> checked_tree.Condition | None:
    """Check that two signals have a word in common."""
    if right.is_numeric:
        context.add_problem(
            at, f"{right.name} is {describe_kind(right)}", f"a signal with words, as {left.name} has"
        )
        return None
    if left.words and right.words and not set(left.words) & set(right.words):
        context.add_problem(
            at,
            f"{right.name} has no word in common with {left.name}",
            f"a signal that can be {join_or(left.words)}",
        )
        return None
    return checked_tree.SameWord(left, right, negated)


def _check_word(context: CheckContext, signal: Signal, word: str, at: int) -> bool:
    """Check that the signal can have this word."""
    if context.expand(word) in context.scope.signals and word not in signal.words:
        context.add_problem(
            at, f"{word} is a signal, not a word", join_or(signal.words) or "words alone in a list"
        )
        return False
    if "." in word:
        context.report_unknown(at, context.expand(word))
        return False
    if not signal.words and len(word) > signal.max_length > 0:
        context.add_problem(
            at, f"{word} is too long for {signal.name}", f"at most {signal.max_length} characters"
        )
        return False
    if not signal.words or word in signal.words:
        return True
    meant = _intended_word(signal, word)
    hint = hint_of(meant)
    context.add_problem(at, f"{signal.name} is never {word}", join_or(signal.words), hint)
    return False


def _intended_word(signal: Signal, word: str) -> str:
    """Suggest the intended word; for a switch also from `true`, `off` and the like."""
    near = nearest_word(word, signal.words)
    if near or len(signal.words) != 2:
        return near
    return signal.words[1] if word.lower() in _YES else signal.words[0] if word.lower() in _NO else ""
