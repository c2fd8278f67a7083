"""Requests of the crew and the instructor: what can be granted, and why the rest cannot.

Takes: a name and what is known.  Gives: what the name stands for, or `InputFaults` with a hint.
"""

from __future__ import annotations

from collections.abc import Iterable

from rules.faults import Fault, InputFaults, Place
from rules.judge.items import Items, ItemState
from rules.packs.model import Pack
from rules.source import did_you_mean


def known_call(pack: Pack, name: str, verb: str = "call") -> str:
    """A call of the pack, for which `verb` was asked."""
    return _known(verb, "call", name, pack.calls)


def not_called_error(name: str, called: Iterable[str]) -> InputFaults:
    """Why a call cannot be taken back: it does not stand."""
    stands = ", ".join(called)
    hint = f"these were: {stands}" if stands else "no call was made yet, or the flight came back to before it"
    return _refusal("undo-call", f"{name} was not called", "a call that was made", hint)


def known_trip_signal(pack: Pack, name: str) -> str:
    """A signal of the trip sheet."""
    return _known("update-trip", "paper", name, [n for n in pack.signals if n.startswith("trip.")])


def known_item(items: Items, name: str, verb: str) -> ItemState:
    """An item of the pack, for which `verb` was asked."""
    return items.states[_known(verb, "item", name, items.states)]


def confirmable_item(items: Items, name: str) -> ItemState:
    """An item that no signal can show: only there the crew's word counts."""
    state = known_item(items, name, "confirm")
    if state.item.condition is not None:
        what = f"{name} cannot be confirmed: the aeroplane shows whether it is so"
        raise _refusal("confirm", what, "an item that no signal can show")
    return state


def confirming_seat(pack: Pack, state: ItemState, seat: str) -> str:
    """Who confirms: a seat of the pack; '' for the one that owns the item."""
    return _known("confirm", "seat", seat, pack.seats) if seat else state.item.seat


def waiver_reason(name: str, by: str, reason: str) -> str:
    """The words of an excuse; it must say something."""
    if not reason.strip():
        raise _refusal("waive", f"{name} cannot be waived without a reason", "a reason")
    return f"{reason.strip()} ({by})" if by else reason.strip()


def _known(verb: str, kind: str, name: str, among: Iterable[str]) -> str:
    """A name that is known."""
    names = list(among)
    if name not in names:
        raise _refusal(verb, f"unknown {kind} {name}", "one that the pack has", did_you_mean(name, names))
    return name


def _refusal(verb: str, problem: str, expected: str, hint: str = "") -> InputFaults:
    """A request that cannot be granted."""
    return InputFaults([Fault(Place(verb), problem, expected, hint)])
