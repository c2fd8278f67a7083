"""Names that others read, collected from the code: one function for each group of `pinned_names.yaml`.

Takes: nothing.  Gives: `GROUPS`, which give names as `{group: [name, ...]}`.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from enum import Enum
from typing import Any, TypeAlias, get_args

import msgspec
import typer
from pydantic import BaseModel
from sqlalchemy import create_engine, insert

from adapters import link_report
from adapters.decoders.base import FORMATS
from adapters.links.base import LinkStatus
from adapters.links.framing import Framing
from adapters.mapping.map_form import MapFileForm as MapFile
from bridge.cli import app
from bridge.commands import judge, judge_lists, rejudge
from bridge.debrief.model import DebriefData
from bridge.debrief.tables import debrief_tables
from bridge.demo.demo_flight import mock_flight
from bridge.outputs.notifiers.retained_state import RetainedState
from bridge.outputs.notifiers.webhook import WebhookNotifier
from bridge.outputs.notifiers.zeromq import topic_of
from bridge.outputs.voice.speech_queue import SpeechPriority, Utterance
from bridge.outputs.voice.utterance_data import utterance_data
from bridge.page.queries import TripCheckRequest
from bridge.privacy.export import export_person_data
from bridge.recording.file_format import CHANNELS, RecordedPack, RecordedTrip, RecordingHead, json_schema_of
from bridge.recording.reader import Recording
from bridge.rejudge.difference import OutputDifference, RejudgeComparison
from bridge.rejudge.judging import RejudgeResult
from bridge.runtime.device_file import DeviceFileForm as DevicesFile
from bridge.session import session, session_events, static_state
from bridge.session.journal import Journal
from bridge.session.request_handlers import _HANDLERS
from bridge.session.requests import Reply, Request, Verb
from bridge.session.threat_error import ErrorClass
from bridge.store import schema, spool_records
from bridge.trends.calculations import Trends
from bridge.trends.filters import TrendFilter
from bridge.trends.session_list import SessionRow
from mock_sim.crew import CrewSlip
from mock_sim.scenario import model as scenario
from mock_sim.send.network_faults import NetworkFaults
from mock_sim.send.sender import SendSummary
from rules.judge.events import ItemStatus, LeadIn, TraceEnd, Verdict
from rules.packs import schema as pack_forms
from rules.packs.figure_functions import FIGURE_FUNCTIONS
from rules.packs.model import Checklist, FindingKind, Level, OooiMoment, Watch
from rules.packs.read_folder import _ITEM_KEYS, SECTIONS
from rules.packs.trip_sheet import _TripFileForm as TripFile
from rules.signals.book import BookForm, ChapterForm
from rules.signals.book_entry import SignalEntry as BookEntry
from rules.signals.model import Quality, SignalKind
from tests.bridge.outputs.notifiers.sample_messages import envelopes, notice
from tests.rules.judge.scripted_flight import BEACON, ScriptedFlight, checklist_line, item, on, push
from tests.rules.judge.scripted_flight import PackBuilder as SmallPack

SignalNames: TypeAlias = dict[str, list[str]]


def keys_of(part: Any, parts: Mapping[str, Any] | None = None, at: str = "") -> Iterator[str]:  # noqa: ANN401
    """Keys that a JSON schema allows, nested ones after a dot; `*` is any key, `[]` any member of a list."""
    parts = parts if parts is not None else part.get("$defs", {})
    if "$ref" in part:
        yield from keys_of(parts[part["$ref"].removeprefix("#/$defs/")], parts, at)
    for name, each in part.get("properties", {}).items():
        yield at + name
        yield from keys_of(each, parts, f"{at}{name}.")
    for each in (*part.get("anyOf", ()), *part.get("oneOf", ())):
        yield from keys_of(each, parts, at)
    if isinstance(part.get("items"), dict):
        yield from keys_of(part["items"], parts, f"{at[:-1]}[].")
    if isinstance(part.get("additionalProperties"), dict):
        yield from keys_of(part["additionalProperties"], parts, f"{at}*.")


def keys_in(value: object, at: str = "") -> Iterator[str]:
    """Keys of plain data, in the same way."""
    if isinstance(value, Mapping):
        for key, each in value.items():
            yield f"{at}{key}"
            yield from keys_in(each, f"{at}{key}.")
    elif isinstance(value, list | tuple):
        for each in value[:1]:
            yield from keys_in(each, f"{at[:-1]}[].")


def _struct(kind: Any) -> list[str]:  # noqa: ANN401 - any type that msgspec knows
    return list(dict.fromkeys(keys_of(msgspec.json.schema(kind, schema_hook=lambda _: {}))))


def _form(kind: type[BaseModel]) -> list[str]:
    return list(dict.fromkeys(keys_of(kind.model_json_schema(by_alias=True))))


def _own(kind: type[BaseModel]) -> list[str]:
    return [field.alias or name for name, field in kind.model_fields.items()]


def channels() -> SignalNames:
    """Channels of a recording, with the fields of a message on each."""
    return {topic: list(keys_of(json.loads(json_schema_of(kind)))) for topic, kind in CHANNELS.items()}


def messages() -> SignalNames:
    """Kinds of messages of webhooks, ZeroMQ and UDP, with the fields of their bodies."""
    published, state = envelopes(notice()), RetainedState()
    state.update(published[0])
    latest = state.message()
    assert latest is not None
    return {
        "envelope": list(published[0].as_dict()),
        "headers": list(WebhookNotifier("http://127.0.0.1:1/", secret=b"x")._headers(published[0], b"")),
        "topics": [topic_of(each) for each in (*published, latest)],
        "state": list(latest.body),
        "kinds, each with the body of its entry in a recording": list(session_events.KINDS.values()),
    }


def control() -> SignalNames:
    """Requests and replies on the control port, which the page sends too."""
    return {
        "request": _struct(Request),
        "reply": _struct(Reply),
        "verbs": list(get_args(Verb)),
        "verbs of a session": list(_HANDLERS),
    }


def page() -> SignalNames:
    """Fields that our own script reads and sends beside requests."""
    utterance = utterance_data(Utterance("key", SpeechPriority.WARNING, "text", 1.0), 1.0)
    return {"speech": list(utterance), "trip sheet check": _struct(TripCheckRequest)}


def spool() -> SignalNames:
    """Records of the spool: the tag of each kind, with its fields."""
    lines = {
        str(kind.__struct_config__.tag): [name for name in _struct(kind) if name != "type"]
        for kind in get_args(spool_records.RecordBody)
    }
    return {"line": list(spool_records.SpoolRecord.__struct_encode_fields__), **lines}


def tables() -> SignalNames:
    """Tables of the store with their columns."""
    return {table.name: [column.name for column in table.columns] for table in schema.metadata.sorted_tables}


def debrief() -> SignalNames:
    """Tables of a session's debrief with their columns."""
    nothing = DebriefData(
        "", "", "", "", "", 0.0, None, "", "", "", "", "", "", "", {}, {}, from_s=0.0, to_s=0.0
    )  # fmt: skip
    return {
        sheet.name: [f"{name}: {kind}" for name, kind in sheet.columns.items()]
        for sheet in debrief_tables(nothing)
    }


