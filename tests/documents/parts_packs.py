"""Generates the parts of the documents on rule packs and the judge.

Takes: the code.  Gives: `PARTS`, as in `tests.documents.generated`.
"""

from __future__ import annotations

import dataclasses
import inspect
from collections.abc import Callable, Iterable, Iterator
from typing import get_args

from msgspec.structs import fields as struct_fields

from rules.judge import snapshot
from rules.judge.events import ENTRY_KINDS, JudgeEvent
from rules.judge.snapshot_words import Words
from rules.packs import schema
from rules.packs.trip_sheet import TripForm
from tests.documents.forms import keys_of, titled_keys
from tests.documents.markdown import code, table

SNAPSHOT_TYPES = (
    snapshot.Snapshot, snapshot.ItemSnapshot, snapshot.GateSnapshot, snapshot.ChecklistSnapshot,
    snapshot.ChecklistLineSnapshot, snapshot.WatchSnapshot, snapshot.TraceSnapshot, snapshot.FigureResult,
)  # fmt: skip


def _pack_keys() -> str:
    return titled_keys(
        {
            "Pack": schema.PackForm,
            "Phase": schema.PhaseForm,
            "Limit": schema.LimitForm,
            "Call": schema.CallForm,
            "Gate": schema.GateForm,
            "Flow": schema.FlowForm,
            "Item of a flow": schema.ItemForm,
            "Checklist": schema.ChecklistForm,
            "Line of a checklist": schema.ChecklistLineForm,
            "Watch": schema.WatchForm,
            "Sentences of an item or watch, `say`": schema.SayForm,
            "Quiet period": schema.QuietForm,
        }
    )


def _trace_keys() -> str:
    return titled_keys(
        {"Trace": schema.TraceForm, "Limit to draw": schema.TraceLimitForm, "Mark": schema.TraceMarkForm}
    )


def _judge_events() -> str:
    rows = [
        (code(ENTRY_KINDS[kind]), code(kind.__name__), _code_list(_event_fields(kind)), _first_line(kind))
        for kind in get_args(JudgeEvent)
    ]
    return table(("kind", "type", "fields", "meaning"), rows)


def _event_fields(kind: type) -> Iterator[str]:
    return (field.encode_name for field in struct_fields(kind) if field.name != "sim_s")


def _snapshot() -> str:
    rows = [
        (code(kind.__name__), _code_list(_snapshot_fields(kind)), _first_line(kind))
        for kind in SNAPSHOT_TYPES
    ]
    return table(("type", "fields", "meaning"), rows)


def _snapshot_fields(kind: type) -> Iterator[str]:
    """Names of the fields, and the properties that read the words of an item or watch in the place of the words."""
    for field in dataclasses.fields(kind):
        yield from (
            (name for name in Words._fields if hasattr(kind, name))
            if field.name == "words"
            else (field.name,)
        )


def _code_list(names: Iterable[str]) -> str:
    return ", ".join(map(code, names))


def _first_line(kind: type) -> str:
    return (inspect.getdoc(kind) or "").splitlines()[0]


PARTS: dict[str, Callable[[], str]] = {
    "pack keys": _pack_keys,
    "trace keys": _trace_keys,
    "callout keys": lambda: keys_of(schema.CalloutForm),
    "estimate keys": lambda: titled_keys(
        {"Estimate": schema.EstimateForm, "Source of an estimate": schema.EstimateSourceForm}
    ),
    "flight time keys": lambda: keys_of(schema.FlightTimeForm),
    "trip keys": lambda: keys_of(TripForm),
    "judge events": _judge_events,
    "snapshot": _snapshot,
}
