"""Checks of requests by the crew and the instructor, with a hint where one is refused.

Takes: a name and the names that are known.  Gives: the item or name, or `InputFaults`.
"""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

from rules.faults import Fault, InputFaults, Place
from rules.judge.items import Items, ItemState
from rules.packs.model import Pack, declared_id
from rules.signals.model import TRIP_PREFIX
from rules.source import did_you_mean, hint_of, unknown_fault
from rules.words import join_or

MAX_SUGGESTIONS = 3
"""Ids in a hint."""


def known_call(pack: Pack, name: str, verb: str = "call") -> str:
    """Check the name of a call; `verb` is the request."""
    return _known(verb, "call", name, pack.calls)


def not_called_error(name: str, called: Iterable[str]) -> InputFaults:
    """Error for a call that cannot be undone because it is not in effect."""
    in_effect = ", ".join(called)
    hint = (
        f"calls in effect: {in_effect}"
        if in_effect
        else "no call was entered yet, or the flight went back to a phase before it"
    )
    return _refusal("undo-call", f"{name} has not been called", "a call that was made", hint)


def known_trip_signal(pack: Pack, name: str) -> str:
    """Check the name of a signal of the trip sheet."""
    return _known(
        "amend", "value of the trip sheet", name, [n for n in pack.signals if n.startswith(TRIP_PREFIX)]
    )


def known_items(items: Items, name: str, verb: str) -> list[ItemState]:
    """Find an item, or all matches of an item with a `*`; `verb` is the request."""
    found = [state for item, state in items.states.items() if name in (item, declared_id(item))]
    if not found:
        raise _refusal(verb, f"unknown item {name}", "one that the pack has", _item_hint(name, items.states))
    return found


def confirmable_item(items: Items, name: str) -> ItemState:
    """Find an item that no signal shows: only such an item can be confirmed."""
    state = known_items(items, name, "confirm")[0]
    if state.item.condition is not None:
        what = f"{name} cannot be confirmed: a signal shows its state"
        raise _refusal("confirm", what, "an item that no signal can show")
    return state


def confirming_seat(pack: Pack, state: ItemState, seat: str) -> str:
    """Check the seat that confirms; '' for the seat that owns the item."""
    return _known("confirm", "seat", seat, pack.seats) if seat else state.item.seat


def waivable_items(items: Items, name: str) -> list[ItemState]:
    """Find an item that is not waived, or the matches of an item with a `*` that are not."""
    found = known_items(items, name, "waive")
    counting = [state for state in found if not state.waived]
    if not counting:
        undo = f"undo its waiver first: undo-waiver {name}" if found[0].waiver_can_be_undone else ""
        what = f"{name} is waived already: {items.waiver_text(found[0])}"
        raise _refusal("waive", what, "an item that is not waived", undo)
    return counting


def waived_items(items: Items, name: str) -> list[ItemState]:
    """Find an item that was waived by request, or the matches of an item with a `*` that were."""
    found = known_items(items, name, "undo-waiver")
    waived = [state for state in found if state.waiver_can_be_undone]
    if waived:
        return waived
    of_sheet = next((state for state in found if state.waived), None)
    if of_sheet is not None:
        what = f"{name} is waived by the trip sheet: {of_sheet.waived}"
        hint = "take it off `inoperative` in the trip sheet, and start the watch with that sheet"
        raise _refusal("undo-waiver", what, "an item that was waived by request", hint)
    others = [state.id for state in items.states.values() if state.waiver_can_be_undone]
    hint = f"waived by request: {', '.join(others)}" if others else "no item was waived by request"
    raise _refusal("undo-waiver", f"{name} is not waived", "an item that was waived by request", hint)


def waiver_reason(name: str, reason: str) -> str:
    """Check the reason for a waiver, which must not be empty."""
    if not reason.strip():
        raise _refusal("waive", f"{name} cannot be waived without a reason", "a reason")
    return reason.strip()


def _item_hint(name: str, ids: Iterable[str]) -> str:
    """Suggest the ids that contain the last word of a name, the most similar first; else a similar id, or the form."""
    word = name.casefold().rpartition(".")[2]
    containing = [item_id for item_id in ids if word and word in item_id]
    nearest = get_close_matches(name, containing, MAX_SUGGESTIONS, cutoff=0.0)
    if nearest:
        return hint_of(join_or(nearest))
    return did_you_mean(name, ids) or "ids have the form flow.FLOW.ITEM"


def _known(verb: str, kind: str, name: str, among: Iterable[str]) -> str:
    """Check a name."""
    names = list(among)
    if name not in names:
        raise InputFaults([unknown_fault(Place(verb), kind, name, names, "one that the pack has")])
    return name


def _refusal(verb: str, problem: str, expected: str, hint: str = "") -> InputFaults:
    """Error of a refused request."""
    return InputFaults([Fault(Place(verb), problem, expected, hint)])
