"""Conditions and events: joined, expanded over `*`, and known to be able to change.

Takes: conditions as written.  Gives: checked ones, or faults at the desk.
"""

from __future__ import annotations

from collections.abc import Sequence

from rules.language import checked, tree
from rules.language.check.compare import compare, in_range, near, sweep
from rules.language.check.names import Desk
from rules.language.check.settled import Can, can
from rules.language.check.stars import direct_stars, matches, stars
from rules.language.check.units import seconds_of
from rules.language.check.why import why_settled
from rules.language.check.words import has_word


def condition(desk: Desk, node: tree.Condition) -> checked.Condition | None:
    """Check a condition.

    Args:
        desk: Where faults are noted.
        node: As written.

    Returns:
        The checked condition; None where a fault was noted, or where everything that it reads is
        dispatched inoperative.
    """
    before = len(desk.slips)
    made = _made(desk, node)
    if made is not None and len(desk.slips) == before and not desk.word:
        _refuse_settled(desk, node, made)
    return made


def _refuse_settled(desk: Desk, node: tree.Condition, made: checked.Condition) -> None:
    """Note a fault where a condition is always the same."""
    mask = can(made)
    if mask != Can.BOTH:
        never = mask == Can.FALSE
        what = "this is never true" if never else "this is always true"
        desk.fault(node.at, what, "a condition that can change", why_settled(made, never=never))


def _made(desk: Desk, node: tree.Condition) -> checked.Condition | None:
    """One node: `any` and a `*` are expanded here, all else below."""
    if isinstance(node, tree.AnyOf):
        if not stars(node.part):
            desk.fault(
                node.at, "`any` without a `*`", "a name with `*`", "write such as `any engine.*.n2 > 5 %`"
            )
            return condition(desk, node.part)
        return _expanded(desk, node.part, each=False)
    if direct_stars(node) and not desk.word:
        return _expanded(desk, node, each=True)
    match node:
        case tree.All() | tree.Either() | tree.Opposite() | tree.Implies():
            return _joined(desk, node)
        case tree.Held() | tree.Occurred() | tree.Recent() | tree.Order() | tree.Since():
            return _timed(desk, node)
        case tree.Compare():
            return compare(desk, node, event)
        case tree.InRange():
            return in_range(desk, node, event)
        case tree.Near():
            return near(desk, node, event)
        case tree.Is(name, words, negated):
            return has_word(desk, name, words, node.marks, negated=negated)


def _expanded(desk: Desk, node: tree.Condition, *, each: bool) -> checked.Condition | None:
    """A condition for every word that its `*` stands for; the first word with a fault speaks for all."""
    parts: list[checked.Condition] = []
    for word in matches(desk, stars(node)):
        before = len(desk.slips)
        with desk.standing_for(word):
            part = condition(desk, node)
        if len(desk.slips) > before:
            return None
        if part is not None:
            parts.append(part)
    if len(parts) < 2:
        return parts[0] if parts else None
    return checked.All(tuple(parts), each=True) if each else checked.Either(tuple(parts))


def _joined(
    desk: Desk, node: tree.All | tree.Either | tree.Opposite | tree.Implies
) -> checked.Condition | None:
    """`and`, `or`, `not`, `if`; a part that is wholly inoperative drops out."""
    match node:
        case tree.Opposite(part):
            inner = condition(desk, part)
            return None if inner is None else checked.Opposite(inner)
        case tree.Implies(when, then):
            first, second = condition(desk, when), condition(desk, then)
            return None if first is None or second is None else checked.Implies(first, second)
        case tree.All(parts):
            kept = _kept(desk, parts)
            return kept[0] if len(kept) == 1 else checked.All(kept) if kept else None
        case tree.Either(parts):
            kept = _kept(desk, parts)
            return kept[0] if len(kept) == 1 else checked.Either(kept) if kept else None


def _kept(desk: Desk, parts: Sequence[tree.Condition]) -> tuple[checked.Condition, ...]:
    made = [condition(desk, part) for part in parts]
    return tuple(part for part in made if part is not None)


def _timed(
    desk: Desk, node: tree.Held | tree.Occurred | tree.Recent | tree.Order | tree.Since
) -> checked.Condition | None:
    """What depends on the past."""
    match node:
        case tree.Held(part, span):
            inner, seconds = condition(desk, part), seconds_of(desk, span)
            return None if inner is None or seconds is None else checked.Held(inner, seconds)
        case tree.Occurred(happening):
            first = event(desk, happening)
            return None if first is None else checked.Occurred(first)
        case tree.Recent(happening, span):
            first, seconds = event(desk, happening), seconds_of(desk, span)
            return None if first is None or seconds is None else checked.Recent(first, seconds)
        case tree.Order(happening, relation, other):
            first, second = event(desk, happening), event(desk, other)
            return None if first is None or second is None else checked.Order(first, relation, second)
        case tree.Since(part, happening):
            inner, first = condition(desk, part), event(desk, happening)
            return None if inner is None or first is None else checked.Since(inner, first)


def event(desk: Desk, node: tree.Event) -> checked.Event | None:
    """Check an event; None where a fault was noted or everything that it reads is inoperative."""
    match node:
        case tree.Swept():
            return sweep(desk, node, event)
        case tree.Happened(tree.Name() as name):
            return _call(desk, name)
        case tree.Became(tree.Name() as name, word):
            part = has_word(desk, name, (word,), node.marks)
            return None if part is None else checked.Rise(part)
        case tree.Happened(subject):
            part = None if isinstance(subject, tree.Name) else condition(desk, subject)
            return None if part is None else checked.Whenever(part)
        case tree.Became(subject):
            part = None if isinstance(subject, tree.Name) else condition(desk, subject)
            return None if part is None else checked.Rise(part)


def _call(desk: Desk, name: tree.Name) -> checked.Event | None:
    """`call.NAME happened`; nothing else happens by its name alone."""
    path = desk.full(name.path)
    key = path.removeprefix("call.")
    if path != key and key in desk.scope.calls:
        return checked.CallMade(key, desk.scope.calls[key])
    signal = desk.scope.signals.get(path)
    if signal is not None:
        said = f"{path} became {signal.words[-1]}" if signal.words else f"({path} > ...) happened"
        desk.fault(name.at, f"{path} is a signal, which does not happen", "a call", f"write `{said}`")
    elif desk.scope.items_named(path):
        desk.fault(name.at, f"{path} is an item", "a call", f"write `({path} is met) happened`")
    elif path.removeprefix("limit.") in desk.scope.limits:
        desk.fault(name.at, f"{path} is a number", "a call", f"write `(NAME > {path}) happened`")
    else:
        desk.unknown(name.at, path)
    return None
