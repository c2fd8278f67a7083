"""Checks of events that are named by one name: a call that happened, a signal that changed.

Takes: names as written.  Gives: checked events, or problems in the `CheckContext`.
"""

from __future__ import annotations

from rules.language import checked_tree, syntax
from rules.language.check.context import CheckContext, describe_kind
from rules.signals.model import CALL_PREFIX, SignalKind
from rules.source import hint_of
from rules.source.suggestions import nearest_word
from rules.words import join_or


def check_call(
    context: CheckContext, name: syntax.NameExpr, speaker: str = "", offsets: tuple[int, ...] = ()
) -> checked_tree.Event | None:
    """Check `call.NAME happened` and `call.NAME by SPEAKER happened`; only a call can happen by its name alone."""
    path, speakers = context.expand(name.path), context.scope.speakers
    key = path.removeprefix(CALL_PREFIX)
    if speaker and speaker not in speakers:
        hint = hint_of(nearest_word(speaker, speakers))
        context.add_problem(offsets[0], f"unknown speaker {speaker}", join_or(speakers), hint)
        return None
    if path != key and key in context.scope.calls:
        others = tuple(other for other in speakers if other != speaker) if speaker else ()
        missing = context.scope.missing_calls.get(key, "")
        return checked_tree.CallEvent(key, context.scope.calls[key], speaker, others, missing)
    signal = context.scope.signals.get(path)
    if signal is not None:
        example = f"{path} became {signal.words[-1]}" if signal.words else f"({path} > ...) happened"
        context.add_problem(
            name.offset, f"{path} is a signal, which does not happen", "a call", f"write `{example}`"
        )
    elif context.scope.items_named(path):
        context.add_problem(name.offset, f"{path} is an item", "a call", f"write `({path} is met) happened`")
    elif path.removeprefix("limit.") in context.scope.limits:
        context.add_problem(name.offset, f"{path} is a number", "a call", f"write `(NAME > {path}) happened`")
    else:
        context.report_unknown(name.offset, path)
    return None


def check_changed(context: CheckContext, name: syntax.NameExpr) -> checked_tree.Event | None:
    """Check `NAME changed`; a measured number changes all the time, so only words and counts do."""
    path = context.expand(name.path)
    signal = context.scope.signals.get(path)
    if signal is not None and (not signal.is_numeric or signal.kind is SignalKind.COUNT):
        return checked_tree.Changed(signal)
    if signal is not None:
        unit = "" if signal.unit in ("", "1") else f" {signal.unit}"
        context.add_problem(
            name.offset,
            f"{path} is {describe_kind(signal)}",
            "a signal with words",
            f"write `size of (change({path}, 10 s)) > 5{unit}`",
        )
    elif context.scope.items_named(path):
        hint = f"write `({path} is met) became true`"
        context.add_problem(name.offset, f"{path} is an item", "a signal with words", hint)
    elif path.removeprefix(CALL_PREFIX) in context.scope.calls:
        hint = f"write `{path} happened`"
        context.add_problem(name.offset, f"{path} is a call", "a signal with words", hint)
    else:
        context.report_unknown(name.offset, path)
    return None
