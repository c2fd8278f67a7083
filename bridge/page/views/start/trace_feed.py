"""Sends a strip to a client as it grows: each row once and in order, and the words beside it when they change.

Takes: a rig, what fills templates, and which strip the client wants.  Gives: `Tracer`, one for each client, as an extra of its stream.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from bridge.page.views.start.trace_view import (
    END_TEXTS,
    TraceView,
    select_trace,
    short_labels,
    trace_choices,
    trace_quantities,
)
from bridge.runtime.device import Device

CARD_TEMPLATE = "trace_card.html"
MAX_KEY_LENGTH = 80

TemplateRenderer = Callable[[str, Mapping[str, object]], str]
"""Makes the text of a template."""


def card_values(device: Device, trace: TraceView | None, *, pinned: bool) -> Mapping[str, object]:
    """What the card of a strip shows.

    Args:
        device: the device.
        trace: the strip, None where there is none yet.
        pinned: whether somebody chose it, so that it does not give way to a newer one.
    """
    key = trace.key if trace is not None else ""
    return {
        "trace": trace,
        "standing": "" if trace is None else END_TEXTS[trace.end] if trace.end else "running",
        "quantities": () if trace is None else trace_quantities(trace),
        "others": trace_choices(device, key),
        "asked": pinned,
        "device": device.id,
        "seats": device.pack.seats,
    }


class TraceFeed:
    """What one client has of the strip that it shows."""

    def __init__(self, device: Device, render: TemplateRenderer, key: str = "") -> None:
        """It has nothing yet.

        Args:
            device: the device.
            render: makes the text of a template.
            key: the strip that it wants; '' for the engine start that runs or was last.
        """
        self._device = device
        self._render = render
        self._key = key[:MAX_KEY_LENGTH]
        self._client_key: str | None = None
        self._client_rows = 0
        self._client_card = ""

    def __call__(self) -> list[tuple[str, object]]:
        """What is new: nothing, or one event."""
        trace = select_trace(self._device, self._key)
        text = self._render(CARD_TEMPLATE, card_values(self._device, trace, pinned=bool(self._key)))
        key = trace.key if trace is not None else ""
        fresh = key != self._client_key
        rows = [] if trace is None else trace.rows(0 if fresh else self._client_rows)
        if not fresh and not rows and text == self._client_card:
            return []
        event: dict[str, object] = {"key": key, "fresh": fresh, "rows": rows}
        if text != self._client_card:
            event["text"] = text
        if trace is not None:
            event |= _plot_layout(trace) if fresh else {}
            event["marks"] = [[round(mark.sim_s - trace.began_s, 3), mark.label] for mark in trace.marks]
        self._client_key, self._client_card = key, text
        self._client_rows = len(trace.times_s) if trace is not None else 0
        return [("trace", event)]


def _plot_layout(trace: TraceView) -> dict[str, object]:
    """What is drawn around the rows."""
    labels = short_labels([column.label for column in trace.plotted_columns])
    columns = [
        {
            "label": label,
            "unit": column.unit,
            "limits": [[limit.value, limit.label] for limit in trace.limits if limit.signal == column.signal],
        }
        for column, label in zip(trace.plotted_columns, labels, strict=True)
    ]
    return {"columns": columns}
