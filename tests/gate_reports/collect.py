"""Flies a small aeroplane past three gates, and collects how each place tells of them.

Every gate has ten needs on ten switches, of which the simulator sends only some.

Takes: how many switches are sent, and how many of those are left off.  Gives: texts, by gate and place.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple
from unittest.mock import patch

import msgpack

from adapters.encode.msgpack_map import MsgpackEncoder
from bridge.debrief.from_store import debrief_from_store
from bridge.debrief.report.document import render_html
from bridge.debrief.tables import debrief_tables
from bridge.outputs.notifiers.envelope import EnvelopeBuilder
from bridge.outputs.notifiers.udp_line import format_line
from bridge.outputs.notifiers.zeromq import encode_message
from bridge.outputs.voice.speech_composer import SpeakAction, SpeechComposer
from bridge.page.renderer import Renderer
from bridge.session.journal import Journal
from bridge.session.session_events import KINDS, SessionEvent
from bridge.session.timeline import Timeline
from bridge.store import schema
from bridge.store.database import open_store, read_transaction
from bridge.terminal.console_log import ConsoleLog
from bridge.terminal.live_view import render_live_view
from bridge.terminal.summary import judged_lines
from bridge.trends import calculations
from bridge.trends.calculations import calculate_trends
from bridge.trends.filters import TrendFilter
from rules.judge.events import GateCued, GateEntered
from rules.packs.load_pack import load_pack
from rules.signals.model import Value
from tests.bridge.builders import TRIP, feed, printed_text, rendered_text, text_console, write_pack
from tests.bridge.page.page_builders import RenderedHtml
from tests.bridge.store.store_harness import StoreHarness

SWITCHES = (
    "lights.beacon", "lights.strobe", "lights.navigation", "lights.taxi", "lights.logo", "lights.wing",
    "lights.turnoff.left", "lights.turnoff.right", "lights.landing.left", "lights.landing.right",
)  # fmt: skip
GATES = {"push": "Push back", "taxi": "Taxi", "takeoff": "Take-off"}
_SPEEDS_KT = {"push": (1, 2), "taxi": (5, 6), "takeoff": (10, 11)}
"""Ground speeds of the cue and of the entry."""
_PHASES = ("stand", *GATES)


def _pack_text() -> str:
    """Write the pack: three gates in a row, each with a flow of the same ten switches."""
    phases = "\n".join(f"  {phase}: {{title: {GATES.get(phase, 'Stand')}, code: STD}}" for phase in _PHASES)
    gates = "\n".join(
        f"  {gate}: {{title: {title}, phase: {gate}, leaves: [{before}], cue: flight.ground_speed > {cue} kt, "
        f"entry: flight.ground_speed > {entry} kt, needs: [flow {gate}]}}"
        for (gate, title), before in zip(GATES.items(), _PHASES, strict=False)
        for cue, entry in [_SPEEDS_KT[gate]]
    )
    flows = "\n".join(
        f"  {gate}:\n    title: {title}\n    phase: {before}\n    captain:\n"
        + "\n".join(f"      - {gate}_{n}: {name} is on" for n, name in enumerate(SWITCHES))
        for (gate, title), before in zip(GATES.items(), _PHASES, strict=False)
    )
    head = "pack: {id: reported, title: Reported, signals: [twin_jet, trip]}\nseats: {captain: Captain}\n"
    return f"{head}phases:\n{phases}\ngates:\n{gates}\nflows:\n{flows}\n"


class GateReport(NamedTuple):
    """How one place tells of one gate."""

    gate: str
    place: str
    text: str


class ReportedFlight:
    """A flight past the three gates.

    Attributes:
        reports: what each place said of each gate, in the order of the flight.
        looks: the look of the page's headline, by gate.
    """

    def __init__(self, folder: Path, sent: int, off: int = 0) -> None:
        """Fly.

        Args:
            folder: a folder for the pack and the store.
            sent: number of switches that the simulator sends.
            off: number of these that the crew leaves off.
        """
        self.reports: list[GateReport] = []
        self.looks: dict[str, str] = {}
        folder.mkdir(exist_ok=True)
        self._pack = load_pack(str(write_pack(folder / "pack", _pack_text())), trip=TRIP)
        self._address = f"sqlite:///{folder / 'store.sqlite'}"
        self._harness = StoreHarness(self._pack, folder / "spool", self._address)
        self._values: dict[str, Value] = {
            name: "off" if n < off else "on" for n, name in enumerate(SWITCHES[:sent])
        }
        self._encoder, self._number, self._sim_s = MsgpackEncoder(), 0, 0.0
        self._journal, self._composer = Journal(), SpeechComposer(self._pack)
        self._timeline, self._messages = Timeline(self._pack), EnvelopeBuilder()
        self._console = text_console(100)
        self._lines = ConsoleLog(self._console, self._pack, lambda: None)
        self._harness.device.bus.subscribe(self._collect, *KINDS)
        self._fly()

    def texts(self, gate: str) -> dict[str, str]:
        """What each place said of a gate; the last one where a place said several things."""
        return {report.place: report.text for report in self.reports if report.gate == gate}

    def _fly(self) -> None:
        """Pass the gates; look at the screens between each cue and its entry."""
        self._send(0.0)
        for gate, (cue_kt, entry_kt) in _SPEEDS_KT.items():
            self._look("page, next gate", "terminal, next gate", gate)
            for _ in range(4):
                self._send(cue_kt + 0.5)
            self._look("page", "terminal", gate)
            self._send(entry_kt + 0.5)
        self._harness.request("end")
        self._harness.advance(1.0)
        self._harness.session_store.close()
        self._harness.writer.finish()
        self._read_reports()
        self._harness.close()

    def _send(self, speed_kt: float) -> None:
        """Send one frame, a second after the last."""
        self._number += 1
        fields = {**self._values, "flight.ground_speed": speed_kt}
        for data in self._encoder.encode(self._sim_s, self._number, fields):
            feed(self._harness.device, data, self._harness.clock())
        self._harness.advance(1.0)
        self._sim_s += 1.0

    def _add(self, gate: str, place: str, text: str) -> None:
        self.reports.append(GateReport(gate, place, text))

    def _collect(self, event: SessionEvent) -> None:
        """Give an event to the outputs, and collect what they make of it."""
        self._journal(event)
        self._timeline(event)
        self._lines(event)
        for action in self._composer.actions_for(event):
            if isinstance(action, SpeakAction) and (gate := getattr(event, "gate", "")):
                self._add(gate, "voice", action.utterance.text)
        if isinstance(event, GateCued | GateEntered):
            kind = "cue" if isinstance(event, GateCued) else "entry"
            message = self._messages(event)
            if kind == "cue":
                self._add(event.gate, "console line", printed_text(self._console).splitlines()[-1])
                self._add(event.gate, "timeline", self._timeline.entries[-1].text)
            self._add(event.gate, f"UDP line, {kind}", format_line(message))
            self._add(event.gate, f"webhook, {kind}", json.dumps(message.as_dict()["body"]))
            received = msgpack.unpackb(encode_message(message))
            self._add(event.gate, f"ZeroMQ, {kind}", json.dumps(received["body"]))

    def _look(self, page: str, terminal: str, gate: str) -> None:
        """Look at the page and at the terminal."""
        device, snapshot = self._harness.device, self._harness.device.session.snapshot()
        seen = RenderedHtml(Renderer().panel_renderer("ahead", device)())
        self._add(gate, page, seen.words)
        self.looks[f"{gate}, {page}"] = seen.attribute("data-verdict")[0]
        screen = rendered_text(render_live_view(snapshot, self._pack, [], []), 100)
        self._add(gate, terminal, screen)
        if page == "page":
            self._add(
                gate, "page, all devices", RenderedHtml(Renderer().panel_renderer("device", device)()).words
            )

    def _read_reports(self) -> None:
        """Read summary, store, debrief and trends after the flight."""
        summary = " | ".join(judged_lines(self._journal, self._pack))
        engine = open_store(self._address)
        with patch.object(calculations, "MIN_SESSIONS", 1), read_transaction(engine) as connection:
            rows = connection.execute(schema.gate_passage.select()).all()
            debrief = debrief_from_store(connection, rows[0].session, self._pack)
            trends = calculate_trends(connection, TrendFilter())
        engine.dispose()
        tables = {table.name: table for table in debrief_tables(debrief)}
        html = RenderedHtml(render_html(debrief)).words
        for row, cells in zip(rows, tables["gates"].rows, strict=True):
            columns = dict(zip(tables["gates"].columns, cells, strict=True))
            self._add(row.gate, "summary", summary)
            self._add(row.gate, "store", f"{row.open_at_cue} open, {row.judged} of {row.needs} judged")
            text = f"{columns['open_at_cue']} open, {columns['judged']} of {columns['needs']} judged"
            self._add(row.gate, "debrief, table", text)
            self._add(row.gate, "debrief, page", html)
        for trend in trends.gates:
            judged = trend.fully_judged
            self._add(trend.gate, "trends", f"all judged in {judged.count} of {judged.of} passages")


def excerpts(flight: ReportedFlight, gate: str, judged: str) -> Iterator[tuple[str, str]]:
    """Cut what each place said of a gate to the part around its counts, for a table.

    Where a text tells of several gates, the counts after the title of this one are meant.

    Args:
        flight: the flight.
        gate: the gate's id.
        judged: the words to look for, such as `2 of 10 judged`.
    """
    for place, text in flight.texts(gate).items():
        own = re.search(f"{re.escape(GATES[gate])}.{{0,60}}?{re.escape(judged)}", text)
        at = own.end() - len(judged) if own else text.find(judged)
        shown = text if len(text) < 110 or at < 0 else text[max(0, at - 50) : at + len(judged) + 20]
        yield place, " ".join(shown.split())