def figures() -> SignalNames:
    """Functions that a pack's figures may use, with their parameters and units."""
    return {
        f"{name} ({recipe.unit})": [
            f"{called} ({each.unit})" + ("" if each.required else " optional")
            for called, each in recipe.parameters.items()
        ]
        for name, recipe in FIGURE_FUNCTIONS.items()
    }


def files() -> SignalNames:
    """Keys of every kind of file that people write."""
    p = pack_forms
    forms: dict[str, type[BaseModel]] = {
        "head": p.PackForm, "seat": p.SeatForm, "phase": p.PhaseForm, "limit": p.LimitForm, "table": p.TableForm,
        "figure": p.FigureForm, "call": p.CallForm, "gate": p.GateForm, "flow": p.FlowForm, "item": p.ItemForm,
        "checklist": p.ChecklistForm, "line": p.ChecklistLineForm, "watch": p.WatchForm, "quiet": p.QuietForm,
        "trace": p.TraceForm, "callout": p.CalloutForm, "time": p.FlightTimeForm,
        "estimate": p.EstimateForm,
    }  # fmt: skip
    s = scenario
    parts: dict[str, type[BaseModel]] = {
        "file": s.ScenarioFile, "step": s.Step, "wait": s.Wait, "move": s.Move, "drive": s.Drive, "fly": s.Fly,
        "slip": s.Slip, "change": s.SlipChange, "event": s.ScenarioEvent, "detour": s.Detour, "sector": s.NextSector,
    }  # fmt: skip
    return {
        "pack sections": list(SECTIONS),
        "pack item beside its condition": sorted(_ITEM_KEYS),
        **{f"pack {name}": _form(form) for name, form in forms.items()},
        "signal book": _form(BookForm),
        "signal book chapter": _form(ChapterForm),
        "signal book entry": _form(BookEntry),
        "trip sheet": _form(TripFile),
        "map": _form(MapFile),
        "map formats": list(FORMATS),
        "devices": _form(DevicesFile),
        **{f"scenario {name}": _own(form) for name, form in parts.items()},
        "scenario seats": list(scenario.SEATS),
        "network faults": _form(NetworkFaults),
        "still picture": list(static_state.SECTIONS),
    }


