"""Words: `is` and `became`, checked against the words that a signal can have.

Takes: a name and the words beside it.  Gives: `WordIs`, `SameWord` or `ItemMet`, or faults at the desk.
"""

from __future__ import annotations

from rules.language import checked, tree
from rules.language.check.names import Desk, kind_of
from rules.signals.model import Signal
from rules.source.words import join_or, nearest

_YES = frozenset({"true", "yes", "on", "1", "active", "set"})
_NO = frozenset({"false", "no", "off", "0", "inactive"})


def has_word(
    desk: Desk, name: tree.Name, words: tuple[str, ...], marks: tuple[int, ...], *, negated: bool = False
) -> checked.Condition | None:
    """Check that a signal (or item) can have one of these words.

    Args:
        desk: Where faults are noted.
        name: What has the word.
        words: Words, or one name of another signal.
        marks: The offsets of the words.
        negated: True for `is not`.

    Returns:
        The checked condition, None where a fault was noted.
    """
    path = desk.full(name.path)
    signal = desk.scope.signals.get(path)
    if signal is None:
        return _item(desk, name, words, marks, negated=negated)
    if signal.numeric:
        _refuse_number(desk, name, signal, words[0])
        return None
    other = desk.scope.signals.get(desk.full(words[0])) if words[0] not in signal.words else None
    if other is not None and len(words) == 1:
        return _same(desk, signal, other, marks[0], negated=negated)
    good = [_fits(desk, signal, word, at) for word, at in zip(words, marks, strict=True)]
    return checked.WordIs(signal, words, negated) if all(good) else None


def _item(
    desk: Desk, name: tree.Name, words: tuple[str, ...], marks: tuple[int, ...], *, negated: bool
) -> checked.Condition | None:
    """`flow.KEY is met`; any other name that is no signal is a fault."""
    path = desk.full(name.path)
    kind = path.partition(".")[0]
    if kind == "call":
        desk.fault(name.at, f"{path} has no words", "`happened`", f"write `{path} happened`")
        return None
    if kind == "limit" and path[6:] in desk.scope.limits:
        desk.fault(name.at, f"{path} is a number", "a signal with words", f"write `NAME < {path}`")
        return None
    if kind in ("flow", "checklist") and words != ("met",):
        desk.fault(
            marks[0], f"an item is not {words[0]}", "met", f"write `{path} is met` or `{path} is not met`"
        )
        words = ("met",)
    item = desk.item(name)
    if item is None or words != ("met",):
        return None
    met = checked.ItemMet(item, desk.scope.items[item])
    return checked.Opposite(met) if negated else met


def _refuse_number(desk: Desk, name: tree.Name, signal: Signal, word: str) -> None:
    """`is` beside a number: say how the comparison is written."""
    unit = "" if signal.unit in ("", "1") else f" {signal.unit}"
    number = word if word.replace(".", "", 1).isdigit() else "5"
    path = desk.full(name.path)
    desk.fault(
        name.at,
        f"{path} is {kind_of(signal)}, not a word",
        "`=`, `<`, `in` or `within`",
        f"write `{path} = {number}{unit}`",
    )


def _same(desk: Desk, left: Signal, right: Signal, at: int, *, negated: bool) -> checked.Condition | None:
    """Two signals with words: they must have one in common."""
    if right.numeric:
        desk.fault(at, f"{right.name} is {kind_of(right)}", f"a signal with words, as {left.name} has")
        return None
    if left.words and right.words and not set(left.words) & set(right.words):
        desk.fault(
            at,
            f"{right.name} has no word in common with {left.name}",
            f"a signal that can be {join_or(left.words)}",
        )
        return None
    return checked.SameWord(left, right, negated)


def _fits(desk: Desk, signal: Signal, word: str, at: int) -> bool:
    """Whether the signal can have this word; notes a fault where not."""
    if desk.full(word) in desk.scope.signals and word not in signal.words:
        desk.fault(at, f"{word} is a signal, not a word", join_or(signal.words) or "words alone in a list")
        return False
    if "." in word:
        desk.unknown(at, desk.full(word))
        return False
    if not signal.words and len(word) > signal.longest > 0:
        desk.fault(at, f"{word} is too long for {signal.name}", f"at most {signal.longest} characters")
        return False
    if not signal.words or word in signal.words:
        return True
    meant = _meant(signal, word)
    hint = f"did you mean {meant}?" if meant else ""
    desk.fault(at, f"{signal.name} is never {word}", join_or(signal.words), hint)
    return False


def _meant(signal: Signal, word: str) -> str:
    """The word that was probably meant; of a switch also by what `true`, `off` and the like say."""
    near = nearest(word, signal.words)
    if near or len(signal.words) != 2:
        return near
    return signal.words[1] if word.lower() in _YES else signal.words[0] if word.lower() in _NO else ""
