"""A pack with everything that a page shows, devices with it, and a reader of the rendered HTML.

Takes: a folder to write into.  Gives: `page_pack`, `FlownDevice`, `RenderedHtml`.
"""

from __future__ import annotations

from collections.abc import Mapping
from html.parser import HTMLParser
from pathlib import Path

from bridge.page.renderer import Renderer
from bridge.runtime.device import Device, build_device
from bridge.session.requests import Reply, Request
from rules.packs.load_pack import load_pack
from rules.packs.model import Pack
from rules.packs.trip_sheet import TripSheet
from rules.signals.model import Value
from tests.bridge.builders import FrameSender, feed, write_pack
from tests.contract.waiting import ManualClock

HOSTILE = "<script>alert('x')</script><img src=x onerror=alert(1)>\" & "
TRIP_SHEET = TripSheet("Lindmere 417", {}, ("lights.logo",))
PACK = """
pack: {id: paged, title: Paged jet, signals: [twin_jet, trip]}
seats: {captain: Captain, first_officer: First officer}
phases:
  stand: {title: At the stand, code: STD}
  pushing: {title: Push back, code: PBT}
  taxiing: {title: Taxi, code: TXI}
calls:
  push_approved: {title: push approved, by: ground}
  clearance: {title: departure clearance, by: atc}
  cabin_ready: {title: cabin ready, by: cabin}
  briefing: {title: briefing, by: captain}
gates:
  push:
    phase: pushing
    cue: call.push_approved happened
    entry: flight.ground_speed > 1 kt
    needs: [checklist before, flow before]
  taxi:
    phase: taxiing
    leaves: [pushing]
    cue: lights.taxi is on
    entry: flight.ground_speed > 5 kt
    needs: [flow taxi]
flows:
  before:
    title: Before push back
    phase: stand
    captain:
      - beacon: lights.beacon is on
        level: caution
        why: people near the engines look for it
      - documents:
        confirm: Documents on board
      - cleared: call.clearance happened
    first_officer:
      - pressure: hydraulics.1.pressure in 2800..3200 psi
        level: warning
      - logo: lights.logo is on
      - wing: lights.wing is on
  taxi:
    title: Taxi flow
    phase: taxiing
    captain:
      - light: lights.taxi is on
checklists:
  before:
    title: Before push
    read_by: first_officer
    lines:
      - {beacon: Beacon, answer: "{lights.beacon}", items: [flow.before.beacon]}
      - {documents: Documents, answer: "on board", items: [flow.before.documents]}
      - {hydraulics: Hydraulics, answer: "{hydraulics.1.pressure}", items: [flow.before.pressure]}
      - {wing_lights: Wing lights, answer: "{lights.wing}", items: [flow.before.wing]}
  all:
    title: All
    read_by: both
    lines:
      - all: All
        answer: "{lights.beacon}, {hydraulics.1.pressure}"
        items: [flow.before.beacon, flow.before.documents, flow.before.pressure]
  taxi:
    title: Taxi list
    read_by: both
    lines:
      - {light: Light, answer: "{lights.taxi}", items: [flow.taxi.light]}
watches:
  oil:
    applies: engine.1.n2 > 50 %
    expect: engine.1.oil_pressure > 20 psi
    label: Oil pressure
    seat: captain
    level: warning
"""


def page_pack(folder: Path, text: str = PACK) -> Pack:
    """Write and load the pack."""
    return load_pack(str(write_pack(folder, text)), trip=TRIP_SHEET)


class FlownDevice:
    """A device whose clocks are set by the test: `wall` is UTC, `clock` is the monotonic clock."""

    def __init__(
        self, pack: Pack, *, name: str = "device", title: str = "", trip: TripSheet = TRIP_SHEET
    ) -> None:
        self.wall = ManualClock(1_764_000_000.0)
        self.clock = ManualClock()
        self.device: Device = build_device(
            pack, trip, "udp://127.0.0.1:0", device_id=name, title=title, wall_clock=self.wall
        )
        self.device.source.clock = self.clock
        self._sender = FrameSender()

    def frame(self, sim_s: float, values: Mapping[str, Value] | None = None, **calls: float) -> None:
        """Receive one frame at the current time."""
        feed(self.device, self._sender.datagram(sim_s, values, **calls), self.clock())

    def pass_with_a_doubt(self) -> None:
        """Pass the gate of the push back with one need that cannot be verified, and all others met."""
        self.frame(0.0, clearance=0.0)
        self.ask("confirm", "flow.before.documents")
        values: dict[str, Value] = {"lights.beacon": "no such word"}
        for second in range(1, 9):
            calls = {"push_approved": 4.0} if second >= 4 else {}
            moving: dict[str, Value] = (
                {"flight.ground_speed": 3.0, "lights.taxi": "on"} if second >= 7 else {}
            )
            self.frame(second, {**values, **moving}, **calls)

    def ask(self, verb: str, name: str = "", by: str = "", reason: str = "") -> Reply:
        """Send a request as the page does."""
        return self.device.handle(Request(verb, name, by, reason))  # type: ignore[arg-type]  # wrong verbs too

    def pass_time(self, seconds: float) -> None:
        """Advance both clocks, and let the session notice."""
        self.wall.now_s += seconds
        self.clock.now_s += seconds
        self.device.runner.tick()

    def shown(self, panel: str) -> RenderedHtml:
        """Render a panel and parse it."""
        return RenderedHtml(Renderer().panel_renderer(panel, self.device)())


class RenderedHtml(HTMLParser):
    """A parsed HTML text: its words, ids, attributes and actions."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.html = text
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.texts: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Collect the start tag with its attributes."""
        self.tags.append((tag, {name: value or "" for name, value in attrs}))

    def handle_data(self, data: str) -> None:
        """Collect the text."""
        self.texts.append(data)

    @property
    def words(self) -> str:
        """All words, separated by single spaces."""
        return " ".join("".join(self.texts).split())

    @property
    def ids(self) -> list[str]:
        """All ids, in the order of the text."""
        return [attrs["id"] for _, attrs in self.tags if "id" in attrs]

    @property
    def actions(self) -> list[tuple[str, str]]:
        """Verb and name of each action."""
        return [(a["data-do"], a.get("data-name", "")) for _, a in self.tags if "data-do" in a]

    def attribute(self, name: str) -> list[str]:
        """Return the values of an attribute, in the order of the text."""
        return [attrs[name] for _, attrs in self.tags if name in attrs]