def commands() -> SignalNames:
    """Commands with their options."""
    root = typer.main.get_command(app)
    found: SignalNames = {}

    def gather(command: Any, path: str) -> None:  # noqa: ANN401 - click's, which is no dependency of ours
        found[path] = [o for each in command.params for o in each.opts if o.startswith("-")]
        for name, below in getattr(command, "commands", {}).items():
            gather(below, f"{path} {name}".strip())

    gather(root, "holdshort")
    return found


def outputs() -> SignalNames:
    """Fields that `--json` prints, and those of a person's export."""
    facts = mock_flight([], 0.0, 0).json_fields()
    return {
        "mock summary": list(SendSummary(1, 1, {}, 0.0).as_dict()),
        "mock slips": list(CrewSlip("", scenario.SlipKind.SKIP, "", 0.0, "", ()).as_dict()),
        "demo": [*Journal().as_dict(), *facts],
        "demo link": list(facts["link"]),
        "judge": list(keys_in(_applies())),
        "rejudge": list(keys_in(_rejudged())),
        "trends": _struct(Trends),
        "trends filter": list(TrendFilter(*"abcdefghij").active),
        "sessions": _struct(SessionRow),
        "export": list(keys_in(_exported())),
    }


def _applies() -> dict[str, Any]:
    wanted = replace(item("beacon", on(BEACON)), signals=(BEACON.name,))
    watch = Watch("watch.beacon", "Beacon", "captain", Level.CAUTION, None, on(BEACON))
    checklist = Checklist("list", "List", "captain", (checklist_line("Beacon", "on", wanted.id),))
    gates = [push([wanted.id])]
    flight = ScriptedFlight(SmallPack([wanted], gates=gates, watches=[watch], checklists=[checklist]))
    flight.send_frame(0)
    snapshot = flight.judge.snapshot()
    return {
        **judge._gate_as_json(flight.judge.pack, snapshot, snapshot.gates["push"], clear=False),
        "watches": judge_lists.watches_as_json(snapshot),
        "checklists": [judge_lists.checklist_as_json(one) for one in snapshot.checklists.values()],
    }


def _rejudged() -> Any:  # noqa: ANN401 - plain data
    rules, trip = RecordedPack("id", "title", "1"), RecordedTrip("title", {})
    head = RecordingHead(1, "", "", "", "", "", 0.0, rules, trip)
    other = OutputDifference("finding", "new", None, None, ())
    difference = RejudgeComparison(same=False, differences=(other,), counts={})
    return json.loads(
        rejudge._result_as_json(
            Recording(head, ()), rules, RejudgeResult([], [], 0, by_columns=True), difference
        )
    )


def _exported() -> dict[str, Any]:
    engine = create_engine("sqlite://")
    with engine.begin() as connection:
        schema.metadata.create_all(connection)
        connection.execute(insert(schema.person).values(id=1, pseudonym="Heron"))
        about = {"began_utc": 0.0, "last_utc": 0.0, "trip": {}, "inoperative": [], "seats": {}}
        connection.execute(insert(schema.session).values(id="s", **about))
        seat = {"session": "s", "number": 1, "seat": "captain", "sim_s": 0.0, "utc": 0.0, "person": 1}
        connection.execute(insert(schema.seating).values(**seat))
        return export_person_data(connection, "Heron")


def words() -> SignalNames:
    """Values of each enumeration that are written or sent, in the order of the code."""
    kinds: tuple[type[Enum], ...] = (
        Level, FindingKind, Verdict, ItemStatus, LeadIn, OooiMoment, TraceEnd, ErrorClass, Quality, SignalKind,
        Framing, scenario.SlipKind,
    )  # fmt: skip
    names = (
        "level", "kind of finding", "verdict", "status", "lead-in of a notice", "moment", "end of a trace",
        "class of error", "quality", "kind of signal", "framing", "kind of slip",
    )  # fmt: skip
    states = {"session": session.SessionState, "reception": link_report.LinkState, "link": LinkStatus}
    return {
        **{name: [str(each.value) for each in kind] for name, kind in zip(names, kinds, strict=True)},
        **{f"state of {name}": [str(each.value) for each in kind] for name, kind in states.items()},
        "priority of speech": [each.label for each in SpeechPriority],
        "phase code": list(get_args(pack_forms.PhaseCode)),
    }


GROUPS: dict[str, Callable[[], SignalNames]] = {
    "recording": channels,
    "messages": messages,
    "control port": control,
    "page": page,
    "spool": spool,
    "store": tables,
    "debrief": debrief,
    "figures": figures,
    "files": files,
    "commands": commands,
    "outputs": outputs,
    "words": words,
}
