"""Sends a strip to a client as it grows: each row once and in order, and the words beside it when they change.

Takes: a rig, what fills templates, and which strip the client wants.  Gives: `Tracer`, one for each client, as an extra of its stream.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from bridge.page.traces import ENDS, Trace, chosen, listed, quantities, short_labels
from bridge.rig import Rig

CARD = "trace_card.html"
LONGEST_KEY = 80

Piece = Callable[[str, Mapping[str, object]], str]
"""Makes the text of a template."""


def card(rig: Rig, trace: Trace | None, *, asked: bool) -> Mapping[str, object]:
    """What the card of a strip shows.

    Args:
        rig: the device.
        trace: the strip, None where there is none yet.
        asked: whether somebody chose it, so that it does not give way to a newer one.
    """
    key = trace.key if trace is not None else ""
    return {
        "trace": trace,
        "standing": "" if trace is None else ENDS[trace.end] if trace.end else "running",
        "quantities": () if trace is None else quantities(trace),
        "others": listed(rig, key),
        "asked": asked,
        "device": rig.id,
        "seats": rig.pack.seats,
    }


class Tracer:
    """What one client has of the strip that it shows."""

    def __init__(self, rig: Rig, piece: Piece, key: str = "") -> None:
        """It has nothing yet.

        Args:
            rig: the device.
            piece: makes the text of a template.
            key: the strip that it wants; '' for the engine start that runs or was last.
        """
        self._rig = rig
        self._piece = piece
        self._key = key[:LONGEST_KEY]
        self._has: str | None = None
        self._rows = 0
        self._text = ""

    def __call__(self) -> list[tuple[str, object]]:
        """What is new: nothing, or one event."""
        trace = chosen(self._rig, self._key)
        text = self._piece(CARD, card(self._rig, trace, asked=bool(self._key)))
        key = trace.key if trace is not None else ""
        fresh = key != self._has
        rows = [] if trace is None else trace.rows(0 if fresh else self._rows)
        if not fresh and not rows and text == self._text:
            return []
        event: dict[str, object] = {"key": key, "fresh": fresh, "rows": rows}
        if text != self._text:
            event["text"] = text
        if trace is not None:
            event |= _frame(trace) if fresh else {}
            event["marks"] = [[round(mark.sim_s - trace.began_s, 3), mark.label] for mark in trace.marks]
        self._has, self._text = key, text
        self._rows = len(trace.times_s) if trace is not None else 0
        return [("trace", event)]


def _frame(trace: Trace) -> dict[str, object]:
    """What is drawn around the rows."""
    labels = short_labels([column.label for column in trace.drawn])
    columns = [
        {
            "label": label,
            "unit": column.unit,
            "limits": [[limit.value, limit.label] for limit in trace.limits if limit.signal == column.signal],
        }
        for column, label in zip(trace.drawn, labels, strict=True)
    ]
    return {"columns": columns}
