"""Sends a trace to a client while it grows: each row once and in order, and its card when the card changes.

Takes: a device, a renderer of templates, and the key of a trace.  Gives: `TraceFeed`, a feed for one client's stream.
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

CARD_TEMPLATE = "views/start/trace_card.html"
MAX_KEY_LENGTH = 80

TemplateRenderer = Callable[[str, Mapping[str, object]], str]
"""Renders a template by its name and values."""


def card_values(device: Device, trace: TraceView | None, *, pinned: bool) -> Mapping[str, object]:
    """Return the values of the card of a trace.

    Args:
        device: the device.
        trace: the trace, None if there is none yet.
        pinned: the user chose this trace, so a newer one does not replace it.
    """
    key = trace.key if trace is not None else ""
    return {
        "trace": trace,
        "state": "" if trace is None else END_TEXTS[trace.end] if trace.end else "running",
        "quantities": () if trace is None else trace_quantities(trace),
        "choices": trace_choices(device, key),
        "pinned": pinned,
        "device": device.id,
        "seats": device.pack.seats,
    }


class TraceFeed:
    """The part of a trace that one client was sent."""

    def __init__(self, device: Device, render: TemplateRenderer, key: str = "") -> None:
        """Start with no row sent.

        Args:
            device: the device.
            render: renders the card.
            key: the key of the trace; '' for the running or latest engine start.
        """
        self._device = device
        self._render = render
        self._key = key[:MAX_KEY_LENGTH]
        self._client_key: str | None = None
        self._client_rows = 0
        self._client_card = ""

    def __call__(self) -> list[tuple[str, object]]:
        """Return one event with the new rows, or no event if there is no change."""
        trace = select_trace(self._device, self._key)
        text = self._render(CARD_TEMPLATE, card_values(self._device, trace, pinned=bool(self._key)))
        key = trace.key if trace is not None else ""
        # Another key means another trace: the script clears its plots and gets every row again.
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
    """Return the columns and limits of the plots."""
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
